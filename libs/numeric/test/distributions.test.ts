import { readFileSync } from 'node:fs';
import {
  chiSquareCdf, chiSquareQuantile, chiSquareSurvival, fCdf, fQuantile, fSurvival, incompleteBeta, logGamma, noncentralTCdf,
  noncentralTQuantile, noncentralTSurvival, normalCdf, normalPdf, normalQuantile, normalSurvival, regularizedBeta, regularizedGammaP,
  regularizedGammaQ, stirlingRemainder, studentTCdf, studentTPdf, studentTQuantile, studentTSurvival,
} from '#libs/numeric';

/**
 * mpmath at 50 digits; fixtures/distributions.py writes the file. mpmath integrates or sums series of its own and shares no
 * algorithm with the library.
 */
const fixture = JSON.parse(readFileSync(new URL('./fixtures/distributions.json', import.meta.url), 'utf8')) as Record<string, number[][]>;

/** The greatest relative error of `compute` over the rows whose last `answers` columns hold the answers. */
function worst(rows: number[][], answers: number, compute: (...args: number[]) => number[]): number {
  return Math.max(
    ...rows.flatMap((row) => {
      const expected = row.slice(row.length - answers);
      const got = compute(...row.slice(0, row.length - answers));
      return expected.map((e, i) => (e === 0 ? Math.abs(got[i]!) : Math.abs(got[i]! / e - 1)));
    }),
  );
}

describe('distributions against mpmath at 50 digits', () => {
  test('ln gamma', () => {
    expect(worst(fixture['logGamma']!, 1, (x) => [logGamma(x!)])).toBeLessThan(2e-15);
    expect([logGamma(1), logGamma(2)]).toEqual([0, 0]);
    expect(worst(fixture['stirlingRemainder']!.filter((row) => row[0]! >= 10), 1, (a) => [stirlingRemainder(a!)])).toBeLessThan(2e-15);
    expect(worst(fixture['stirlingRemainder']!, 1, (a) => [stirlingRemainder(a!)])).toBeLessThan(1e-12);
  });

  test('normal, both tails to 37 standard deviations', () => {
    expect(worst(fixture['normalSurvival']!, 1, (z) => [normalSurvival(z!)])).toBeLessThan(3e-15);
    expect(worst(fixture['normalSurvival']!, 1, (z) => [normalCdf(-z!)])).toBeLessThan(3e-15);
  });

  test('normal quantile', () => {
    expect(worst(fixture['normalQuantile']!, 1, (p) => [normalQuantile(p!)])).toBeLessThan(3e-15);
  });

  test('incomplete gamma, P and Q', () => {
    expect(worst(fixture['gammaQ']!, 2, (a, x) => [regularizedGammaP(a!, x!), regularizedGammaQ(a!, x!)])).toBeLessThan(2e-13);
  });

  test('chi-squared is the same function', () => {
    expect(worst(fixture['gammaQ']!, 2, (a, x) => [chiSquareCdf(2 * x!, 2 * a!), chiSquareSurvival(2 * x!, 2 * a!)])).toBeLessThan(2e-13);
  });

  test('incomplete beta and its complement', () => {
    const compute = (x: number, a: number, b: number) => {
      const { lower, upper } = incompleteBeta(x, 1 - x, a, b);
      return [lower, upper];
    };
    expect(worst(fixture['beta']!, 2, compute as (...args: number[]) => number[])).toBeLessThan(1e-13);
    expect(worst(fixture['beta']!, 2, (x, a, b) => [regularizedBeta(x!, a!, b!), regularizedBeta(1 - x!, b!, a!)])).toBeLessThan(1e-12);
  });

  test('Student t', () => {
    expect(worst(fixture['tSurvival']!, 1, (t, df) => [studentTSurvival(t!, df!)])).toBeLessThan(1e-13);
    expect(worst(fixture['tSurvival']!, 1, (t, df) => [studentTCdf(-t!, df!)])).toBeLessThan(1e-13);
  });

  test('F', () => {
    expect(worst(fixture['fSurvival']!, 1, (x, a, b) => [fSurvival(x!, a!, b!)])).toBeLessThan(1e-13);
    expect(worst(fixture['fSurvival']!, 1, (x, a, b) => [fCdf(1 / x!, b!, a!)])).toBeLessThan(1e-13);
  });

  test('noncentral t, both tails', () => {
    const compute = (t: number, df: number, d: number) => [noncentralTSurvival(t, df, d), noncentralTCdf(t, df, d)];
    expect(worst(fixture['noncentralTSurvival']!, 2, compute as (...args: number[]) => number[])).toBeLessThan(1e-12);
  });
});

describe('quantiles', () => {
  const probabilities = [1e-200, 1e-10, 0.01, 0.2, 0.3, 0.499999, 0.5000001, 0.7, 0.975, 0.9999999];
  const backwards = (p: number, lower: number, upper: number) => Math.abs(p < 0.5 ? lower / p - 1 : upper / (1 - p) - 1);

  test.each([0.5, 1, 2.5, 9, 16.7, 50, 1e3, 1e6])('invert their distribution functions with %p degrees of freedom', (df) => {
    for (const p of probabilities) {
      const t = studentTQuantile(p, df);
      // With half a degree of freedom the 1e-200 quantile is 1e400, beyond floating point.
      if (Number.isFinite(t)) expect(backwards(p, studentTCdf(t, df), studentTSurvival(t, df))).toBeLessThan(3e-13);
      else expect([p, df]).toEqual([1e-200, 0.5]);
      const f = fQuantile(p, df, 7);
      if (f > 1e-300) expect(backwards(p, fCdf(f, df, 7), fSurvival(f, df, 7))).toBeLessThan(3e-13);
      const x = chiSquareQuantile(p, df);
      if (x > 1e-300) expect(backwards(p, chiSquareCdf(x, df), chiSquareSurvival(x, df))).toBeLessThan(3e-12);
    }
  });

  test.each([0.5, 2.5, 9, 50])('noncentral t inverts its distribution function with %p degrees of freedom', (df) => {
    for (const p of [1e-10, 0.01, 0.3, 0.7, 0.975]) {
      const t = noncentralTQuantile(p, df, 2.5);
      expect(backwards(p, noncentralTCdf(t, df, 2.5), noncentralTSurvival(t, df, 2.5))).toBeLessThan(1e-11);
    }
  });

  test('normal quantile inverts the normal distribution function over the range of floating point', () => {
    for (const p of [...probabilities, 1e-300, 4e-308]) {
      const z = normalQuantile(p);
      expect(backwards(p, normalCdf(z), normalSurvival(z))).toBeLessThan(5e-13);
    }
    expect([normalQuantile(0), normalQuantile(0.5), normalQuantile(1)]).toEqual([-Infinity, 0, Infinity]);
  });

  test('printed tables', () => {
    // JCGM 100:2008 table G.2 (printed to two decimals): t for p = 95 % and 99.73 %.
    const table = [[1, 12.71, 235.8], [2, 4.3, 19.21], [5, 2.57, 5.51], [10, 2.23, 3.96], [16, 2.12, 3.54], [50, 2.01, 3.16]] as const;
    for (const [df, t95, t9973] of table) {
      expect(studentTQuantile(0.975, df)).toBeCloseTo(t95, 2);
      expect(Math.abs(studentTQuantile(0.99865, df) - t9973)).toBeLessThan(df === 1 ? 0.06 : 0.011);
    }
    // A&S table 26.8 and table 26.9 (from memory): chi-squared and F at 5 % in the upper tail.
    expect(chiSquareQuantile(0.95, 10)).toBeCloseTo(18.307, 3);
    expect(chiSquareQuantile(0.95, 100)).toBeCloseTo(124.342, 3);
    expect(fQuantile(0.95, 5, 10)).toBeCloseTo(3.33, 2);
    expect(fQuantile(0.95, 9, 40)).toBeCloseTo(2.12, 2);
    // ISO 16269-6 (from memory): one-sided k for 95 % of the population at 95 % confidence, k = t(0.95; n−1, z·√n)/√n.
    const factors = [[5, 4.203], [8, 3.187], [10, 2.911], [20, 2.396], [30, 2.22]] as const;
    for (const [n, k] of factors) {
      expect(noncentralTQuantile(0.95, n - 1, normalQuantile(0.95) * Math.sqrt(n)) / Math.sqrt(n)).toBeCloseTo(k, 3);
    }
  });

  test('limits', () => {
    expect(studentTQuantile(0.975, Infinity)).toBe(normalQuantile(0.975));
    expect(fQuantile(0.95, 3, Infinity)).toBeCloseTo(chiSquareQuantile(0.95, 3) / 3, 12);
    expect(fQuantile(0.05, Infinity, 3)).toBeCloseTo(3 / chiSquareQuantile(0.95, 3), 12);
    expect(noncentralTQuantile(0.9, 7, 0)).toBeCloseTo(studentTQuantile(0.9, 7), 10);
    expect([studentTQuantile(0.5, 3), studentTQuantile(0, 3), chiSquareQuantile(1, 3), fCdf(-1, 2, 3)]).toEqual([0, -Infinity, Infinity, 0]);
    expect(studentTCdf(-1e200, 1) * Math.PI * 1e200).toBeCloseTo(1, 12);
  });
});

describe('densities are the slopes of their distribution functions', () => {
  test.each([[0.3, 2.5], [2, 16.7], [-1, 1]])('Student t at %p with %p degrees of freedom', (t, df) => {
    const h = 1e-4;
    const slope = (studentTCdf(t + h, df) - studentTCdf(t - h, df)) / (2 * h);
    expect(studentTPdf(t, df) / slope).toBeCloseTo(1, 7);
  });

  test('at zero and infinity', () => {
    expect(studentTPdf(0, 1) * Math.PI).toBeCloseTo(1, 13);
    expect(studentTPdf(0.7, Infinity)).toBe(normalPdf(0.7));
    expect(studentTPdf(0, 1e8) / normalPdf(0)).toBeCloseTo(1, 8);
  });
});

describe('input that cannot be computed with', () => {
  test.each([
    ['p', () => normalQuantile(1.5)],
    ['p', () => studentTQuantile(NaN, 3)],
    ['df', () => studentTCdf(1, 0)],
    ['df', () => studentTQuantile(0.9, -2)],
    ['df', () => chiSquareQuantile(0.9, Infinity)],
    ['df2', () => fSurvival(1, 2, NaN)],
    ['t', () => noncentralTCdf(NaN, 3, 1)],
    ['delta', () => noncentralTQuantile(0.9, 3, Infinity)],
    ['x', () => logGamma(0)],
    ['x', () => regularizedGammaP(1, -1)],
    ['x', () => regularizedBeta(2, 1, 1)],
    ['a', () => regularizedBeta(0.5, 0, 1)],
  ])('is refused with the name %p', (field, compute) => {
    expect(compute).toThrow(expect.objectContaining({ name: 'InputError', field }));
  });
});
