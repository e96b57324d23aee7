import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/** One trial of an up-down series: after a trip the next level is one step lower, after a silence one step higher. */
export interface UpDownTrial {
  readonly level: number;
  readonly tripped: boolean;
}

export interface UpDownEstimate {
  /** Level that trips half of the time; unit of the levels. */
  readonly median: number;
  /** SD of the threshold; null where the series is too short or the step too wide for the approximation to hold. */
  readonly sd: number | null;
  /** (N·B − A²)/N²: the SD formula holds above 0.3. */
  readonly spreadIndex: number;
  /** Which outcome was rarer and so was counted. */
  readonly counted: 'trips' | 'silences';
  readonly n: number;
  readonly a: number;
  readonly b: number;
  /** Step over estimated SD: the method wants 0.5 to 2; null without an SD. */
  readonly stepOverSd: number | null;
}

/**
 * Threshold scatter from an up-down series by Dixon and Mood's sums over the rarer outcome:
 * median = y′ + d·(A/N ∓ ½) (− for trips, + for silences), sd = 1.620·d·((N·B − A²)/N² + 0.029).
 *
 * @param trials in order, each one step `stepSize` from the one before as its outcome asks
 * @param stepSize d, unit of the levels, above zero
 * @returns median, SD (null where the approximation does not hold), and the sums
 * @throws InputError `BROKEN_STAIRCASE` naming the trial that is not one step from the last, `ONE_OUTCOME_ONLY`,
 *   `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Source: Dixon & Mood, J. Amer. Statist. Assoc. 43 (1948) 109 (constants from memory, confirmed by
 * simulation in the tests). Quick and made for paper;
 * `thresholdScatterByProbit` on the same series uses all of it and gives uncertainties: prefer that for a passport.
 *
 * @example
 * const trials = [2, 1, 2, 1].map((level) => ({ level, tripped: level === 2 }));
 * upDownEstimate(trials, 1).median // => 1.5
 */
export function upDownEstimate(trials: readonly UpDownTrial[], stepSize: number): UpDownEstimate {
  requirePositive('stepSize', stepSize);
  requireStaircase(trials, stepSize);
  const trips = trials.filter((t) => t.tripped).length;
  if (trips === 0 || trips === trials.length) {
    throw new InputError('ONE_OUTCOME_ONLY', 'trials', trips === 0 ? 'nothing tripped' : 'everything tripped',
      'Go on stepping until the outcome changes.');
  }
  const counted = trips <= trials.length - trips ? 'trips' : 'silences';
  const levels = trials.filter((t) => t.tripped === (counted === 'trips')).map((t) => t.level);
  const lowest = Math.min(...levels);
  const index = levels.map((level) => Math.round((level - lowest) / stepSize));
  const n = levels.length;
  const a = index.reduce((s, i) => s + i, 0);
  const b = index.reduce((s, i) => s + i * i, 0);
  const spreadIndex = (n * b - a * a) / (n * n);
  const sd = spreadIndex > 0.3 ? 1.62 * stepSize * (spreadIndex + 0.029) : null;
  return {
    median: lowest + stepSize * (a / n + (counted === 'trips' ? -0.5 : 0.5)),
    sd, spreadIndex, counted, n, a, b,
    stepOverSd: sd === null ? null : stepSize / sd,
  };
}

function requireStaircase(trials: readonly UpDownTrial[], stepSize: number): void {
  trials.forEach((trial, i) => {
    requireFinite(`trials[${i}].level`, trial.level);
    const last = trials[i - 1];
    if (last === undefined) return;
    const due = last.level + (last.tripped ? -stepSize : stepSize);
    if (Math.abs(trial.level - due) > 1e-6 * stepSize) {
      throw new InputError('BROKEN_STAIRCASE', `trials[${i}].level`, `is ${trial.level} where ${due} follows from the trial before`,
        'Enter the trials in order, or analyse them by probit, which needs no staircase.');
    }
  });
}
