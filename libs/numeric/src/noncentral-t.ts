import { requireFinite } from '#libs/quantity';
import { requireDegreesOfFreedom, requireNumber, requireProbability } from './guards.js';
import { stirlingRemainder } from './gamma.js';
import { normalCdf, normalQuantile, normalSurvival } from './normal.js';
import { increasingRoot } from './root.js';

/**
 * Distribution function of the noncentral t: P(T ≤ t) with T = (Z + delta)/√(χ²_df/df).
 *
 * It is E[Φ(t·S − delta)] over S = √(χ²_df/df); the expectation is taken by the trapezoidal rule in ln S, which
 * converges faster than any power of the step for this smooth, fast-decaying integrand, and adds only positive terms, so both tails keep
 * their relative accuracy (about 1e-13). Domain: any t; real df > 0 (Infinity = normal shifted by delta); finite delta.
 * Errors: `NOT_A_NUMBER`, `DEGREES_OF_FREEDOM`, `NOT_FINITE`. Source: Johnson, Kotz and Balakrishnan, Continuous Univariate
 * Distributions 2, ch. 31 (from memory); checked against SciPy.
 *
 * @example
 * noncentralTCdf(2, 10, 1) // => 0.8085044158140634
 */
export function noncentralTCdf(t: number, df: number, delta: number): number {
  check(t, df, delta);
  return probability(t, df, delta, 'lower');
}

/**
 * Upper tail of the noncentral t, P(T > t), without cancellation: the power of a t test.
 *
 * Domain, errors and source as {@link noncentralTCdf}.
 *
 * @example
 * noncentralTSurvival(1.8124611228107335, 10, 3) // => 0.8813297744955763
 */
export function noncentralTSurvival(t: number, df: number, delta: number): number {
  check(t, df, delta);
  return probability(t, df, delta, 'upper');
}

/**
 * Quantile of the noncentral t: the t with P(T ≤ t) = p. With delta = z_β·√n it gives the one-sided tolerance factor k = t/√n
 * of ISO 16269-6.
 *
 * Domain: 0 ≤ p ≤ 1; real df > 0, Infinity allowed; finite delta. Errors: `NOT_A_PROBABILITY`, `DEGREES_OF_FREEDOM`,
 * `NOT_FINITE`.
 *
 * @example
 * noncentralTQuantile(0.95, 9, 1.6448536269514722 * Math.sqrt(10)) / Math.sqrt(10) // => 2.910963124
 */
export function noncentralTQuantile(p: number, df: number, delta: number): number {
  requireProbability('p', p);
  requireDegreesOfFreedom('df', df);
  requireFinite('delta', delta);
  if (df === Infinity) return delta + normalQuantile(p);
  if (p === 0 || p === 1) return p === 0 ? -Infinity : Infinity;
  const mismatch = (t: number) =>
    p <= 0.5
      ? Math.log(probability(t, df, delta, 'lower')) - Math.log(p)
      : Math.log1p(-p) - Math.log(probability(t, df, delta, 'upper'));
  let width = 1 + Math.abs(delta);
  let low = delta - width;
  let high = delta + width;
  while (mismatch(low) > 0) low = delta - (width *= 2);
  width = 1 + Math.abs(delta);
  while (mismatch(high) < 0) high = delta + (width *= 2);
  const slopeStep = 1e-5;
  return increasingRoot(
    (t) => {
      const value = mismatch(t);
      const h = slopeStep * (1 + Math.abs(t));
      return { value, slope: (mismatch(t + h) - mismatch(t - h)) / (2 * h) };
    },
    low,
    high,
    delta,
  );
}

function check(t: number, df: number, delta: number): void {
  requireNumber('t', t);
  requireDegreesOfFreedom('df', df);
  requireFinite('delta', delta);
}

function probability(t: number, df: number, delta: number, tail: 'lower' | 'upper'): number {
  // P(T ≤ t; delta) = P(T > −t; −delta): so only t ≥ 0 is left to integrate.
  if (t < 0) return probability(-t, df, -delta, tail === 'lower' ? 'upper' : 'lower');
  if (t === Infinity) return tail === 'lower' ? 1 : 0;
  const conditional = (s: number) => (tail === 'lower' ? normalCdf(t * s - delta) : normalSurvival(t * s - delta));
  if (df === Infinity || t === 0) return conditional(1);
  // ln S has density √(ν/π)·e^{−r(ν/2)}·e^{ν(v − (e^{2v} − 1)/2)}: the stirling remainder r keeps the scale exact for any ν.
  const scale = Math.sqrt(df / Math.PI) * Math.exp(-stirlingRemainder(df / 2));
  const integrand = (v: number) => scale * Math.exp(df * (v - Math.expm1(2 * v) / 2)) * conditional(Math.exp(v));
  const [from, to] = support(integrand, df);
  return trapezoid(integrand, from, to, Math.abs(delta));
}

/** Where the integrand stands above 1e-18 of its greatest value, found on a grid finer than its features. */
function support(integrand: (v: number) => number, df: number): readonly [number, number] {
  const spread = 1 / Math.sqrt(2 * df);
  const right = Math.min(40 * spread, 2 + 0.5 * Math.log1p(1500 / df));
  const left = -Math.max(40 * spread, 745 / df);
  const cells = 2000;
  const step = (right - left) / cells;
  let greatest = 0;
  const values = Array.from({ length: cells + 1 }, (_, i) => {
    const value = integrand(left + i * step);
    greatest = Math.max(greatest, value);
    return value;
  });
  const first = values.findIndex((value) => value > greatest * 1e-18);
  const last = values.findLastIndex((value) => value > greatest * 1e-18);
  return [left + Math.max(0, first - 1) * step, left + Math.min(cells, last + 1) * step];
}

function trapezoid(integrand: (v: number) => number, from: number, to: number, delta: number): number {
  let cells = 64 + 8 * Math.ceil(delta);
  const at = (i: number) => integrand(from + ((to - from) * i) / cells);
  let sum = 0;
  for (let i = 0; i <= cells; i += 1) sum += at(i);
  let integral = (sum * (to - from)) / cells;
  for (let doubling = 0; doubling < 12; doubling += 1) {
    cells *= 2;
    for (let i = 1; i < cells; i += 2) sum += at(i);
    const finer = (sum * (to - from)) / cells;
    if (Math.abs(finer - integral) <= 1e-14 * finer) return Math.min(1, finer);
    integral = finer;
  }
  return Math.min(1, integral);
}
