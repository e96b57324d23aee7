import { raise, studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';

/** One field check: where the unit said the leaf stood, and where the discs say it stood. RWC as fractions. */
export interface RealisedTrip {
  readonly predictedRwc: number;
  /** The stated interval for this trip. */
  readonly low: number;
  readonly high: number;
  /** From the discs of the field check. */
  readonly realisedRwc: number;
}

export interface FieldAgreement {
  readonly count: number;
  /** Mean of realised less predicted, fraction of RWC. */
  readonly bias: number;
  /** SD of the differences; null for one check. */
  readonly sd: number | null;
  /** 95 % interval of the mean difference (Student t); null for one check. */
  readonly biasLow: number | null;
  readonly biasHigh: number | null;
  /** Checks whose realised RWC lies in its stated interval. */
  readonly inside: number;
  /** Chance of so few inside, or fewer, if the interval covered as stated. */
  readonly tail: number;
  /**
   * `does not cover`: so few inside that the stated coverage is not believed (tail below 2.5 %); `off`: the mean difference is
   * told from zero and larger than the margin; `too few`: fewer checks than could tell; `holds`: nothing speaks against it.
   */
  readonly verdict: 'holds' | 'off' | 'does not cover' | 'too few';
}

/** With fewer checks even none inside could hardly be told from chance for small misses: 0.05² is below 2.5 %, one is not. */
const LEAST_CHECKS = 3;
const TAIL = 0.025;

/**
 * Holds what certificates stated against what field checks found.
 *
 * @param checks each a trip with the realised RWC of its leaf
 * @param coverage of the stated intervals, between 0 and 1
 * @param marginRwc mean difference that would matter, fraction of RWC
 * @throws InputError `NO_CHECK`, `OUT_OF_RANGE` for coverage or margin, `INTERVAL` for low above high, `NOT_FINITE`
 *
 * Method: mean difference with Student's t; coverage by the binomial tail P(X ≤ inside | n, coverage).
 *
 * @example
 * agreementOfField([{ predictedRwc: 0.8, low: 0.6, high: 1, realisedRwc: 0.78 }], 0.95, 0.05).verdict // => 'too few'
 */
export function agreementOfField(checks: readonly RealisedTrip[], coverage: number, marginRwc: number): FieldAgreement {
  if (checks.length === 0) throw new InputError('NO_CHECK', 'checks', 'has no field check', 'Take discs at a trip and weigh them on the Bench.');
  if (!(coverage > 0 && coverage < 1)) throw new InputError('OUT_OF_RANGE', 'coverage', `is ${coverage}`, 'Give a fraction between 0 and 1: 0.95 for 95 %.');
  if (!(requireFinite('marginRwc', marginRwc) > 0)) throw new InputError('OUT_OF_RANGE', 'marginRwc', `is ${marginRwc}`, 'Give a fraction of RWC above zero: 0.05 for five points.');
  checks.forEach(({ predictedRwc, low, high, realisedRwc }, i) => {
    requireFinite(`checks[${i}].predictedRwc`, predictedRwc);
    requireFinite(`checks[${i}].realisedRwc`, realisedRwc);
    if (!(low <= high)) throw new InputError('INTERVAL', `checks[${i}].low`, `${low} lies above ${high}`, 'Give the lower end first.');
  });
  const count = checks.length;
  const differences = checks.map(({ predictedRwc, realisedRwc }) => realisedRwc - predictedRwc);
  const bias = differences.reduce((sum, value) => sum + value, 0) / count;
  const sd = count < 2 ? null : Math.sqrt(differences.reduce((sum, value) => sum + (value - bias) ** 2, 0) / (count - 1));
  const half = sd === null ? null : (studentTQuantile(0.975, count - 1) * sd) / Math.sqrt(count);
  const inside = checks.filter(({ low, high, realisedRwc }) => realisedRwc >= low && realisedRwc <= high).length;
  const tail = binomialLowerTail(inside, count, coverage);
  const told = half !== null && Math.abs(bias) > half && Math.abs(bias) > marginRwc;
  const verdict = tail < TAIL ? 'does not cover' : count < LEAST_CHECKS ? 'too few' : told ? 'off' : 'holds';
  return { count, bias, sd, biasLow: half === null ? null : bias - half, biasHigh: half === null ? null : bias + half, inside, tail, verdict };
}

/** P(X ≤ k) of a binomial; a plain sum of positive terms serves hundreds of checks. */
function binomialLowerTail(k: number, n: number, p: number): number {
  let term = raise(1 - p, n);
  let tail = 0;
  for (let i = 0; i <= k; i += 1) {
    tail += term;
    term *= ((n - i) / (i + 1)) * (p / (1 - p));
  }
  return Math.min(tail, 1);
}
