import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { computeCalibration, fitOf, readBack, withoutReadings } from '../../apps/api/src/modules/calibration/compute.js';
import type { CalibrationDocument } from '../../apps/api/src/modules/calibration/calibration-document.js';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';

/**
 * Versions of curves that were frozen before curves had leaf effects mean what they meant then. The figures are what the release before
 * computed from these readings.
 */
const { readings } = JSON.parse(readFileSync(join(packageRoot, 'test/reference/builder/builder.json'), 'utf8')) as { readings: { leaf: string; rwc: number; t: number }[] };
const points = readings.map(({ leaf, rwc, t }, i) => ({
  rwcSeriesId: leaf, meterReadingId: String(i), leafId: leaf, leafLabel: leaf, rwc, uRwc: 0.005, transmittance: t, uTransmittance: 0.001, used: true, exclusionReason: null, residual: null,
}));

const BEFORE = {
  EXPONENTIAL: { parameters: [0.036711251070301446, 0.39467187231374073, -1.3209707330575935], between: 0.06501435524281408, newLeaf: [0.13871408769098187, 0.22195155702134556], read: [0.8217721029036035, 0.5853967528854267, 1.0581474529217803] },
  POWER: { parameters: [-1.9364220183507468, -0.7859906680489398], between: 0.06425089881121337, newLeaf: [0.14238170549247556, 0.22245900909424957], read: [0.8111958911487877, 0.5809253278789759, 1.0414664544185994] },
} as const;

describe.each(['EXPONENTIAL', 'POWER'] as const)('a version of %s from before', (family) => {
  const before = BEFORE[family];
  const document: CalibrationDocument = computeCalibration(family, points, ['run'], 'AUTO', {}, 'LEAF_MEANS');

  it('is computed again as it was', () => {
    expect(document).not.toHaveProperty('curveSpread');
    document.parameters.forEach(({ value }, i) => expect(value / before.parameters[i]! - 1).toBeCloseTo(0, 10));
    expect(document.betweenLeafSdRwc).toBeCloseTo(before.between, 12);
    expect([document.curve[20]!.newLeafLow, document.curve[20]!.newLeafHigh]).toEqual(before.newLeaf.map((end) => expect.closeTo(end, 10)));
    expect(document.remarks.map(({ code }) => code)).toContain('NAIVE_MEAN_BAND');
  });

  it('is read by the fit it was frozen with, also where only the fit was taken over', () => {
    const summary = { ...document, points: [], frozen: withoutReadings(fitOf(family, document)) };
    for (const one of [document, summary, JSON.parse(JSON.stringify(summary)) as CalibrationDocument]) {
      expect(fitOf(family, one).kind).toBe('curve');
      const { rwc, newLeafLow, newLeafHigh } = readBack(family, one, 0.17, 0.95);
      expect([rwc, newLeafLow, newLeafHigh]).toEqual(before.read.map((value) => expect.closeTo(value, 9)));
    }
  });

  it('a version frozen now has leaf effects, also where only the fit was taken over', () => {
    const now = computeCalibration(family, points, ['run']);
    expect(now.curveSpread).toBe('LEAF_EFFECTS');
    const summary = JSON.parse(JSON.stringify({ ...now, points: [], frozen: withoutReadings(fitOf(family, now)) })) as CalibrationDocument;
    expect(fitOf(family, summary).kind).toBe('leaf curve');
    expect(readBack(family, summary, 0.17, 0.95)).toEqual(readBack(family, now, 0.17, 0.95));
  });
});
