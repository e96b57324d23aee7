import fc from 'fast-check';
import { fitLinear, fitPolynomial } from '#libs/regression';
import { strdProblems } from '../digits/strd.js';
import { fewestDigits } from '../digits/digits.js';
import { codeOf, relativeErrors, roundingOf } from '../support.js';

const line = (x: readonly number[]) => x.map((value) => [1, value]);

describe('straight lines with stated uncertainties', () => {
  // ISO/TS 28037:2010 6.3, p. 13 and table 6 on p. 15.
  test.each([
    { y: [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u: [0.5, 0.5, 0.5, 0.5, 0.5, 0.5], a: 1.867, b: 1.757, uA: 0.465, uB: 0.12, cov: -0.05, chi2: 1.665 },
    { y: [3.2, 4.3, 7.6, 8.6, 11.7, 12.8], u: [0.5, 0.5, 0.5, 1, 1, 1], a: 0.885, b: 2.057, uA: 0.53, uB: 0.178, cov: -0.082, chi2: 4.131 },
  ])('reproduce ISO/TS 28037: a = $a, b = $b', ({ y, u, a, b, uA, uB, cov, chi2 }) => {
    const fit = fitLinear(line([1, 2, 3, 4, 5, 6]), y, { weights: u.map((value) => 1 / value ** 2), covarianceBasis: 'stated' });
    const pairs = [
      [fit.parameters[0]!, a],
      [fit.parameters[1]!, b],
      [fit.standardErrors[0]!, uA],
      [fit.standardErrors[1]!, uB],
      [fit.covariance[0]![1]!, cov],
      [fit.residualSumOfSquares, chi2],
    ];
    for (const [ours, printed] of pairs) expect(Math.abs(ours! - printed!)).toBeLessThanOrEqual(roundingOf(printed!));
    expect(fit.degreesOfFreedom).toBe(4);
  });
});

describe('an ill-conditioned design', () => {
  test('keeps eight digits even where its columns were rounded to float64 (NIST Filip)', () => {
    const filip = strdProblems.find((problem) => problem.name === 'Filip')!;
    const x = filip.x as readonly number[];
    const fit = fitLinear(x.map((value) => filip.powers!.map((k) => value ** k)), filip.y);
    expect(fewestDigits(fit.parameters, filip.params, 15)).toBeGreaterThanOrEqual(7.5);
    expect(fewestDigits(fit.standardErrors, filip.se, 15)).toBeGreaterThanOrEqual(7.5);
    expect(fit.conditionNumber).toBeGreaterThan(1e9);
  });
});

describe('influence', () => {
  const x = [1, 2, 3, 4, 5, 9];
  const y = [1.1, 1.9, 3.2, 3.9, 5.3, 8.1];
  const fit = fitLinear(line(x), y);

  test('says what leaving a point out would do', () => {
    x.forEach((_, i) => {
      const others = x.map((__, j) => j).filter((j) => j !== i);
      const without = fitLinear(line(others.map((j) => x[j]!)), others.map((j) => y[j]!));
      const moved = x.map((value, j) => fit.fitted[j]! - (without.parameters[0]! + without.parameters[1]! * value));
      const cook = moved.reduce((sum, d) => sum + d * d, 0) / (2 * fit.residualSd ** 2);
      expect(fit.cooksDistance[i]! / cook).toBeCloseTo(1, 10);
      const deleted = fit.residuals[i]! / (without.residualSd * Math.sqrt(1 - fit.leverage[i]!));
      expect(fit.deletedResiduals[i]! / deleted).toBeCloseTo(1, 10);
    });
    expect(fit.leverage.reduce((sum, h) => sum + h, 0)).toBeCloseTo(2, 12);
  });

  test('is null, not infinite, where a point alone fixes a parameter', () => {
    const alone = fitLinear([[1, 0], [1, 0], [1, 0], [1, 1]], [1, 2, 4, 7]);
    expect(alone.leverage[3]).toBeCloseTo(1, 14);
    expect(alone.deletedResiduals[3]).toBeNull();
  });
});

describe('properties', () => {
  // Decimals as an instrument gives them: squares of numbers near 1e-162 leave the range of float64.
  const reading = fc.integer({ min: -50_000, max: 50_000 }).map((value) => value / 1000);
  const numbers = fc.array(fc.tuple(reading, reading), { minLength: 5, maxLength: 20 });
  const spread = (points: readonly (readonly [number, number])[]) => new Set(points.map(([x]) => Math.round(x))).size >= 3;

  test('units of predictor and response change units of the answer only', () => {
    fc.assert(
      fc.property(numbers, fc.double({ min: 1e-6, max: 1e6, noNaN: true }), fc.double({ min: 1e-6, max: 1e6, noNaN: true }), (points, unitX, unitY) => {
        fc.pre(spread(points));
        const plain = fitLinear(line(points.map(([x]) => x)), points.map(([, y]) => y));
        const scaled = fitLinear(line(points.map(([x]) => x * unitX)), points.map(([, y]) => y * unitY));
        const scale = 1e-12 * Math.max(...points.map(([, y]) => Math.abs(y)), 1e-300);
        scaled.fitted.forEach((value, i) => expect(Math.abs(value / unitY - plain.fitted[i]!)).toBeLessThanOrEqual(scale));
        expect(Math.abs(scaled.residualSd / unitY - plain.residualSd)).toBeLessThanOrEqual(scale);
        expect(scaled.conditionNumber / plain.conditionNumber).toBeCloseTo(1, 9);
        scaled.leverage.forEach((h, i) => expect(h).toBeCloseTo(plain.leverage[i]!, 10));
      }),
    );
  });

  test('the order of the points changes nothing but their order', () => {
    fc.assert(
      fc.property(numbers, (points) => {
        fc.pre(spread(points));
        const fit = (list: typeof points) => fitLinear(line(list.map(([x]) => x)), list.map(([, y]) => y));
        const forward = fit(points);
        const backward = fit([...points].reverse());
        const scale = 1e-12 * Math.max(...points.map(([, y]) => Math.abs(y)), 1e-300);
        [...backward.fitted].reverse().forEach((value, i) => expect(Math.abs(value - forward.fitted[i]!)).toBeLessThanOrEqual(scale));
      }),
    );
  });
});

describe('bad input', () => {
  test.each([
    ['NOT_FINITE', () => fitLinear(line([1, 2, NaN]), [1, 2, 3])],
    ['NOT_FINITE', () => fitLinear(line([1, 2, 3]), [1, 2, Infinity])],
    ['TOO_FEW_POINTS', () => fitLinear(line([1, 2]), [1, 2])],
    ['SINGULAR_DESIGN', () => fitLinear(line([2, 2, 2, 2]), [1, 2, 3, 4])],
    ['SINGULAR_DESIGN', () => fitLinear([[1, 1, 2], [1, 2, 4], [1, 3, 6], [1, 4, 8]], [1, 2, 3, 4])],
    ['SHAPE', () => fitLinear([[1, 1], [1], [1, 3]], [1, 2, 3])],
    ['SHAPE', () => fitLinear(line([1, 2, 3]), [1, 2])],
    ['SHAPE', () => fitLinear(line([1, 2, 3]), [1, 2, 3], { weights: [1, 1] })],
    ['NOT_POSITIVE', () => fitLinear(line([1, 2, 3]), [1, 2, 3], { weights: [1, 0, 1] })],
    ['NO_WEIGHTS', () => fitLinear(line([1, 2, 3]), [1, 2, 3], { covarianceBasis: 'stated' })],
    ['POWERS', () => fitPolynomial([1, 2, 3], [1, 2, 3], [0, 0.5])],
    ['POWERS', () => fitPolynomial([1, 2, 3], [1, 2, 3], [1, 1])],
  ])('%s', (code, work) => {
    expect(codeOf(work)).toBe(code);
  });

  test('names the column that the others determine', () => {
    expect(() => fitLinear([[1, 1, 2], [1, 2, 4], [1, 3, 6], [1, 4, 8]], [1, 2, 3, 4], { parameterNames: ['a', 'b', 'c'] })).toThrow(/^[bc]: cannot be told apart/);
  });
});

test('weights and repeated points say the same', () => {
  const twice = fitLinear(line([1, 2, 2, 3]), [1, 3, 3, 4]);
  const weighted = fitLinear(line([1, 2, 3]), [1, 3, 4], { weights: [1, 2, 1] });
  expect(relativeErrors(weighted.parameters, twice.parameters)).toBeLessThan(1e-14);
  expect(weighted.residualSumOfSquares).toBeCloseTo(twice.residualSumOfSquares, 14);
});

test('sizes whose squares leave float64 are refused, not answered with zeros or infinities; all others are answered', () => {
  const line = (size: number, unit = 1) => fitLinear([1, 2, 3, 4].map((x) => [1, x * unit]), [1, 2, 3.1, 4].map((y) => y * size));
  expect(codeOf(() => line(1e-300))).toBe('SCALE');
  expect(codeOf(() => line(1e200))).toBe('SCALE');
  expect(codeOf(() => line(1, 1e-200))).toBe('SCALE');
  for (const [size, unit] of [[1e-130, 1], [1e130, 1], [1, 1e-130], [1e130, 1e130], [1e-130, 1e130]] as const) {
    const fit = line(size, unit);
    expect((fit.parameters[1]! * unit) / size).toBeCloseTo(1.01, 12);
    expect((fit.standardErrors[1]! * unit) / size).toBeCloseTo(line(1).standardErrors[1]!, 12);
  }
});
