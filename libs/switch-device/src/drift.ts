import { compensatedSum, studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/** A quantity of one unit (pull-in V, ln P_th…) after a number of cycles. */
export interface CycleObservation {
  readonly cycles: number;
  readonly value: number;
}

/** How a quantity moves per decade of cycles, with what can be said of a limit. */
export interface CycleDrift {
  /** Change per factor of ten in cycles, in the unit of the values. */
  readonly perDecade: number;
  readonly standardError: number;
  readonly degreesOfFreedom: number;
  /** Two-sided interval of the change per decade. */
  readonly interval: { readonly low: number; readonly high: number; readonly coverage: number };
  /** Value of the line at one cycle. */
  readonly atFirstCycle: number;
  readonly residualSd: number;
  /** `within`: the whole interval lies inside ±limit. `beyond`: all of it outside. `undecided`: measure more. */
  readonly verdict: 'within' | 'beyond' | 'undecided';
}

/**
 * Drift per decade of cycles: straight line of the value in log₁₀(cycles), and its verdict against a limit.
 *
 * @param observations at least three, at two or more cycle counts, cycles from 1 up
 * @param options limit per decade (same unit as the values, above zero) and coverage of the interval
 * @returns slope with its interval and verdict
 * @throws InputError `TOO_FEW_OBSERVATIONS`, `ONE_CYCLE_COUNT`, `COVERAGE_OUT_OF_RANGE`, `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Source: common practice (charging and wear go with the logarithm of cycles), no source; line and interval are textbook.
 *
 * @example
 * const pullIn = [{ cycles: 1, value: 10 }, { cycles: 10, value: 10.1 }, { cycles: 100, value: 10.3 }];
 * driftPerDecade(pullIn, { limitPerDecade: 0.5, coverage: 0.95 }).perDecade // => 0.15
 */
export function driftPerDecade(
  observations: readonly CycleObservation[], options: { readonly limitPerDecade: number; readonly coverage: number },
): CycleDrift {
  const { limitPerDecade, coverage } = options;
  requirePositive('limitPerDecade', limitPerDecade);
  if (!(coverage > 0 && coverage < 1)) {
    throw new InputError('COVERAGE_OUT_OF_RANGE', 'coverage', `${coverage} is not between 0 and 1`, 'Enter for instance 0.95.');
  }
  const decades = observations.map((o, i) => Math.log10(requirePositive(`observations[${i}].cycles`, o.cycles)));
  observations.forEach((o, i) => requireFinite(`observations[${i}].value`, o.value));
  const n = observations.length;
  if (n < 3) {
    throw new InputError('TOO_FEW_OBSERVATIONS', 'observations', `expected at least 3, got ${n}`, 'Measure after more cycles.');
  }
  const meanDecade = compensatedSum(decades) / n;
  const meanValue = compensatedSum(observations.map((o) => o.value)) / n;
  const spread = compensatedSum(decades.map((d) => (d - meanDecade) ** 2));
  if (spread === 0) {
    throw new InputError('ONE_CYCLE_COUNT', 'observations', 'all were made after the same number of cycles', 'Measure after more cycles.');
  }
  const perDecade = compensatedSum(decades.map((d, i) => (d - meanDecade) * (observations[i]!.value - meanValue))) / spread;
  const atFirstCycle = meanValue - perDecade * meanDecade;
  const residualSum = compensatedSum(decades.map((d, i) => (observations[i]!.value - atFirstCycle - perDecade * d) ** 2));
  const degreesOfFreedom = n - 2;
  const residualSd = Math.sqrt(residualSum / degreesOfFreedom);
  const standardError = residualSd / Math.sqrt(spread);
  const half = studentTQuantile((1 + coverage) / 2, degreesOfFreedom) * standardError;
  const [low, high] = [perDecade - half, perDecade + half];
  const within = low >= -limitPerDecade && high <= limitPerDecade;
  const beyond = low > limitPerDecade || high < -limitPerDecade;
  return {
    perDecade, standardError, degreesOfFreedom, interval: { low, high, coverage }, atFirstCycle, residualSd,
    verdict: within ? 'within' : beyond ? 'beyond' : 'undecided',
  };
}

/**
 * Where burn-in ends: the fewest cycles from which on the drift per decade is shown to stay within its limit.
 *
 * @param observations as for {@link driftPerDecade}; order does not matter
 * @param options limit per decade and coverage
 * @returns the cycle count from which the rest of the series is `within`, with that drift, or null when none is (at least
 *   four observations must remain, so that one lucky triple decides nothing)
 * @throws InputError as {@link driftPerDecade}
 *
 * @example
 * const pullIn = [1, 10, 100, 1e3, 1e4].map((cycles, i) => ({ cycles, value: i === 0 ? 11 : 12 + i * 1e-4 }));
 * burnInEnd(pullIn, { limitPerDecade: 0.01, coverage: 0.95 }).cycles // => 10
 */
export function burnInEnd(
  observations: readonly CycleObservation[], options: { readonly limitPerDecade: number; readonly coverage: number },
): { readonly cycles: number; readonly drift: CycleDrift } | null {
  driftPerDecade(observations, options);
  const ascending = [...observations].sort((a, b) => a.cycles - b.cycles);
  for (const cycles of new Set(ascending.map((o) => o.cycles))) {
    const rest = ascending.filter((o) => o.cycles >= cycles);
    if (rest.length < 4 || rest.at(-1)!.cycles === cycles) return null;
    const drift = driftPerDecade(rest, options);
    if (drift.verdict === 'within') return { cycles, drift };
  }
  return null;
}
