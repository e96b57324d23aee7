import { fitFamily, fitFamilyWithErrorsInBoth, inversePredict, sharedMassCovariance, type CalibrationPoint, type FamilyName } from '#libs/regression';
import { codeOf } from '../support.js';

const RWC = [1, 0.9, 0.8, 0.7, 0.6, 0.5];
const T = [0.151, 0.166, 0.183, 0.202, 0.225, 0.251];
const points: CalibrationPoint[] = RWC.map((rwc, i) => ({ rwc, transmittance: T[i]!, uRwc: 0.01, uTransmittance: 0.001 }));

describe('a calibration with uncertain RWC', () => {
  test.each(['log-linear', 'linear', 'exponential', 'power'] as FamilyName[])('%s: with RWC all but exact it is the weighted fit', (family) => {
    const sharp = fitFamilyWithErrorsInBoth(family, points.map((point) => ({ ...point, uRwc: 1e-9 })));
    const weighted = fitFamily(family, points, { weighting: 'stated', covarianceBasis: 'stated' });
    sharp.parameters.forEach((value, k) => expect(value / weighted.parameters[k]!).toBeCloseTo(1, 7));
    sharp.covariance.forEach((row, i) => row.forEach((c, j) => expect(c / weighted.covariance[i]![j]!).toBeCloseTo(1, 6)));
    expect(sharp.chiSquared).toBeCloseTo(weighted.residualSumOfSquares, 7);
  });

  test('reads backwards like any other fit', () => {
    const fit = fitFamilyWithErrorsInBoth('log-linear', points);
    const answer = inversePredict(fit, { transmittance: 0.19, readingUncertainty: 0.001 });
    expect(answer).toMatchObject({ verdict: 'usable' });
    expect(codeOf(() => inversePredict(fit, { transmittance: 0.19 }))).toBe('MISSING');
  });

  test('leaves excluded points and their covariance out', () => {
    const rwcCovariance = sharedMassCovariance(RWC.map((rwc) => ({ discId: 'd', rwc, turgidMinusDryMg: 58, uDryingMg: 0.14, uTurgidMg: 0.7, uDryMg: 0.16 })));
    const excluded = points.map((point, i) => (i === 2 ? { ...point, excludedBecause: 'swapped disc' } : point));
    const kept = [0, 1, 3, 4, 5];
    const short = fitFamilyWithErrorsInBoth('log-linear', kept.map((i) => points[i]!), { rwcCovariance: kept.map((i) => kept.map((j) => rwcCovariance[i]![j]!)) });
    const full = fitFamilyWithErrorsInBoth('log-linear', excluded, { rwcCovariance });
    expect(full.parameters).toEqual(short.parameters);
    expect(full.index).toEqual(kept);
  });

  test('says when the stated uncertainties do not hold', () => {
    const bold = fitFamilyWithErrorsInBoth('log-linear', points.map((point) => ({ ...point, uRwc: 1e-4, uTransmittance: 1e-4 })));
    expect(bold.consistent).toBe(false);
    expect(bold.warnings[0]).toContain('above its 95 % limit');
    expect(fitFamilyWithErrorsInBoth('log-linear', points).warnings).toEqual([]);
  });

  test.each([
    ['NOT_FINITE', () => fitFamilyWithErrorsInBoth('log-linear', points.map((point) => ({ ...point, uRwc: undefined })))],
    ['NOT_POSITIVE', () => fitFamilyWithErrorsInBoth('log-linear', points.map((point) => ({ ...point, uTransmittance: 0 })))],
    ['SHAPE', () => fitFamilyWithErrorsInBoth('log-linear', points, { rwcCovariance: [[1]] })],
    ['NEGATIVE', () => sharedMassCovariance([{ discId: 'd', rwc: 1, turgidMinusDryMg: 58, uDryingMg: -1, uTurgidMg: 1, uDryMg: 1 }])],
    ['NOT_POSITIVE', () => sharedMassCovariance([{ discId: 'd', rwc: 1, turgidMinusDryMg: 0, uDryingMg: 1, uTurgidMg: 1, uDryMg: 1 }])],
    ['INCONSISTENT', () => sharedMassCovariance([58, 57].map((turgidMinusDryMg) => ({ discId: 'd', rwc: 1, turgidMinusDryMg, uDryingMg: 1, uTurgidMg: 1, uDryMg: 1 })))],
  ])('%s', (code, work) => {
    expect(codeOf(work)).toBe(code);
  });
});
