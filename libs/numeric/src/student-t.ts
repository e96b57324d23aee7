import { betaFactor, incompleteBeta } from './beta.js';
import { requireDegreesOfFreedom, requireNumber, requireProbability } from './guards.js';
import { normalCdf, normalPdf, normalQuantile, normalSurvival } from './normal.js';
import { increasingRoot } from './root.js';
import { raise } from './raise.js';

/**
 * Density of Student's t distribution with `df` degrees of freedom.
 *
 * Domain: any t; real df > 0, Infinity gives the normal density. Errors: `NOT_A_NUMBER`, `DEGREES_OF_FREEDOM`.
 * Source: A&S 26.7.
 *
 * @example
 * studentTPdf(0, 1) // => 0.3183098861837907
 */
export function studentTPdf(t: number, df: number): number {
  requireNumber('t', t);
  requireDegreesOfFreedom('df', df);
  if (df === Infinity) return normalPdf(t);
  const { x, y, ratio } = betaArguments(t, df);
  if (ratio === 0) return betaFactorAtZero(df);
  return betaFactor(x, y, df / 2, 0.5) / Math.abs(t);
}

/**
 * Student's t distribution function, P(T ≤ t), to about 1e-14 relative in both tails.
 *
 * Domain: any t; real df > 0 (Welch-Satterthwaite degrees of freedom are not whole), Infinity = normal.
 * Errors: `NOT_A_NUMBER`, `DEGREES_OF_FREEDOM`. Source: A&S 26.7.1 with 26.5.27.
 *
 * @example
 * studentTCdf(2.228138851964939, 10) // => 0.975
 */
export function studentTCdf(t: number, df: number): number {
  requireNumber('t', t);
  requireDegreesOfFreedom('df', df);
  if (df === Infinity) return normalCdf(t);
  return t < 0 ? upperTail(-t, df) : 1 - upperTail(t, df);
}

/**
 * Upper tail of Student's t distribution, P(T > t), without cancellation.
 *
 * Domain, errors and source as {@link studentTCdf}.
 *
 * @example
 * studentTSurvival(1000, 1) // => 0.000318309780080559
 */
export function studentTSurvival(t: number, df: number): number {
  requireNumber('t', t);
  requireDegreesOfFreedom('df', df);
  if (df === Infinity) return normalSurvival(t);
  return t < 0 ? 1 - upperTail(-t, df) : upperTail(t, df);
}

/**
 * Quantile of Student's t distribution: the t with P(T ≤ t) = p.
 *
 * Domain: 0 ≤ p ≤ 1; real df > 0, Infinity = normal. Errors: `NOT_A_PROBABILITY`, `DEGREES_OF_FREEDOM`.
 * Source: the root of {@link studentTCdf}, by safeguarded Newton steps on the logarithm of the tail.
 *
 * @example
 * studentTQuantile(0.975, 4.7) // => 2.62072607535317
 */
export function studentTQuantile(p: number, df: number): number {
  requireProbability('p', p);
  requireDegreesOfFreedom('df', df);
  if (df === Infinity) return normalQuantile(p);
  if (p === 0.5) return 0;
  if (p === 0 || p === 1) return p === 0 ? -Infinity : Infinity;
  const tail = Math.min(p, 1 - p);
  const magnitude = positiveQuantile(tail, Math.abs(p - 0.5), df);
  return p < 0.5 ? -magnitude : magnitude;
}

function positiveQuantile(tail: number, centre: number, df: number): number {
  // Whichever of tail and central part is small decides the digits of t, so that one is matched, in logarithms.
  const byTail = tail < 0.25;
  const mismatch = (t: number) => {
    const { x, y } = betaArguments(t, df);
    const tails = incompleteBeta(x, y, df / 2, 0.5);
    const part = 0.5 * (byTail ? tails.lower : tails.upper);
    const value = byTail ? Math.log(tail) - Math.log(part) : Math.log(part) - Math.log(centre);
    return { value, slope: betaFactor(x, y, df / 2, 0.5) / part };
  };
  const z = Math.abs(normalQuantile(tail));
  const start = Math.log(z * (1 + (z * z + 1) / (4 * df)));
  const farthest = upperTail(FAR, df);
  if (tail < farthest) return FAR * raise(farthest / tail, 1 / df);
  const root = Math.exp(increasingRoot((logT) => mismatch(Math.exp(logT)), -745, Math.log(FAR), start));
  const { value, slope } = mismatch(root);
  return root * (1 - value / slope);
}

/** Beyond this t its square would overflow; the tail is then a pure power t^−df to the last bit. */
const FAR = 1e140;

function upperTail(t: number, df: number): number {
  if (t === Infinity) return 0;
  if (t > FAR) return upperTail(FAR, df) * raise(FAR / t, df);
  const { x, y } = betaArguments(t, df);
  return 0.5 * incompleteBeta(x, y, df / 2, 0.5).lower;
}

function betaArguments(t: number, df: number): { readonly x: number; readonly y: number; readonly ratio: number } {
  const ratio = (t * t) / df;
  return { x: 1 / (1 + ratio), y: ratio / (1 + ratio), ratio };
}

/** Γ((ν+1)/2) / (√(νπ) Γ(ν/2)), as the limit of the general density for t → 0. */
function betaFactorAtZero(df: number): number {
  const t = 1e-100 * Math.sqrt(df);
  return betaFactor(1, 1e-200, df / 2, 0.5) / t;
}
