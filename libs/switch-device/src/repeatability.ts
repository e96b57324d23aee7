import { chiSquareQuantile, compensatedSum, fSurvival } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';

/** One-way analysis of variance: repeats within units (repeatability) and the units themselves. */
export interface Repeatability {
  readonly units: number;
  readonly observations: number;
  readonly mean: number;
  readonly sumOfSquaresBetween: number;
  readonly sumOfSquaresWithin: number;
  readonly degreesOfFreedomBetween: number;
  readonly degreesOfFreedomWithin: number;
  /** Ratio of mean squares; Infinity when repeats do not differ but units do, null when nothing differs. */
  readonly f: number | null;
  /** Chance of so large an F if the units were alike; null with `f`. */
  readonly pValue: number | null;
  /** √MS_within: SD of one more test of the same unit. */
  readonly repeatabilitySd: number;
  /** Two-sided 95 % limits of the repeatability SD. */
  readonly repeatabilityInterval95: { readonly low: number; readonly high: number };
  /** (MS_between − MS_within)/n₀ as it comes, negative when units differ less than repeats do. */
  readonly betweenUnitVariance: number;
  /** √ of that variance, 0 when it is negative: units then show no difference of their own. */
  readonly betweenUnitSd: number;
  /** Part of the variance that lies between units, 0 to 1; null when nothing differs. */
  readonly intraclassCorrelation: number | null;
}

/**
 * Repeatability and between-unit spread by one-way ANOVA, for equal or unequal numbers of repeats.
 *
 * @param groups repeats by unit, in any unit of measure; at least two units, at least one with a repeat
 * @returns sums of squares, F, repeatability SD with its 95 % limits, between-unit SD (unit of measure of the input)
 * @throws InputError `TOO_FEW_UNITS`, `NO_REPEATS`, `EMPTY_UNIT`, `NOT_FINITE`
 *
 * Formula: n₀ = (N − Σnᵢ²/N)/(k − 1). Source: ISO 5725-2 (from memory); checked against NIST StRD one-way ANOVA.
 * Values are taken about the first one before anything is squared, so a large common offset costs no digits.
 *
 * @example
 * repeatabilityByAnova([[1, 2], [3, 4]]).repeatabilitySd // => Math.SQRT1_2
 */
export function repeatabilityByAnova(groups: readonly (readonly number[])[]): Repeatability {
  requireGroups(groups);
  const origin = groups[0]![0]!;
  const shifted = groups.map((g) => g.map((v) => v - origin));
  const observations = shifted.reduce((n, g) => n + g.length, 0);
  const grand = compensatedSum(shifted.flat()) / observations;
  const means = shifted.map((g) => compensatedSum(g) / g.length);
  const sumOfSquaresBetween = compensatedSum(shifted.map((g, i) => g.length * (means[i]! - grand) ** 2));
  const sumOfSquaresWithin = compensatedSum(shifted.flatMap((g, i) => g.map((v) => (v - means[i]!) ** 2)));
  const degreesOfFreedomBetween = groups.length - 1;
  const degreesOfFreedomWithin = observations - groups.length;
  const msBetween = sumOfSquaresBetween / degreesOfFreedomBetween;
  const msWithin = sumOfSquaresWithin / degreesOfFreedomWithin;
  const alike = sumOfSquaresBetween === 0 && sumOfSquaresWithin === 0;
  const n0 = (observations - compensatedSum(groups.map((g) => g.length ** 2)) / observations) / degreesOfFreedomBetween;
  const betweenUnitVariance = (msBetween - msWithin) / n0;
  const positive = Math.max(betweenUnitVariance, 0);
  const limit = (p: number): number => Math.sqrt(sumOfSquaresWithin / chiSquareQuantile(p, degreesOfFreedomWithin));
  const f = alike ? null : msBetween / msWithin;
  return {
    units: groups.length,
    observations,
    mean: origin + grand,
    sumOfSquaresBetween, sumOfSquaresWithin, degreesOfFreedomBetween, degreesOfFreedomWithin,
    f,
    pValue: f === null ? null : f === Infinity ? 0 : fSurvival(f, degreesOfFreedomBetween, degreesOfFreedomWithin),
    repeatabilitySd: Math.sqrt(msWithin),
    repeatabilityInterval95: { low: limit(0.975), high: limit(0.025) },
    betweenUnitVariance,
    betweenUnitSd: Math.sqrt(positive),
    intraclassCorrelation: alike ? null : positive / (positive + msWithin),
  };
}

function requireGroups(groups: readonly (readonly number[])[]): void {
  if (groups.length < 2) {
    throw new InputError('TOO_FEW_UNITS', 'groups', `expected at least two units, got ${groups.length}`, 'Test more than one unit.');
  }
  groups.forEach((group, i) => {
    if (group.length === 0) throw new InputError('EMPTY_UNIT', `groups[${i}]`, 'has no tests', 'Leave out units that were not tested.');
    group.forEach((value, j) => requireFinite(`groups[${i}][${j}]`, value));
  });
  if (groups.every((group) => group.length === 1)) {
    throw new InputError('NO_REPEATS', 'groups', 'every unit was tested once', 'Repeat the test on some units, or nothing tells repeatability.');
  }
}
