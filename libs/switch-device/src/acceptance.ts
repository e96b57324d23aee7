import { regularizedBeta, requireCount } from '#libs/numeric';
import { InputError } from '#libs/quantity';

function requireOpenFraction(field: string, value: number): void {
  if (!(value > 0 && value < 1)) {
    throw new InputError('NOT_BETWEEN_ZERO_AND_ONE', field, `${value} is not between 0 and 1`, 'Enter a fraction: 95 % is 0.95.');
  }
}

/**
 * How many units must pass, with at most `allowedFailures`, to claim a reliability at a confidence:
 * the least n with P(Bin(n, 1 − R) ≤ c) ≤ 1 − C. Without failures n = ⌈ln(1 − C)/ln R⌉.
 *
 * @param plan reliability R and confidence C (fractions), failures allowed c
 * @returns number of units to test
 * @throws InputError `NOT_BETWEEN_ZERO_AND_ONE`, `NOT_A_COUNT`
 *
 * Source: binomial acceptance; 59 for 95/95 and 29 for 90/95 without failures are the usual figures.
 *
 * @example
 * acceptanceSampleSize({ reliability: 0.95, confidence: 0.95, allowedFailures: 0 }) // => 59
 */
export function acceptanceSampleSize(plan: { readonly reliability: number; readonly confidence: number; readonly allowedFailures: number }): number {
  const { reliability, confidence, allowedFailures } = plan;
  requireOpenFraction('reliability', reliability);
  requireOpenFraction('confidence', confidence);
  requireCount('allowedFailures', allowedFailures);
  // P(Bin(n, p) ≤ c) = I_R(n − c, c + 1), falling in n: double until it is small enough, then bisect.
  const tooFew = (n: number): boolean => n <= allowedFailures || regularizedBeta(reliability, n - allowedFailures, allowedFailures + 1) > 1 - confidence;
  let high = allowedFailures + 1;
  while (tooFew(high)) high *= 2;
  let low = allowedFailures;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (tooFew(middle)) low = middle;
    else high = middle;
  }
  return high;
}

/**
 * The reliability a finished test has shown: the one-sided lower confidence limit of Clopper and Pearson.
 *
 * @param result units tested and failed, confidence
 * @returns lower limit of the reliability, fraction; 0 when all failed
 * @throws InputError `MORE_FAILED_THAN_TESTED`, `NOT_A_COUNT`, `NOT_BETWEEN_ZERO_AND_ONE`
 *
 * @example
 * shownReliability({ tested: 59, failed: 0, confidence: 0.95 }).toFixed(4) // => '0.9505'
 */
export function shownReliability(result: { readonly tested: number; readonly failed: number; readonly confidence: number }): number {
  const { tested, failed, confidence } = result;
  requireCount('tested', tested, 1);
  requireCount('failed', failed);
  requireOpenFraction('confidence', confidence);
  if (failed > tested) {
    throw new InputError('MORE_FAILED_THAN_TESTED', 'failed', `${failed} of ${tested} cannot have failed`, 'Check the counts.');
  }
  if (failed === tested) return 0;
  let low = 0;
  let high = 1;
  for (let step = 0; step < 60; step += 1) {
    const middle = (low + high) / 2;
    if (regularizedBeta(middle, tested - failed, failed + 1) > 1 - confidence) high = middle;
    else low = middle;
  }
  return (low + high) / 2;
}
