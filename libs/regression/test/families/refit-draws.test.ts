import { families, fitFamily, refitDraws, type CalibrationPoint, type FamilyName } from '#libs/regression';
import { codeOf, createStream } from '../support.js';

const RWC = Array.from({ length: 20 }, (_, i) => 0.5 + i / 38);
const curve = [0.05, 0.45, -1.6];
const points: CalibrationPoint[] = RWC.map((rwc, i) => ({
  rwc,
  transmittance: families.exponential.predict(curve, rwc) + 2e-4 * [1, -1, -1, 1, 0][i % 5]!,
  uRwc: 0.005,
  uTransmittance: 2e-4,
}));

function covarianceOf(rows: Float64Array, p: number): number[][] {
  const n = rows.length / p;
  const mean = Array.from({ length: p }, (_, k) => Array.from({ length: n }, (__, i) => rows[i * p + k]!).reduce((sum, v) => sum + v, 0) / n);
  return mean.map((mk, k) =>
    mean.map((ml, l) => Array.from({ length: n }, (_, i) => (rows[i * p + k]! - mk) * (rows[i * p + l]! - ml)).reduce((sum, v) => sum + v, 0) / (n - 1)),
  );
}

describe('refits of drawn points', () => {
  test.each(['log-linear', 'linear', 'power', 'exponential'] as FamilyName[])('%s: scatter as the covariance of the fit says', (family) => {
    const fit = fitFamily(family, points);
    const draws = 8000;
    const found = covarianceOf(refitDraws(fit, points, { seed: family, from: 0, count: draws }), fit.parameters.length);
    // A variance from n draws is known to √(2/n) of itself: four of these, and for the curve its bend.
    const allowed = 4 * Math.sqrt(2 / draws) + (family === 'exponential' ? 0.1 : 0);
    found.forEach((row, k) => expect(Math.abs(row[k]! / fit.covariance[k]![k]! - 1)).toBeLessThan(allowed));
    const correlation = found[0]![1]! / Math.sqrt(found[0]![0]! * found[1]![1]!);
    expect(correlation).toBeCloseTo(fit.correlation[0]![1]!, 1);
  });

  test('are weighted and scattered by stated uncertainties where the fit is', () => {
    const uneven = points.map((point, i) => ({ ...point, uTransmittance: i < 10 ? 1e-4 : 1e-3 }));
    const fit = fitFamily('linear', uneven, { weighting: 'stated', covarianceBasis: 'stated' });
    const found = covarianceOf(refitDraws(fit, uneven, { seed: 'stated', from: 0, count: 8000 }), 2);
    expect(Math.abs(found[1]![1]! / fit.covariance[1]![1]! - 1)).toBeLessThan(4 * Math.sqrt(2 / 8000));
  });

  test('widen when RWC is drawn too', () => {
    const fit = fitFamily('log-linear', points);
    const variance = (drawRwc: boolean) => covarianceOf(refitDraws(fit, points, { seed: 'rwc', from: 0, count: 2000, drawRwc }), 2)[1]![1]!;
    expect(variance(true)).toBeGreaterThan(1.5 * variance(false));
  });

  test('are the same in any number of stretches', () => {
    const fit = fitFamily('exponential', points);
    const whole = refitDraws(fit, points, { seed: 'stretches', from: 0, count: 40 });
    const parts = [0, 1, 2, 3].flatMap((k) => [...refitDraws(fit, points, { seed: 'stretches', from: 10 * k, count: 10 })]);
    expect(parts).toEqual([...whole]);
  });

  test('a draw whose first step overreaches comes to rest where a full fit does', () => {
    const rwc = Array.from({ length: 60 }, (_, i) => 0.4 + (0.6 * i) / 59);
    const scattered = rwc.map((at, i) => ({ rwc: at, transmittance: families.exponential.predict(curve, at) + 2e-3 * [1, -1, -1, 1, 0][i % 5]! }));
    const fit = fitFamily('exponential', scattered);
    // About one draw in ten of this scatter raises the sum by its first whole step.
    const count = 200;
    const rows = refitDraws(fit, scattered, { seed: 'overreach', from: 0, count });
    const stream = createStream('overreach', 0);
    for (let draw = 0; draw < count; draw++) {
      const drawn = fit.points.map(({ predictor, fitted }, i) => ({ rwc: predictor, transmittance: fitted + fit.residualSd * stream.normalAt(draw * 120 + i) }));
      const full = fitFamily('exponential', drawn).parameters;
      full.forEach((value, k) => expect(Math.abs(rows[3 * draw + k]! / value - 1)).toBeLessThan(1e-7));
    }
  });

  test.each(['exponential', 'log-linear'] as FamilyName[])('%s: each row is what a full fit of the same draw gives', (family) => {
    const fit = fitFamily(family, points);
    const relative = fit.errorScale === 'relative';
    const rows = refitDraws(fit, points, { seed: 'by hand', from: 0, count: 5 });
    const stream = createStream('by hand', 0);
    for (let draw = 0; draw < 5; draw++) {
      const drawn = fit.points.map(({ fitted }, i) => {
        const shift = fit.residualSd * stream.normalAt(draw * 2 * points.length + i);
        return { ...points[i]!, transmittance: relative ? fitted * Math.exp(shift) : fitted + shift };
      });
      fitFamily(family, drawn).parameters.forEach((value, k) => expect(rows[draw * fit.parameters.length + k]! / value).toBeCloseTo(1, 7));
    }
  });

  test('without scatter every row is the curve', () => {
    // With no scatter left, every draw is the curve itself.
    const exact = points.map((point) => ({ ...point, transmittance: families.exponential.predict(curve, point.rwc) }));
    const fit = fitFamily('exponential', exact);
    const row = refitDraws(fit, exact, { seed: 'exact', from: 0, count: 1 });
    curve.forEach((value, k) => expect(row[k]! / value).toBeCloseTo(1, 6));
  });

  test('bad input', () => {
    const fit = fitFamily('log-linear', points);
    expect(codeOf(() => refitDraws(fit, points, { seed: '1', from: -1, count: 1 }))).toBe('COUNT');
    expect(codeOf(() => refitDraws(fit, points.slice(1), { seed: '1', from: 0, count: 1 }))).toBe('MISMATCH');
    const bare = points.map((point) => ({ ...point, uRwc: undefined }));
    expect(codeOf(() => refitDraws(fitFamily('log-linear', bare), bare, { seed: '1', from: 0, count: 1, drawRwc: true }))).toBe('NOT_FINITE');
    const low = points.map((point) => ({ ...point, uRwc: 5 }));
    expect(codeOf(() => refitDraws(fitFamily('power', low), low, { seed: '1', from: 0, count: 20, drawRwc: true }))).toBe('RWC_IN_LOG');
  });
});
