import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { compareCalibrations } from '../../apps/api/src/modules/calibration/compare.js';
import { studyCalibration } from '../../apps/api/src/modules/calibration/study.js';
import type { StudyInput } from '../../apps/api/src/modules/calibration/study-document.js';
import type { LeafEffects } from '../../apps/api/src/generated/schema.js';

/**
 * What the builder shows of a data set against R: nlme and lme4 fitted to the same readings
 * (test/reference/builder/make-fixture.R). R's optimisers stop some six digits in.
 */
const r = JSON.parse(readFileSync(join(packageRoot, 'test/reference/builder/builder.json'), 'utf8'));

const input = (leafEffects: LeafEffects): StudyInput => ({
  points: r.readings.map(({ leaf, rwc, t }: { leaf: string; rwc: number; t: number }, i: number) => ({
    rwcSeriesId: leaf, meterReadingId: String(i), leafId: leaf, leafLabel: leaf, rwc, uRwc: 0.005, transmittance: t, uTransmittance: 0.001, turgidTransmittance: null,
    day: '2026-06-01', operator: i % 2 ? 'A' : 'B', order: i + 1, used: true, exclusionReason: null,
  })),
  family: 'LOG_LINEAR', leafEffects, level: 0.95, share: 0.95, confidence: 0.95, atRwc: r.at, wantedHalfWidthPoints: null,
});

const agrees = (ours: number, theirs: number, relative = 2e-6): void => expect(Math.abs(ours / theirs - 1)).toBeLessThan(relative);

it.each([['HEIGHT', 'height'], ['HEIGHT_AND_SLOPE', 'heightAndSlope']] as const)('%s: mean line and spreads are those of nlme', (leafEffects, name) => {
  const { figures } = studyCalibration(input(leafEffects));
  const theirs = r[name];
  agrees(figures.slope, theirs.slope);
  agrees(figures.intercept!, theirs.intercept);
  agrees(figures.betweenLeavesPoints, theirs.betweenLeavesPoints, 2e-5);
  agrees(figures.withinLeavesPoints, theirs.withinLeavesPoints, 2e-5);
  agrees(figures.naiveHalfWidthPoints, (100 * r.naiveHalfWidth) / Math.abs(theirs.slope));
});

it('the slope with leaf slopes is also that of lme4', () => {
  agrees(studyCalibration(input('HEIGHT_AND_SLOPE')).figures.slope, r.lme4Slope);
});

it('leaf effects are shrunk as nlme shrinks them', () => {
  for (const { leaf, shrunkPoints } of studyCalibration(input('HEIGHT')).leaves) expect(Math.abs(shrunkPoints - r.shrunk[leaf])).toBeLessThan(1e-4);
});

it('AICc and the error on leaves left out are those of lme4 and nlme', () => {
  const { rows } = compareCalibrations(input('HEIGHT'), () => undefined);
  const rowOf = (what: string) => rows.find((row) => row.what === what)!;
  const height = rowOf('log-linear, leaves differ in height');
  const both = rowOf('log-linear, in height and slope');
  const naive = rowOf('log-linear, all readings alike');
  const near = (ours: number, theirs: number): void => expect(Math.abs(ours - theirs)).toBeLessThan(2e-4);
  near(height.deltaAicc! - both.deltaAicc!, r.aicc.HEIGHT - r.aicc.HEIGHT_AND_SLOPE);
  near(naive.deltaAicc! - height.deltaAicc!, r.naiveAicc - r.aicc.HEIGHT);
  near(height.leaveOneLeafOutPoints!, r.leaveOneLeafOut);
  near(height.biasPoints!, r.leaveOneLeafOutBias);
});

it('a curve with a floor is that of lme on its tangent, in every figure', () => {
  const { figures, leaves } = studyCalibration({ ...input('AUTO'), family: 'EXPONENTIAL' });
  const theirs = r.exponential;
  figures.parameters.forEach(({ value, standardError }, i) => {
    agrees(value, theirs.parameters[i]);
    agrees(standardError, theirs.standardErrors[i], 2e-5);
  });
  agrees(figures.slope, theirs.slope);
  agrees(figures.betweenLeavesPoints, theirs.betweenLeavesPoints, 2e-5);
  agrees(figures.withinLeavesPoints, theirs.withinLeavesPoints, 2e-5);
  for (const { leaf, shrunkPoints } of leaves) expect(Math.abs(shrunkPoints - theirs.shrunk[leaf])).toBeLessThan(1e-4);
  const { rows } = compareCalibrations({ ...input('AUTO'), family: 'EXPONENTIAL' }, () => undefined);
  const rowOf = (what: string) => rows.find((row) => row.what === what)!;
  const bent = rowOf('exponential, leaves differ in height');
  expect(Math.abs(bent.deltaAicc! - rowOf('log-linear, leaves differ in height').deltaAicc! - (theirs.aicc - r.aicc.HEIGHT))).toBeLessThan(2e-4);
  expect(Math.abs(bent.leaveOneLeafOutPoints! - theirs.leaveOneLeafOut)).toBeLessThan(2e-4);
  expect(Math.abs(bent.biasPoints! - theirs.leaveOneLeafOutBias)).toBeLessThan(2e-4);
});
