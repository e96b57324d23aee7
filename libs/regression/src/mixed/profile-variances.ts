import { chiSquareQuantile, increasingRoot } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import { createCriterion, foldInwards, foldOutwards, setFactors, type Criterion } from './criterion.js';
import { reduceModel, type MixedDesign } from './design.js';
import { minimise, type Minimum } from './minimise.js';
import type { MixedModelInput } from './model.js';
import { factorGradient, residualDegrees, searchFactors } from './search.js';
import { requireFraction } from './tolerance-factor.js';

/** A standard deviation with its profile-likelihood interval, in the unit of the response (per unit of the term). */
export interface ProfiledSd {
  /** The level, or `residual`. */
  readonly level: string;
  /** The random term; undefined for the residual. */
  readonly term?: string;
  readonly sd: number;
  /** Exactly 0 where the likelihood does not rule out zero. */
  readonly lower: number;
  readonly upper: number;
}

/**
 * Profile-likelihood intervals of every standard deviation of a mixed model.
 *
 * The interval holds every value s for which the least deviance with the standard deviation held at s exceeds the least of all by no more
 * than the quantile of chi-squared with one degree of freedom. The deviance is the model's own: restricted for REML, full for ML.
 * Profile intervals follow the skewness of a variance, as estimate ± t·error does not. Units: the response's.
 * Domain and errors: as `fitMixedModel`, and `NOT_A_FRACTION`, `PROFILE_OPEN`.
 * Source: Bates et al., J. Stat. Softw. 67 (2015) 1, section 5; checked against lme4 (ML).
 *
 * @example
 * const [rail] = profileVariances({
 *   response: [55, 53, 54, 26, 37, 32, 78, 91, 85, 92, 100, 96, 49, 51, 50, 80, 85, 83],
 *   fixed: [interceptTerm(18)],
 *   levels: [{ name: 'rail', groups: [...'111222333444555666'], terms: [interceptTerm(18)], covariance: 'full' }],
 *   method: 'REML',
 * });
 * [rail.lower, rail.sd, rail.upper].map((sd) => sd.toFixed(1)) // => ['14.7', '24.8', '54.2']
 */
export function profileVariances(input: MixedModelInput, level = 0.95): ProfiledSd[] {
  requireFraction('level', level);
  const rise = chiSquareQuantile(level, 1);
  const results: ProfiledSd[] = [];
  input.levels.forEach((group, l) => {
    group.terms.forEach((term, t) => {
      // The standard deviation of the first term is a single element of the factor: each term takes its turn in front.
      const terms = [term, ...group.terms.filter((_, i) => i !== t)];
      const model = { ...input, levels: input.levels.map((other, i) => (i === l ? { ...other, terms } : other)) };
      const design = reduceModel(model);
      const inner = input.levels.length - 1 - l;
      const coordinate = design.entries.findIndex((entry) => entry.level === inner && entry.row === 0 && entry.column === 0);
      const profile = startProfile(design);
      const scale = design.levels[inner]!.scales[0]!;
      const sd = Math.abs(profile.best.point[coordinate]!);
      const bounds = boundsOf(profile, coordinate, sd, rise, `${group.name}.${term.name}`);
      results.push({ level: group.name, term: term.name, sd: sd / scale, lower: bounds.lower / scale, upper: bounds.upper / scale });
    });
  });
  const profile = startProfile(reduceModel(input));
  const logSd = profile.best.point[profile.best.point.length - 1]!;
  const [below, above] = [-1, 1].map((direction) => residualBound(profile, logSd, direction, rise));
  results.push({ level: 'residual', sd: Math.exp(logSd), lower: Math.exp(below!), upper: Math.exp(above!) });
  return results;
}

interface Profile {
  readonly design: MixedDesign;
  readonly objective: (point: Float64Array, gradient: Float64Array) => number;
  /** Over (σΛ, ln σ), so that a standard deviation is one coordinate. */
  readonly best: Minimum;
}

function startProfile(design: MixedDesign): Profile {
  const { criterion, minimum, atZero } = searchFactors(design);
  const sigma = Math.sqrt(criterion.residualSum / residualDegrees(design));
  const objective = absoluteDeviance(createCriterion(design));
  const start = Float64Array.from([...Array.from(minimum.point, (theta) => theta * sigma), Math.log(sigma)]);
  return { design, objective, best: minimise(objective, start, atZero) };
}

/** −2 log-likelihood and its gradient in (T = σΛ, ln σ). */
function absoluteDeviance(criterion: Criterion) {
  const { design } = criterion;
  const df = residualDegrees(design);
  const count = design.entries.length;
  const theta = new Float64Array(count);
  const slope = new Float64Array(count);
  return (point: Float64Array, gradient: Float64Array): number => {
    const sigma = Math.exp(point[count]!);
    for (let k = 0; k < count; k += 1) theta[k] = point[k]! / sigma;
    setFactors(criterion, theta);
    foldOutwards(criterion);
    foldInwards(criterion);
    factorGradient(criterion, 1 / (sigma * sigma), slope);
    const weighted = criterion.residualSum / (sigma * sigma);
    gradient[count] = 2 * df - 2 * weighted;
    for (let k = 0; k < count; k += 1) {
      gradient[k] = slope[k]! / sigma;
      gradient[count]! -= theta[k]! * slope[k]!;
    }
    return criterion.logDeterminants + df * Math.log(2 * Math.PI) + 2 * df * point[count]! + weighted;
  };
}

function boundsOf(profile: Profile, coordinate: number, sd: number, rise: number, field: string): { lower: number; upper: number } {
  const { best } = profile;
  const excess = (from: Float64Array, s: number) => {
    const held = hold(profile, from, coordinate, s);
    const gain = Math.max(held.value - best.value, 0);
    const root = Math.sqrt(gain);
    return { value: root - Math.sqrt(rise), slope: gain > 0 ? held.gradient[coordinate]! / (2 * root) : undefined, point: held.point };
  };
  let inside = best.point;
  let low = sd;
  let high = sd > 0 ? 1.5 * sd : Math.exp(best.point[best.point.length - 1]!) / 4;
  for (let step = 0; ; step += 1) {
    const at = excess(inside, high);
    if (at.value >= 0) break;
    if (step > 60) {
      throw new InputError('PROFILE_OPEN', field, 'the likelihood never rules out a large value', 'Measure more groups.');
    }
    inside = at.point;
    low = high;
    high *= 1.6;
  }
  const upper = increasingRoot((s) => excess(inside, s), low, high, (low + high) / 2);
  if (sd === 0 || excess(best.point, 0).value <= 0) return { lower: 0, upper };
  const mirrored = (minus: number) => {
    const { value, slope } = excess(best.point, -minus);
    return { value, slope: slope === undefined ? undefined : -slope };
  };
  return { lower: -increasingRoot(mirrored, -sd, 0, -sd / 2), upper };
}

/** The least deviance with one element of T held at s. */
function hold({ design, objective, best }: Profile, from: Float64Array, coordinate: number, s: number): Minimum {
  const start = Float64Array.from(from);
  start[coordinate] = s;
  const fixed = new Array<boolean>(best.point.length).fill(false);
  fixed[coordinate] = true;
  if (s === 0) {
    // Without the first term's variance its column is empty: what it gave the others moves to their own.
    const { level } = design.entries[coordinate]!;
    design.entries.forEach((entry, k) => {
      if (entry.level !== level || entry.column !== 0 || entry.row === 0) return;
      const own = design.entries.findIndex((other) => other.level === level && other.row === entry.row && other.column === entry.row);
      start[own] = Math.hypot(start[own]!, start[k]!);
      start[k] = 0;
      fixed[k] = true;
    });
  }
  return minimise(objective, start, fixed);
}

function residualBound({ objective, best }: Profile, logSd: number, direction: number, rise: number): number {
  const last = best.point.length - 1;
  const fixed = Array.from(best.point, (_, k) => k === last);
  const excess = (distance: number) => {
    const start = Float64Array.from(best.point);
    start[last] = logSd + direction * distance;
    const held = minimise(objective, start, fixed);
    const root = Math.sqrt(Math.max(held.value - best.value, 0));
    return { value: root - Math.sqrt(rise), slope: root > 0 ? (direction * held.gradient[last]!) / (2 * root) : undefined };
  };
  let high = 0.2;
  while (excess(high).value < 0) high *= 1.6;
  return logSd + direction * increasingRoot(excess, 0, high, high / 2);
}
