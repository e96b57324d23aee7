import { InputError, requireFinite } from '#libs/quantity';
import { requireDegreesOfFreedom, requireNumber, requireProbability } from './guards.js';
import { stirlingRemainder } from './gamma.js';
import { normalCdf, normalPdf, normalQuantile, normalSurvival } from './normal.js';
import { increasingRoot } from './root.js';

// Bound once: a host that looks the global up at every use (a sandbox) spends more on that than on the arithmetic.
const { abs, exp, expm1, log, log1p, max, min, sqrt } = Math;

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
 * noncentralTCdf(2, 10, 1) // => 0.8076115625303752
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
 * noncentralTSurvival(1.8124611228107335, 10, 3) // => 0.873579874228352
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
 * noncentralTQuantile(0.95, 9, 1.6448536269514722 * Math.sqrt(10)) / Math.sqrt(10) // => 2.9109634130781665
 */
export function noncentralTQuantile(p: number, df: number, delta: number): number {
  requireProbability('p', p);
  requireDegreesOfFreedom('df', df);
  requireFinite('delta', delta);
  if (df === Infinity) return delta + normalQuantile(p);
  if (p === 0 || p === 1) return p === 0 ? -Infinity : Infinity;
  const mismatch = (t: number) => {
    const slope = density(t, df, delta);
    if (p <= 0.5) {
      const part = probability(t, df, delta, 'lower');
      return { value: log(part) - log(p), slope: slope / part };
    }
    const part = probability(t, df, delta, 'upper');
    return { value: log1p(-p) - log(part), slope: slope / part };
  };
  let width = 1 + abs(delta);
  let low = delta - width;
  let high = delta + width;
  while (mismatch(low).value > 0) low = delta - (width *= 2);
  width = 1 + abs(delta);
  while (mismatch(high).value < 0) high = delta + (width *= 2);
  return increasingRoot(mismatch, low, high, delta);
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
  if (df === Infinity || t === 0) return tail === 'lower' ? normalCdf(t - delta) : normalSurvival(t - delta);
  const conditional = tail === 'lower' ? (s: number) => normalCdf(t * s - delta) : (s: number) => normalSurvival(t * s - delta);
  return min(1, expectation(conditional, df));
}

/** dP(T ≤ t)/dt = E[S·φ(t·S − delta)]. */
function density(t: number, df: number, delta: number): number {
  return expectation((s) => s * normalPdf(t * s - delta), df);
}

/**
 * E[g(S)] for a smooth positive g. ln S has density √(ν/π)·e^{−r}·e^{ν(v − (e^{2v} − 1)/2)} with r the Stirling remainder of ν/2, which keeps
 * the scale exact for any ν.
 */
function expectation(g: (s: number) => number, df: number): number {
  const scale = sqrt(df / Math.PI) * exp(-stirlingRemainder(df / 2));
  const integrand = (v: number) => scale * exp(df * (v - expm1(2 * v) / 2)) * g(exp(v));
  const spread = 1 / sqrt(2 * df);
  const right = min(40 * spread, 2 + 0.5 * log1p(1500 / df));
  const left = -max(40 * spread, 745 / df);
  const [from, to] = support(integrand, left, right);
  return trapezoid(integrand, from, to);
}

/** The part of [left, right] where the integrand stands above 1e-18 of its greatest value on a grid. */
function support(integrand: (v: number) => number, left: number, right: number): readonly [number, number] {
  const cells = 400;
  const step = (right - left) / cells;
  const values = Array.from({ length: cells + 1 }, (_, i) => integrand(left + i * step));
  const least = 1e-18 * max(...values);
  const first = values.findIndex((value) => value > least);
  const last = values.findLastIndex((value) => value > least);
  return [left + max(0, first - 1) * step, left + min(cells, last + 1) * step];
}

function trapezoid(integrand: (v: number) => number, from: number, to: number): number {
  let cells = 64;
  const at = (i: number) => integrand(from + ((to - from) * i) / cells);
  let sum = 0;
  for (let i = 0; i <= cells; i += 1) sum += at(i);
  let integral = (sum * (to - from)) / cells;
  for (let doubling = 0; doubling < 14; doubling += 1) {
    cells *= 2;
    for (let i = 1; i < cells; i += 2) sum += at(i);
    const finer = (sum * (to - from)) / cells;
    // Halving the step squares the relative error here, so two values that agree to 1e-8 leave the finer one exact to rounding.
    if (abs(finer - integral) <= 1e-8 * finer) return finer;
    integral = finer;
  }
  throw new InputError('NOT_CONVERGED', 't', 'the noncentral t integral did not converge', 'Report t, df and delta as a defect.');
}
