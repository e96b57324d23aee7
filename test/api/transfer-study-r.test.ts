import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import type { CalibrationDocument } from '../../apps/api/src/modules/calibration/calibration-document.js';
import { computeCalibration } from '../../apps/api/src/modules/calibration/compute.js';
import { lineOf, studyReadings } from '../../apps/api/src/modules/transfer/compute.js';
import type { Given } from '../../apps/api/src/modules/transfer/transfer-document.js';

/** What a transfer study and an adjusted version show, against R's nlme on the same readings (test/reference/transfer/make-fixture.R). */
const r = JSON.parse(readFileSync(join(packageRoot, 'test/reference/transfer/transfer.json'), 'utf8'));

interface Reading { readonly leaf: string; readonly rwc: number; readonly t: number }

const points = (readings: readonly Reading[]): CalibrationDocument['points'] => readings.map(({ leaf, rwc, t }, i) => ({
  rwcSeriesId: leaf, meterReadingId: `${leaf} ${i}`, leafId: leaf, leafLabel: leaf, rwc, uRwc: 0.005, transmittance: t, uTransmittance: 0.001, used: true, exclusionReason: null, residual: null,
}));

const document = computeCalibration('LOG_LINEAR', points(r.given), [], 'HEIGHT');
const given: Given = { kind: 'calibration_version', id: 'given', label: 'given', crop: 'G', rig: 'R', family: 'LOG_LINEAR', line: lineOf('LOG_LINEAR', document) };
const { outcome } = studyReadings(given, points(r.own), { marginPoints: 5, rwcRange: null, alpha: 0.05, level: 0.95, leafEffects: 'HEIGHT', dryingRunIds: [] }, []);

// R's optimiser stops some six digits in.
const agrees = (ours: number, theirs: number, relative = 5e-6): void => expect(Math.abs(ours / theirs - 1)).toBeLessThan(relative);

it('offset, its uncertainty, slope ratio and the worst error not excluded are those of nlme', () => {
  const found = outcome.comparison!;
  agrees(found.slopeRatio, r.slopeRatio);
  agrees(found.offsetPoints, r.offset);
  agrees(found.offsetStandardErrorPoints, r.offsetStandardError, 5e-5);
  agrees(found.worstPoints, r.worst, 5e-5);
  agrees(found.worstAfterOffsetPoints, r.worstAfterOffset, 5e-5);
  agrees(found.commonLine.statistic, r.commonLineF, 1e-4);
  agrees(found.commonLine.pValue, r.commonLineP, 1e-3);
});

it('bias, errors and new-leaf coverage are those of the readings, by R', () => {
  const { performance } = outcome;
  agrees(performance.biasPoints, r.bias);
  agrees(performance.biasInterval!.lower, r.biasLow);
  agrees(performance.rmsPoints, r.rms);
  expect(performance.coverage.inside).toBe(r.inside);
  agrees(performance.coverage.interval.lower, r.insideLow, 1e-9);
  agrees(performance.leaves[0]!.promisedHalfWidthPoints, r.promisedFirst, 5e-5);
});

it('an adjusted version has slope and spread of both and the height of own leaves, as nlme fits it', () => {
  const adjusted = computeCalibration('LOG_LINEAR', [...points(r.own), ...points(r.given).map((point) => ({ ...point, besideId: 'given' }))], [], 'HEIGHT');
  const [a, c] = adjusted.parameters;
  agrees(a!.value, r.adjusted.a);
  agrees(c!.value, r.adjusted.c);
  agrees(a!.standardError, r.adjusted.seA, 5e-5);
  agrees(c!.standardError, r.adjusted.seC, 5e-5);
  agrees(adjusted.covariance[0]![1]!, r.adjusted.cov, 1e-4);
  agrees(adjusted.residualSd, r.adjusted.residualSd, 5e-5);
  agrees(adjusted.betweenLeafSdRwc! * Math.abs(c!.value), r.adjusted.betweenSd, 5e-5);
  expect(adjusted.parameters).toHaveLength(2);
});
