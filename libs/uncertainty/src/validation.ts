import { numericalTolerance } from './monte-carlo.js';
import type { ExpandedResult } from './budget.js';
import type { CoverageInterval } from './coverage-interval.js';

/** Whether the law of propagation may be used for a measurement, by comparison with Monte Carlo. */
export interface PropagationCheck {
  readonly agrees: boolean;
  readonly tolerance: number;
  readonly lowDifference: number;
  readonly highDifference: number;
}

/**
 * Compares the ends of the interval of the law of propagation with those of a Monte Carlo run: both must agree to δ.
 *
 * The Monte Carlo run should have settled to one digit more, or to a fifth of δ. Errors: `NO_UNCERTAINTY`. Source: JCGM 101:2008, 8.1.
 *
 * @example
 * const expanded = expand({ value: 0, standardUncertainty: 1, degreesOfFreedom: Infinity }, 0.95);
 * checkPropagation(expanded, { low: -1.97, high: 1.95, level: 0.95, kind: 'shortest' }, 2).agrees // => true
 */
export function checkPropagation(expanded: ExpandedResult, interval: CoverageInterval, digits: 1 | 2): PropagationCheck {
  const tolerance = numericalTolerance(expanded.standardUncertainty, digits);
  const lowDifference = Math.abs(expanded.low - interval.low);
  const highDifference = Math.abs(expanded.high - interval.high);
  return { agrees: lowDifference <= tolerance && highDifference <= tolerance, tolerance, lowDifference, highDifference };
}
