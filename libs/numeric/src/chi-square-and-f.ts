import { InputError } from '#libs/quantity';
import { betaFactor, incompleteBeta } from './beta.js';
import { gammaFactor, incompleteGamma, type Tails } from './gamma.js';
import { requireDegreesOfFreedom, requireNumber, requireProbability } from './guards.js';
import { normalQuantile } from './normal.js';
import { increasingRoot } from './root.js';
import { raise } from './raise.js';

/**
 * Chi-squared distribution function, P(X ≤ x).
 *
 * Domain: x ≥ 0 (below 0 the probability is 0); real, finite df > 0. Errors: `NOT_A_NUMBER`, `DEGREES_OF_FREEDOM`.
 * Source: A&S 26.4.19.
 *
 * @example
 * chiSquareCdf(3.841458820694124, 1) // => 0.95
 */
export function chiSquareCdf(x: number, df: number): number {
  return chiSquareTails(x, df).lower;
}

/**
 * Upper tail of the chi-squared distribution, P(X > x), without cancellation.
 *
 * Domain, errors and source as {@link chiSquareCdf}.
 *
 * @example
 * chiSquareSurvival(100, 2) // => 1.9287498479639178e-22
 */
export function chiSquareSurvival(x: number, df: number): number {
  return chiSquareTails(x, df).upper;
}

/**
 * Quantile of the chi-squared distribution: the x with P(X ≤ x) = p.
 *
 * Domain: 0 ≤ p ≤ 1; real, finite df > 0. Errors: `NOT_A_PROBABILITY`, `DEGREES_OF_FREEDOM`.
 * Source: the root of {@link chiSquareCdf}, started from Wilson and Hilferty (A&S 26.4.17).
 *
 * @example
 * chiSquareQuantile(0.95, 10) // => 18.307038053275146
 */
export function chiSquareQuantile(p: number, df: number): number {
  requireProbability('p', p);
  requireFiniteDegrees('df', df);
  const cube = 1 - 2 / (9 * df) + normalQuantile(Math.min(Math.max(p, 1e-300), 1 - 1e-16)) * Math.sqrt(2 / (9 * df));
  return quantileAboveZero(p, df * raise(Math.max(cube, 0.01), 3), (x) => ({
    ...incompleteGamma(df / 2, x / 2),
    slope: gammaFactor(df / 2, x / 2),
  }));
}

/**
 * Distribution function of Fisher's F ratio, P(F ≤ x), with `df1` degrees of freedom above and `df2` below.
 *
 * Domain: x ≥ 0 (below 0 the probability is 0); real df1, df2 > 0; one or both may be Infinity. Errors: `NOT_A_NUMBER`,
 * `DEGREES_OF_FREEDOM`. Source: A&S 26.6.2.
 *
 * @example
 * fCdf(4.964602743730711, 1, 10) // => 0.95
 */
export function fCdf(x: number, df1: number, df2: number): number {
  return fTails(x, df1, df2).lower;
}

/**
 * Upper tail of the F distribution, P(F > x), without cancellation: the p value of an analysis of variance.
 *
 * Domain, errors and source as {@link fCdf}.
 *
 * @example
 * fSurvival(1000, 2, 10) // => 3.048033338623455e-12
 */
export function fSurvival(x: number, df1: number, df2: number): number {
  return fTails(x, df1, df2).upper;
}

/**
 * Quantile of the F distribution: the x with P(F ≤ x) = p.
 *
 * Domain: 0 ≤ p ≤ 1; real df1, df2 > 0; one of them may be Infinity. Errors: `NOT_A_PROBABILITY`,
 * `DEGREES_OF_FREEDOM`. Source: the root of {@link fCdf}.
 *
 * @example
 * fQuantile(0.95, 9, 40) // => 2.1240292640166953
 */
export function fQuantile(p: number, df1: number, df2: number): number {
  requireProbability('p', p);
  requireDegreesOfFreedom('df1', df1);
  requireDegreesOfFreedom('df2', df2);
  if (df1 === Infinity && df2 === Infinity) return 1;
  if (df2 === Infinity) return chiSquareQuantile(p, df1) / df1;
  if (df1 === Infinity) {
    return quantileAboveZero(p, 1, (x) => {
      const { lower, upper } = incompleteGamma(df2 / 2, df2 / (2 * x));
      return { lower: upper, upper: lower, slope: gammaFactor(df2 / 2, df2 / (2 * x)) };
    });
  }
  return quantileAboveZero(p, 1, (x) => {
    const { share, rest } = fShares(x, df1, df2);
    return { ...incompleteBeta(share, rest, df1 / 2, df2 / 2), slope: betaFactor(share, rest, df1 / 2, df2 / 2) };
  });
}

function chiSquareTails(x: number, df: number): Tails {
  requireNumber('x', x);
  requireFiniteDegrees('df', df);
  return x <= 0 ? { lower: 0, upper: 1 } : incompleteGamma(df / 2, x / 2);
}

function fTails(x: number, df1: number, df2: number): Tails {
  requireNumber('x', x);
  requireDegreesOfFreedom('df1', df1);
  requireDegreesOfFreedom('df2', df2);
  if (x <= 0) return { lower: 0, upper: 1 };
  if (x === Infinity) return { lower: 1, upper: 0 };
  if (df1 === Infinity && df2 === Infinity) return x < 1 ? { lower: 0, upper: 1 } : { lower: 1, upper: 0 };
  if (df2 === Infinity) return incompleteGamma(df1 / 2, (df1 * x) / 2);
  if (df1 === Infinity) {
    const { lower, upper } = incompleteGamma(df2 / 2, df2 / (2 * x));
    return { lower: upper, upper: lower };
  }
  const { share, rest } = fShares(x, df1, df2);
  return incompleteBeta(share, rest, df1 / 2, df2 / 2);
}

/** The beta variable df1·x/(df1·x + df2) and its complement. */
function fShares(x: number, df1: number, df2: number): { readonly share: number; readonly rest: number } {
  const ratio = (df1 / df2) * x;
  return ratio > 1
    ? { share: 1 / (1 + 1 / ratio), rest: 1 / ratio / (1 + 1 / ratio) }
    : { share: ratio / (1 + ratio), rest: 1 / (1 + ratio) };
}

function requireFiniteDegrees(field: string, df: number): void {
  requireDegreesOfFreedom(field, df);
  if (df === Infinity) {
    throw new InputError('DEGREES_OF_FREEDOM', field, 'expected finite degrees of freedom, got Infinity', 'Give a finite number.');
  }
}

/**
 * The quantile of a distribution on (0, ∞) from its tails; `slope` is x times the density at x.
 * The smaller tail is matched, in logarithms of probability and of x, where all these distributions are nearly straight.
 */
function quantileAboveZero(p: number, start: number, at: (x: number) => Tails & { readonly slope: number }): number {
  if (p === 0 || p === 1) return p === 0 ? 0 : Infinity;
  const byLower = p <= 0.5;
  const mismatch = (x: number) => {
    const { lower, upper, slope } = at(x);
    const part = byLower ? lower : upper;
    const value = byLower ? Math.log(part) - Math.log(p) : Math.log1p(-p) - Math.log(part);
    return { value, slope: slope / part };
  };
  // Quantiles beyond the range of floating point underflow to 0 and overflow to Infinity, as any product would.
  if (mismatch(Number.MIN_VALUE).value > 0) return 0;
  if (mismatch(Number.MAX_VALUE).value < 0) return Infinity;
  const root = Math.exp(increasingRoot((logX) => mismatch(Math.exp(logX)), -744, 709.7, Math.log(start)));
  const { value, slope } = mismatch(root);
  return slope > 0 && Number.isFinite(slope) ? root * (1 - value / slope) : root;
}
