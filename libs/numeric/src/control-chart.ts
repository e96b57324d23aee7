import { InputError, requireFinite } from '#libs/quantity';
import { compensatedSum } from './summation.js';

/** Expected range of two normal values in standard deviations, 2/√π. */
const D2 = 2 / Math.sqrt(Math.PI);

export interface ControlLimits {
  readonly centre: number;
  readonly low: number;
  readonly high: number;
  /** Mean absolute difference of neighbours. */
  readonly meanMovingRange: number;
  /** Positions of the values outside the limits. */
  readonly outside: readonly number[];
}

/**
 * Limits for single values (one a unit of a lot, one a check of an instrument, in the order made): mean ± 3·MR/d₂, the spread told from neighbours, so that a
 * slow drift does not widen the limits that should show it.
 *
 * @param values at least three, any unit
 * @returns centre, limits and which values lie outside
 * @throws InputError `TOO_FEW_VALUES`, `NOT_FINITE`
 *
 * Source: Shewhart chart of individuals and moving range, d₂ = 1.128 for two (ISO 7870-2, from memory); checked against the
 * worked example of the NIST/SEMATECH e-Handbook, 6.3.2.2.
 *
 * @example
 * controlLimits([10, 11, 10, 11]).centre // => 10.5
 */
export function controlLimits(values: readonly number[]): ControlLimits {
  values.forEach((value, i) => requireFinite(`values[${i}]`, value));
  if (values.length < 3) {
    throw new InputError('TOO_FEW_VALUES', 'values', `expected at least 3, got ${values.length}`, 'Give more values: two neighbours tell one difference only.');
  }
  const centre = compensatedSum(values) / values.length;
  const meanMovingRange = compensatedSum(values.slice(1).map((value, i) => Math.abs(value - values[i]!))) / (values.length - 1);
  const half = (3 * meanMovingRange) / D2;
  const [low, high] = [centre - half, centre + half];
  return { centre, low, high, meanMovingRange, outside: values.flatMap((value, i) => (value < low || value > high ? [i] : [])) };
}
