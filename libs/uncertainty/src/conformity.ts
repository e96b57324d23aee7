import { increasingRoot, integrate, normalCdf, normalPdf, normalQuantile, normalSurvival, studentTCdf, studentTSurvival } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import type { UncertainValue } from './source.js';

/** Limits of what is permitted; at least one of them, the lower below the upper. */
export interface Limits {
  readonly lower?: number;
  readonly upper?: number;
}

/**
 * Probability that the measured quantity lies within its tolerance limits, given the measurement.
 *
 * What is known after the measurement is taken as normal (Student's t where the degrees of freedom are finite). One minus it is the specific
 * consumer's risk of accepting. Domain: u > 0. Errors: `LIMITS`, `NOT_POSITIVE`, `NOT_FINITE`. Source: JCGM 106:2012, 7.2 to 7.4, 9.3.2.
 *
 * @example
 * conformanceProbability({ value: 10, standardUncertainty: 0.4, degreesOfFreedom: Infinity }, { lower: 9, upper: 11 }) // => 0.987580669348448
 */
export function conformanceProbability(measured: UncertainValue, tolerance: Limits): number {
  const { value, standardUncertainty: u, degreesOfFreedom } = measured;
  requireLimits('tolerance', tolerance);
  requireFinite('value', value);
  requirePositive('standardUncertainty', u);
  const below = (limit: number) => tail((limit - value) / u, degreesOfFreedom, 'lower');
  const above = (limit: number) => tail((limit - value) / u, degreesOfFreedom, 'upper');
  const { lower, upper } = tolerance;
  if (lower === undefined) return below(upper!);
  if (upper === undefined) return above(lower);
  // From the side where the difference of two tails loses nothing.
  return value > (lower + upper) / 2 ? below(upper) - below(lower) : above(lower) - above(upper);
}

function tail(z: number, degreesOfFreedom: number, side: 'lower' | 'upper'): number {
  if (degreesOfFreedom === Infinity) return side === 'lower' ? normalCdf(z) : normalSurvival(z);
  return side === 'lower' ? studentTCdf(z, degreesOfFreedom) : studentTSurvival(z, degreesOfFreedom);
}

/**
 * Acceptance limits inside the tolerance limits by a guard band of width w = r·U: accept only beyond doubt (r = 1 is common; r = 0 is shared risk,
 * r < 0 accepts until proven bad).
 *
 * Domain: U > 0. Errors: `LIMITS`, `NOT_POSITIVE`, `NOT_FINITE`, `NO_ROOM` where the guard bands leave nothing between them. Source: JCGM 106:2012, 8.3.2 and 8.3.3.
 *
 * @example
 * acceptanceLimits({ lower: 9, upper: 11 }, 0.2, 1) // => { lower: 9.2, upper: 10.8 }
 */
export function acceptanceLimits(tolerance: Limits, expandedUncertainty: number, multiple: number): Limits {
  requireLimits('tolerance', tolerance);
  const width = requirePositive('expandedUncertainty', expandedUncertainty) * requireFinite('multiple', multiple);
  return guarded(tolerance, width);
}

/**
 * Acceptance limits for a greatest specific consumer's risk: at them the conformance probability is 1 − risk.
 *
 * One limit: width z·u. Two limits: the same width on both sides, found so that both tails together give the risk. Domain: 0 < risk < 0.5; u > 0. Errors:
 * `RISK`, `LIMITS`, `NOT_POSITIVE`, `NO_ROOM` where even the middle of the tolerance is too uncertain. Source: JCGM 106:2012, 8.3.2.2, and 9.3.2 for two limits.
 *
 * @example
 * acceptanceLimitsForRisk({ upper: 100 }, 2, 0.05).upper // => 96.71029274609706
 */
export function acceptanceLimitsForRisk(tolerance: Limits, standardUncertainty: number, risk: number): Limits {
  requireLimits('tolerance', tolerance);
  const u = requirePositive('standardUncertainty', standardUncertainty);
  if (!(risk > 0 && risk < 0.5)) throw new InputError('RISK', 'risk', `expected a risk between 0 and 0.5, got ${String(risk)}`, 'Give a fraction such as 0.05.');
  const { lower, upper } = tolerance;
  const oneSided = -normalQuantile(risk) * u;
  if (lower === undefined || upper === undefined) return guarded(tolerance, oneSided);
  const conforming = (width: number) =>
    conformanceProbability({ value: upper - width, standardUncertainty: u, degreesOfFreedom: Infinity }, tolerance) - (1 - risk);
  const widest = (upper - lower) / 2;
  if (conforming(widest) <= 0) throw noRoom(widest);
  return guarded(tolerance, increasingRoot((width) => ({ value: conforming(width) }), 0, widest, oneSided));
}

function guarded({ lower, upper }: Limits, width: number): Limits {
  if (lower !== undefined && upper !== undefined && lower + width >= upper - width) throw noRoom(width);
  return {
    ...(lower === undefined ? {} : { lower: lower + width }),
    ...(upper === undefined ? {} : { upper: upper - width }),
  };
}

function noRoom(width: number): InputError {
  return new InputError('NO_ROOM', 'tolerance', `a guard band of ${width} on both sides leaves nothing to accept`, 'Measure with a smaller uncertainty.');
}

/** What follows from a measurement by a decision rule with guard bands. */
export type ConformityDecision = 'pass' | 'conditional pass' | 'conditional fail' | 'fail';

/** A decision with its risk. */
export interface ConformityStatement {
  readonly decision: ConformityDecision;
  readonly conformanceProbability: number;
  /** The chance that the decision is wrong for this very item. */
  readonly risk: number;
}

/**
 * Decision by a rule with four outcomes: within the acceptance limits pass; within the tolerance but in a guard band conditional pass; outside by less
 * than the guard band conditional fail; further out fail.
 *
 * `guardBand` is the width w ≥ 0 on each side. Errors: as {@link conformanceProbability}, `GUARD_BAND`. Source: ILAC-G8:09/2019, 4.2.3 (from memory); JCGM 106:2012, 8.3.
 *
 * @example
 * decideConformity({ value: 10.9, standardUncertainty: 0.1, degreesOfFreedom: Infinity }, { lower: 9, upper: 11 }, 0.2).decision // => 'conditional pass'
 */
export function decideConformity(measured: UncertainValue, tolerance: Limits, guardBand: number): ConformityStatement {
  if (!(guardBand >= 0)) throw new InputError('GUARD_BAND', 'guardBand', `expected a width of zero or more, got ${String(guardBand)}`, 'Give r times U.');
  const probability = conformanceProbability(measured, tolerance);
  const { lower = -Infinity, upper = Infinity } = tolerance;
  // How far inside the nearest limit the value lies; below zero outside.
  const margin = Math.min(measured.value - lower, upper - measured.value);
  const passes = margin >= 0;
  const decision = passes ? (margin >= guardBand ? 'pass' : 'conditional pass') : -margin >= guardBand ? 'fail' : 'conditional fail';
  return { decision, conformanceProbability: probability, risk: passes ? 1 - probability : probability };
}

/** What is known of the items before they are measured, and how they are measured and judged. */
export interface InspectionPlan {
  /** Mean and standard deviation of the items' true values. */
  readonly population: { readonly mean: number; readonly standardDeviation: number };
  /** Standard uncertainty of each measurement. */
  readonly standardUncertainty: number;
  readonly tolerance: Limits;
  readonly acceptance: Limits;
}

/** Average risks over all items of a plan. */
export interface InspectionRisks {
  /** Share of all items that are bad and accepted. */
  readonly consumerRisk: number;
  /** Share of all items that are good and rejected. */
  readonly producerRisk: number;
  /** Share of the accepted items that are bad. */
  readonly badAmongAccepted: number;
  /** Share of all items that are accepted. */
  readonly accepted: number;
}

/**
 * Global consumer's and producer's risk for a normal population and normal measurement errors, by quadrature over the true value.
 *
 * Domain: both standard deviations > 0. Errors: `LIMITS`, `NOT_POSITIVE`, `NOT_FINITE`. Source: JCGM 106:2012, 9.5.2 and 9.5.3.
 *
 * @example
 * const plan = { population: { mean: 0, standardDeviation: 0.5 }, standardUncertainty: 0.125, tolerance: { lower: -1, upper: 1 }, acceptance: { lower: -1, upper: 1 } };
 * Number(inspectionRisks(plan).consumerRisk.toFixed(8)) // => 0.00800608
 */
export function inspectionRisks(plan: InspectionPlan): InspectionRisks {
  const { population, standardUncertainty, tolerance, acceptance } = plan;
  requireLimits('tolerance', tolerance);
  requireLimits('acceptance', acceptance);
  requireFinite('population.mean', population.mean);
  const spread = requirePositive('population.standardDeviation', population.standardDeviation);
  requirePositive('standardUncertainty', standardUncertainty);
  const acceptProbability = (trueValue: number) =>
    conformanceProbability({ value: trueValue, standardUncertainty, degreesOfFreedom: Infinity }, acceptance);
  const share = (from: number, to: number, probability: (trueValue: number) => number) => {
    // Beyond 38 standard deviations the population has no double-precision weight; kinks of neither factor lie inside a piece.
    const start = Math.max(from, population.mean - 38 * spread);
    const end = Math.min(to, population.mean + 38 * spread);
    if (!(start < end)) return 0;
    const cuts = [start, ...[-6, -3, 0, 3, 6].map((k) => population.mean + k * spread).filter((c) => c > start && c < end), end];
    const density = (x: number) => (normalPdf((x - population.mean) / spread) / spread) * probability(x);
    return cuts.slice(1).reduce((sum, cut, i) => sum + integrate(density, cuts[i]!, cut), 0);
  };
  const { lower = -Infinity, upper = Infinity } = tolerance;
  const consumerRisk = share(-Infinity, lower, acceptProbability) + share(upper, Infinity, acceptProbability);
  const goodAccepted = share(lower, upper, acceptProbability);
  const producerRisk = share(lower, upper, (x) => 1 - acceptProbability(x));
  const accepted = consumerRisk + goodAccepted;
  return { consumerRisk, producerRisk, badAmongAccepted: accepted > 0 ? consumerRisk / accepted : NaN, accepted };
}

function requireLimits(field: string, { lower, upper }: Limits): void {
  if (lower === undefined && upper === undefined) throw new InputError('LIMITS', field, 'neither limit is given', 'Give a lower limit, an upper limit or both.');
  if (lower !== undefined) requireFinite(`${field}.lower`, lower);
  if (upper !== undefined) requireFinite(`${field}.upper`, upper);
  if (lower !== undefined && upper !== undefined && lower >= upper) {
    throw new InputError('LIMITS', field, `the lower limit ${lower} is not below the upper ${upper}`, 'Swap the limits.');
  }
}
