import { readFileSync } from 'node:fs';
import {
  chiSquareCdf, chiSquareQuantile, chiSquareSurvival, fCdf, fQuantile, fSurvival, incompleteBeta, logGamma, noncentralTCdf,
  noncentralTQuantile, noncentralTSurvival, normalCdf, normalPdf, normalQuantile, normalSurvival, regularizedBeta, regularizedGammaP,
  regularizedGammaQ, studentTCdf, studentTPdf, studentTQuantile, studentTSurvival,
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
  });

  test('normal, both tails to 37 standard deviations', () => {
    expect(worst(fixture['normalSurvival']!, 1, (z) => [normalSurvival(z!)])).toBeLessThan(3e-15);
    expect(worst(fixture['normalSurvival']!, 1, (z) => [normalCdf(-z!)])).toBeLessThan(3e-15);
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
