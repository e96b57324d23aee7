import { InputError } from '#libs/quantity';
import { requireProbability } from './guards.js';

// Bound once: the sums ask for it at every term, and some hosts look a global up at every use.
const { abs } = Math;

/** a + b exactly, as the rounded sum and its error. Source: D. E. Knuth, The Art of Computer Programming 2, 4.2.2 (from memory). */
export function twoSum(a: number, b: number): readonly [sum: number, error: number] {
  const sum = a + b;
  const fromB = sum - a;
  return [sum, a - (sum - fromB) + (b - fromB)];
}

const SPLITTER = 134217729;

/** a·b exactly, as the rounded product and its error. Source: T. J. Dekker, Numer. Math. 18 (1971) 224 (from memory). */
export function twoProduct(a: number, b: number): readonly [product: number, error: number] {
  const product = a * b;
  const scaledA = SPLITTER * a;
  const aHigh = scaledA - (scaledA - a);
  const aLow = a - aHigh;
  const scaledB = SPLITTER * b;
  const bHigh = scaledB - (scaledB - b);
  const bLow = b - bHigh;
  return [product, aLow * bLow - (product - aHigh * bHigh - aLow * bHigh - aHigh * bLow)];
}

/**
 * Compensated sum (Kahan's, in Neumaier's form that survives large terms after small ones): error about 2⁻⁵³ of the sum itself
 * unless the terms cancel by more than fifteen digits.
 *
 * @example
 * compensatedSum([1, 1e100, 1, -1e100]) // => 2
 */
export function compensatedSum(values: ArrayLike<number>): number {
  let sum = 0;
  let low = 0;
  for (let i = 0; i < values.length; i += 1) {
    const value = values[i]!;
    const next = sum + value;
    low += abs(sum) >= abs(value) ? sum - next + value : value - next + sum;
    sum = next;
  }
  return sum + low;
}

/**
 * Pairwise sum: error grows with log n only; faster than {@link compensatedSum}. The order of the terms is fixed, so equal input gives equal bytes.
 *
 * @example
 * pairwiseSum([0.1, 0.2, 0.3]) // => 0.6
 */
export function pairwiseSum(values: ArrayLike<number>): number {
  return pairwise(values, 0, values.length);
}

function pairwise(values: ArrayLike<number>, from: number, to: number): number {
  if (to - from <= 32) {
    let sum = 0;
    for (let i = from; i < to; i += 1) sum += values[i]!;
    return sum;
  }
  const middle = from + Math.floor((to - from) / 2);
  return pairwise(values, from, middle) + pairwise(values, middle, to);
}

/**
 * Arithmetic mean. Domain: at least one finite value. Errors: `TOO_FEW_VALUES`, `NOT_FINITE`.
 *
 * @example
 * mean([1, 2, 6]) // => 3
 */
export function mean(values: ArrayLike<number>): number {
  requireValues(values, 1);
  return meanUnchecked(values);
}

function meanUnchecked(values: ArrayLike<number>): number {
  const first = compensatedSum(values) / values.length;
  // A second pass over the deviations takes back the rounding of the first (NIST StRD NumAcc3 asks for it).
  let rest = 0;
  for (let i = 0; i < values.length; i += 1) rest += values[i]! - first;
  return first + rest / values.length;
}

/**
 * Sample variance Σ(x − x̄)²/(n − 1), in two passes corrected for the rounding of the mean.
 *
 * Domain: at least two finite values. Errors: `TOO_FEW_VALUES`, `NOT_FINITE`. Source: T. F. Chan, G. H. Golub and R. J. LeVeque,
 * Amer. Statist. 37 (1983) 242-247, eq. 1.7 (from memory).
 *
 * @example
 * variance([1, 2, 6]) // => 7
 */
export function variance(values: ArrayLike<number>): number {
  requireValues(values, 2);
  const centre = meanUnchecked(values);
  const deviations = Float64Array.from({ length: values.length }, (_, i) => values[i]! - centre);
  const rest = compensatedSum(deviations);
  return (compensatedSum(deviations.map((d) => d * d)) - (rest * rest) / values.length) / (values.length - 1);
}

/**
 * Sample standard deviation, the root of {@link variance}.
 *
 * @example
 * standardDeviation([2, 4, 4, 4, 5, 5, 7, 9]) // => 2.138089935299395
 */
export function standardDeviation(values: ArrayLike<number>): number {
  return Math.sqrt(variance(values));
}

/**
 * Quantile of a sample, definition 7 of Hyndman and Fan: linear between the order statistics at h = (n − 1)p + 1 (the default of R, NumPy
 * and spreadsheets). Sorts a copy.
 *
 * Domain: at least one finite value, 0 ≤ p ≤ 1. Errors: `TOO_FEW_VALUES`, `NOT_FINITE`, `NOT_A_PROBABILITY`. Source: R. J. Hyndman and
 * Y. Fan, Amer. Statist. 50 (1996) 361-365 (from memory).
 *
 * @example
 * quantile([1, 2, 3, 4], 0.25) // => 1.75
 */
export function quantile(values: ArrayLike<number>, p: number): number {
  requireValues(values, 1);
  return quantileOfSorted(Float64Array.from(values).sort(), p);
}

/** {@link quantile} of values that are sorted already, smallest first. Errors: `NOT_A_PROBABILITY`. */
export function quantileOfSorted(sorted: ArrayLike<number>, p: number): number {
  requireProbability('p', p);
  const h = (sorted.length - 1) * p;
  const below = Math.floor(h);
  const low = sorted[below]!;
  const high = sorted[Math.min(below + 1, sorted.length - 1)]!;
  return low + (h - below) * (high - low);
}

/**
 * Median: the middle value, or the mean of the middle two.
 *
 * @example
 * median([5, 1, 3, 2]) // => 2.5
 */
export function median(values: ArrayLike<number>): number {
  return quantile(values, 0.5);
}

function requireValues(values: ArrayLike<number>, least: number): void {
  if (values.length < least) {
    throw new InputError('TOO_FEW_VALUES', 'values', `expected at least ${least}, got ${values.length}`, 'Add observations.');
  }
  for (let i = 0; i < values.length; i += 1) {
    if (!Number.isFinite(values[i])) {
      throw new InputError('NOT_FINITE', `values[${i}]`, `expected a finite number, got ${String(values[i])}`, 'Enter a number.');
    }
  }
}
