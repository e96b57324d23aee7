import { controlLimits } from '#libs/numeric';
import type { InstrumentPageQuery } from '../../../generated/graphql.js';

type Check = NonNullable<InstrumentPageQuery['instrument']>['checks'][number];

/** Fewer checks tell of no habit yet; the chart of individuals is used from about this many on (common practice, no source). */
const LEAST = 8;

export interface Control {
  readonly centre: number;
  readonly low: number;
  readonly high: number;
  readonly newestOutside: boolean;
}

/** Limits of the deviations by all checks before the newest: a check must not widen the limits that judge it. Null while there are too few. */
export function controlOf(newestFirst: readonly Check[]): Control | null {
  const deviations = [...newestFirst].reverse().map(({ shown, nominal }) => Number(shown) - Number(nominal));
  const newest = deviations.at(-1);
  if (deviations.length <= LEAST || newest === undefined) return null;
  const { centre, low, high } = controlLimits(deviations.slice(0, -1));
  return { centre, low, high, newestOutside: newest < low || newest > high };
}
