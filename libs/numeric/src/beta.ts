import { InputError, requirePositive } from '#libs/quantity';
import { log1pMinus, stirlingRemainder, type Tails } from './gamma.js';
import { requireProbability } from './guards.js';

// Bound once: a host that looks the global up at every use (a sandbox) spends more on that than on the arithmetic.
const { abs, exp, log, min, sqrt } = Math;

/**
 * Regularised incomplete beta function I_x(a, b).
 *
 * Domain: a, b > 0; 0 ≤ x ≤ 1. Where x is known better through its complement (x near 1), use {@link incompleteBeta}.
 * Errors: `NOT_POSITIVE`, `NOT_A_PROBABILITY`. Source: A&S 26.5.1.
 *
 * @example
 * regularizedBeta(0.5, 2, 3) // => 0.6875
 */
export function regularizedBeta(x: number, a: number, b: number): number {
  requireProbability('x', x);
  return incompleteBeta(x, 1 - x, a, b).lower;
}

/**
 * I_x(a, b) and its complement I_y(b, a), from x and y = 1 − x given separately so that neither loses digits.
 *
 * Domain: a, b > 0; x, y in [0, 1] with x + y = 1. Continued fraction on the side of the mean where it converges fast.
 *
 * @example
 * incompleteBeta(0.25, 0.75, 1, 1).upper // => 0.75
 */
export function incompleteBeta(x: number, y: number, a: number, b: number): Tails {
  requirePositive('a', a);
  requirePositive('b', b);
  if (x === 0) return { lower: 0, upper: 1 };
  if (y === 0) return { lower: 1, upper: 0 };
  const factor = betaFactor(x, y, a, b);
  if (x * (a + b + 2) <= a + 1) {
    const lower = factor === 0 ? 0 : min(1, factor / betaFraction(x, y, a, b));
    return { lower, upper: 1 - lower };
  }
  const upper = factor === 0 ? 0 : min(1, factor / betaFraction(y, x, b, a));
  return { lower: 1 - upper, upper };
}

/** xᵃ yᵇ / B(a, b) by deviations from the mean a/(a+b), so that nothing large cancels. */
export function betaFactor(x: number, y: number, a: number, b: number): number {
  const n = a + b;
  const meanX = a / n;
  const meanY = b / n;
  // x + y = 1, so both deviations are equal and opposite; the smaller variable gives it with fewer lost digits.
  const deviation = x < y ? x - meanX : meanY - y;
  const exponent = deviance(a, x, meanX, deviation) + deviance(b, y, meanY, -deviation);
  const remainder = stirlingRemainder(n) - stirlingRemainder(a) - stirlingRemainder(b);
  return sqrt((a / n) * b) / sqrt(2 * Math.PI) * exp(exponent + remainder);
}

/** a·[ln(x/mean) − deviation/mean]; the subtracted parts of the two variables sum to zero. */
function deviance(a: number, x: number, mean: number, deviation: number): number {
  const relative = deviation / mean;
  return abs(relative) <= 0.5 ? a * log1pMinus(relative) : a * (log(x) - log(mean) - relative);
}

/**
 * The even part of the continued fraction A&S 26.5.8, as xᵃyᵇ/B(a, b) divided by I_x(a, b) (A. R. DiDonato and A. H. Morris, ACM TOMS 18
 * (1992) 360-373, eq. 9). It takes x and y, so it stays exact where x rounds to 1, and needs half the steps.
 */
function betaFraction(x: number, y: number, a: number, b: number): number {
  const guard = (value: number) => (abs(value) < 1e-300 ? 1e-300 : value);
  // The first term has no middle part; for a = 1 it would be 0/0.
  const partialDenominator = (m: number) =>
    m + (m === 0 ? 0 : (m * (b - m) * x) / (a + 2 * m - 1)) + ((a + m) * (a * y - b * x + 1 + m * (1 + y))) / (a + 2 * m + 1);
  let fraction = guard(partialDenominator(0));
  let c = fraction;
  let d = 0;
  for (let m = 1; m < 10_000_000; m += 1) {
    const outer = a + 2 * m - 1;
    const numerator = (((a + m - 1) * x) / outer) * (((a + b + m - 1) * x) / outer) * m * (b - m);
    const denominator = partialDenominator(m);
    d = 1 / guard(denominator + numerator * d);
    c = guard(denominator + numerator / c);
    const ratio = c * d;
    fraction *= ratio;
    if (abs(ratio - 1) <= 2 * Number.EPSILON) return fraction;
  }
  throw new InputError('NOT_CONVERGED', 'a', `the continued fraction for a = ${a}, b = ${b} did not converge`, 'Report the values as a defect.');
}
