import { requireCount } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import { requireLevel } from './source.js';

/** An interval that holds a stated share of a distribution. */
export interface CoverageInterval {
  readonly low: number;
  readonly high: number;
  readonly level: number;
  readonly kind: 'symmetric' | 'shortest';
}

/**
 * The probabilistically symmetric coverage interval of a sorted sample: equal shares below and above.
 *
 * With M values and q = round(pM) it runs from the r-th to the (r+q)-th, r = round((M − q)/2). Shapes: `sorted` smallest first. Domain: 0 < level < 1, M
 * large enough that q < M. Errors: `LEVEL`, `TOO_FEW_DRAWS`. Source: JCGM 101:2008, 7.7.2.
 *
 * @example
 * symmetricInterval([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], 0.8).low // => 1
 */
export function symmetricInterval(sorted: ArrayLike<number>, level: number): CoverageInterval {
  const q = stepsWithin(sorted.length, level);
  const r = Math.floor((sorted.length - q + 1) / 2);
  return { low: sorted[r - 1]!, high: sorted[r + q - 1]!, level, kind: 'symmetric' };
}

/**
 * The shortest coverage interval of a sorted sample; the lowest one where several are equally short.
 *
 * Shapes, domain and errors as {@link symmetricInterval}. Source: JCGM 101:2008, 7.7.3.
 *
 * @example
 * shortestInterval([0, 1, 2, 3, 4, 5, 9, 20, 50, 99], 0.5).high // => 5
 */
export function shortestInterval(sorted: ArrayLike<number>, level: number): CoverageInterval {
  const q = stepsWithin(sorted.length, level);
  let at = 0;
  for (let r = 1; r + q < sorted.length; r += 1) {
    if (sorted[r + q]! - sorted[r]! < sorted[at + q]! - sorted[at]!) at = r;
  }
  return { low: sorted[at]!, high: sorted[at + q]!, level, kind: 'shortest' };
}

/** q = pM where that is whole, otherwise the whole part of pM + ½ (JCGM 101:2008, 7.7.2). */
function stepsWithin(count: number, level: number): number {
  requireLevel(level);
  requireCount('sorted.length', count, 1);
  const q = Math.floor(level * count + 0.5);
  if (q >= count) {
    throw new InputError('TOO_FEW_DRAWS', 'sorted', `${count} values cannot show a level of ${level}`, `Take more than ${Math.ceil(1 / (1 - level))} draws.`);
  }
  return q;
}
