import { fiellerSet, type AcceptedSet } from '../inverse/accepted-set.js';
import { familyOf, fixedSlopeAt, responseAt, responseSlopeAt, rwcAtResponse, straightOf, type LeafFit } from './leaf-fit.js';
import { completed, sentenceFor, spreadAt, type CompleteOptions, type LeafIntervalName, type LeafIntervalOptions } from './leaf-intervals.js';
import { responseOf } from './leaf-line.js';
import { quadraticForm } from './satterthwaite.js';

/** One interval of the water content at a transmittance. */
export interface InvertedInterval {
  readonly name: LeafIntervalName;
  /**
   * The water contents not ruled out, as a fraction; unbounded or disjoint where the slope is too uncertain. `none` where a curve does not
   * come near the transmittance at any RWC.
   */
  readonly accepted: AcceptedSet | { readonly kind: 'none' };
  /** Half the width in points of RWC; null where the set has no two ends. */
  readonly halfWidthPoints: number | null;
  /** Fieller's g of this interval, of a curve by its slope at the estimate: from 1 on a line's has no two ends. */
  readonly g: number;
  readonly factor: number;
  readonly degreesOfFreedom: number;
  readonly sentence: string;
}

/** The three intervals of the water content at one transmittance. */
export interface RwcAtTransmittance {
  readonly transmittance: number;
  /** Where the mean takes this transmittance; null where a curve never does. */
  readonly rwc: number | null;
  readonly extrapolated: boolean;
  readonly confidence: InvertedInterval;
  readonly prediction: InvertedInterval;
  readonly tolerance: InvertedInterval;
}

/**
 * Water content at a transmittance, with the same three intervals turned round: each holds every RWC whose own interval holds the
 * transmittance (Fieller's argument), so nothing is linearised.
 *
 * Shapes, options and sources as {@link intervalsAtRwc}. Where the slope is too uncertain the set is unbounded or disjoint and is
 * returned as that. Errors: `NOT_POSITIVE` (logarithmic scale), `NOT_FINITE`, `NOT_A_FRACTION`, `NOT_A_COUNT`.
 *
 * @example
 * const readings = ['a', 'b', 'c', 'd'].flatMap((leafId, i) => [1, 0.8, 0.6].map((rwc, k) =>
 *   ({ leafId, rwc, transmittance: Math.exp(-0.9 - rwc + 0.05 * (i % 3) + 0.01 * ((i + k) % 2)) })));
 * const line = fitLeafLine(readings, { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' });
 * const { rwc, prediction } = rwcAtTransmittance(line, 0.2);
 * [rwc.toFixed(3), prediction.accepted.kind, prediction.accepted.lower.toFixed(2), prediction.accepted.upper.toFixed(2)] // => ['0.752', 'interval', '0.58', '0.92']
 */
export function rwcAtTransmittance(line: LeafFit, transmittance: number, options: LeafIntervalOptions = {}): RwcAtTransmittance {
  const confidence = invertedLeafInterval(line, 'confidence', transmittance, options);
  const rwc = rwcAtResponse(line, responseOf(line.options.responseScale, transmittance));
  return {
    transmittance,
    rwc,
    extrapolated: rwc === null || rwc < line.rwcRange.from || rwc > line.rwcRange.to,
    confidence,
    prediction: invertedLeafInterval(line, 'prediction', transmittance, options),
    tolerance: invertedLeafInterval(line, 'tolerance', transmittance, options),
  };
}

/** One of the three intervals of {@link rwcAtTransmittance} alone. Options and errors as there. */
export function invertedLeafInterval(line: LeafFit, name: LeafIntervalName, transmittance: number, options: LeafIntervalOptions = {}): InvertedInterval {
  const complete = completed(options);
  const response = responseOf(line.options.responseScale, transmittance);
  return straightOf(line) ? invert(line, response, rwcAtResponse(line, response)!, name, complete) : invertCurve(line, response, name, complete);
}

function invert(line: LeafFit, response: number, estimate: number, name: LeafIntervalName, options: CompleteOptions): InvertedInterval {
  const start = spreadAt(line, estimate, name, options);
  const { g, set } = setWith(line, response, name, start.factor, options);
  const byFormula = set.kind === 'interval' ? refine(line, response, name, options, set) : null;
  const accepted = openEnds(byFormula ?? soughtOutwards(line, response, estimate, name, options), name, options);
  return {
    name,
    accepted,
    halfWidthPoints: accepted.kind === 'interval' ? 50 * (accepted.upper - accepted.lower) : null,
    g,
    factor: start.factor,
    degreesOfFreedom: start.degreesOfFreedom,
    sentence:
      accepted.kind === 'interval' || (options.toleranceSides !== 'both' && name === 'tolerance' && accepted.kind !== 'whole-line')
        ? sentenceFor(name, options, 'rwc')
        : 'The slope is too uncertain for this interval to have two ends: measure more leaves over a wider range of RWC.',
  };
}

/** Fieller's set at one factor; the variance inside it is a quadratic in the predictor for all three intervals. */
function setWith(line: LeafFit, response: number, name: LeafIntervalName, factor: number, options: CompleteOptions): { g: number; set: AcceptedSet } {
  const covariance = [
    [0, 0],
    [0, 0],
  ];
  const add = (matrix: readonly (readonly number[])[]) => matrix.slice(0, 2).forEach((row, i) => row.slice(0, 2).forEach((value, j) => (covariance[i]![j]! += value)));
  const noSpread = name === 'tolerance' && options.readingsPerNewLeaf === Infinity && line.fit.levels.every((level) => level.sd.every((sd) => sd === 0));
  if (name !== 'tolerance' || noSpread) add(line.fit.fixedCovariance);
  if (name !== 'confidence') line.fit.levels.forEach((level) => add(level.covariance));
  const responseVariance = name === 'confidence' ? 0 : line.fit.residualSd ** 2 / options.readingsPerNewLeaf;
  const { intercept, slope, rwcAt } = straightOf(line)!;
  const { g, set } = fiellerSet({ intercept, slope, covariance, response, responseVariance, quantile: factor });
  const moved = { ...set, ...('lower' in set ? { lower: rwcAt(set.lower) } : {}), ...('upper' in set ? { upper: rwcAt(set.upper) } : {}) };
  return { g, set: moved as AcceptedSet };
}

const MOST_ROUNDS = 50;

/** The factor depends on where the end is, through its degrees of freedom: repeats Fieller's set at each end until it stands still; null where it does not. */
function refine(line: LeafFit, response: number, name: LeafIntervalName, options: CompleteOptions, set: AcceptedSet & { kind: 'interval' }): AcceptedSet | null {
  const settle = (end: 'lower' | 'upper'): number | null => {
    let at = set[end];
    for (let round = 0; round < MOST_ROUNDS; round += 1) {
      const next = setWith(line, response, name, spreadAt(line, at, name, options).factor, options).set;
      if (next.kind !== 'interval') return null;
      if (Math.abs(next[end] - at) < 1e-10) return next[end];
      at = next[end];
    }
    return null;
  };
  const lower = settle('lower');
  const upper = lower === null ? null : settle('upper');
  return lower === null || upper === null ? null : { kind: 'interval', lower, upper };
}

/** In ranges of the fitted RWC: an end further out than this is none, and steps begin this fine. */
const FARTHEST = 1000;
const FINEST = 1 / 64;

/**
 * The set by its definition, for lines whose slope is so uncertain that the factor is not nearly one number along them: looked at on
 * steps that widen outwards from the estimate and from the fitted range. Where it falls into more pieces than the kinds of
 * {@link AcceptedSet} can tell, the narrowest that holds them all.
 */
function soughtOutwards(line: LeafFit, response: number, estimate: number, name: LeafIntervalName, options: CompleteOptions): AcceptedSet {
  const { from, to } = line.rwcRange;
  const excess = excessOf(line, response, name, options);
  const steps: number[] = [];
  for (let step = FINEST * (to - from); step < FARTHEST * (to - from); step *= 1.6) steps.push(step);
  const inDomain = (rwc: number): boolean => rwc > 0 || familyOf(line) !== 'power';
  const places = [estimate, (from + to) / 2].flatMap((centre) => [centre, ...steps.map((step) => centre + step), ...steps.map((step) => centre - step)]).filter(inDomain).sort((a, b) => a - b);
  const values = places.map(excess);
  const out = values.map((value) => value > 0);
  const edges = places.slice(1).flatMap((place, i) => (out[i] === out[i + 1] ? [] : [edgeBetween(excess, [places[i]!, values[i]!], [place, values[i + 1]!])]));
  const [openBelow, openAbove] = [!out[0]!, !out.at(-1)!];
  if (edges.length === 0) return { kind: 'whole-line' };
  if (openBelow && openAbove) return { kind: 'two-rays', ...widestGap(edges) };
  if (openAbove) return { kind: 'at-least', lower: edges[0]! };
  if (openBelow) return { kind: 'at-most', upper: edges.at(-1)! };
  return { kind: 'interval', lower: edges[0]!, upper: edges.at(-1)! };
}

/** Above zero where a water content is ruled out; where the curve leaves what can be computed, it is. */
const excessOf = (line: LeafFit, response: number, name: LeafIntervalName, options: CompleteOptions, fixedFactor?: number) => (rwc: number): number => {
  const { factor, variance } = spreadAt(line, rwc, name, options, fixedFactor);
  const excess = Math.abs(response - responseAt(line, rwc)) - factor * Math.sqrt(variance);
  return Number.isNaN(excess) ? Infinity : excess;
};

/** In ranges of the fitted RWC: where a curve's interval has not ended here, it is told as open. */
const FARTHEST_OF_CURVE = 10;
/** Of the fitted range, where a curve that never takes a transmittance may yet come near it. */
const LOOKS = 32;

/**
 * Of a curve that is straight in nothing: the piece around the estimate, by its definition. The band is first order in the parameters, so
 * that what it says far from there, where it may open again, is not told.
 */
function invertCurve(line: LeafFit, response: number, name: LeafIntervalName, options: CompleteOptions): InvertedInterval {
  const { from, to } = line.rwcRange;
  const excess = excessOf(line, response, name, options);
  const looks = Array.from({ length: LOOKS + 1 }, (_, i) => from + ((to - from) * i) / LOOKS);
  const estimate = rwcAtResponse(line, response) ?? looks.reduce((best, rwc) => (excess(rwc) < excess(best) ? rwc : best));
  const { factor, degreesOfFreedom } = spreadAt(line, estimate, name, options);
  const g = (factor ** 2 * quadraticForm(fixedSlopeAt(line, estimate), line.fit.fixedCovariance)) / responseSlopeAt(line, estimate) ** 2;
  const told = { name, g, factor, degreesOfFreedom };
  if (excess(estimate) > 0) return { ...told, accepted: { kind: 'none' }, halfWidthPoints: null, sentence: 'The curve does not come near this transmittance at any RWC it was fitted over.' };
  const [lower, upper] = [-1, 1].map((direction) => settledEnd((held) => endOutwards(held === undefined ? excess : excessOf(line, response, name, options, held), estimate, direction * (to - from)), factor, (rwc) => spreadAt(line, rwc, name, options).factor));
  const accepted = openEnds(lower === null ? (upper === null ? { kind: 'whole-line' } : { kind: 'at-most', upper: upper! }) : upper === null ? { kind: 'at-least', lower: lower! } : { kind: 'interval', lower: lower!, upper: upper! }, name, options);
  return {
    ...told, accepted, halfWidthPoints: accepted.kind === 'interval' ? 50 * (accepted.upper - accepted.lower) : null,
    sentence: accepted.kind === 'interval' || (options.toleranceSides !== 'both' && name === 'tolerance' && accepted.kind !== 'whole-line')
      ? sentenceFor(name, options, 'rwc')
      : 'The curve is too flat there for this interval to have two ends: read RWC where it is steeper, or measure more leaves.',
  };
}

/** The factor costs most of the work and hardly changes along the curve: an end found with it held, then with that of the end, until it stands still. */
function settledEnd(endWith: (held?: number) => number | null, start: number, factorAt: (rwc: number) => number): number | null {
  let factor = start;
  let at = Infinity;
  for (let round = 0; round < MOST_ROUNDS; round += 1) {
    const next = endWith(factor);
    if (next === null || Math.abs(next - at) < 1e-10) return next;
    at = next;
    factor = factorAt(at);
  }
  return endWith();
}

/** Where the interval ends that holds a water content, in steps that widen; null where it does not. */
function endOutwards(excess: (rwc: number) => number, inside: number, range: number): number | null {
  let last: readonly [number, number] = [inside, excess(inside)];
  for (let step = FINEST; step < FARTHEST_OF_CURVE; step *= 1.6) {
    const next = [inside + step * range, excess(inside + step * range)] as const;
    if (next[1] > 0) return edgeBetween(excess, last, next);
    last = next;
  }
  return null;
}

/** Of the gaps between accepted pieces: from the first edge to the second, from the third to the fourth and so on. */
function widestGap(edges: readonly number[]): { readonly lower: number; readonly upper: number } {
  let widest = { lower: edges[0]!, upper: edges[1]! };
  for (let i = 2; i + 1 < edges.length; i += 2) {
    const gap = { lower: edges[i]!, upper: edges[i + 1]! };
    if (gap.upper - gap.lower > widest.upper - widest.lower) widest = gap;
  }
  return widest;
}

/** Zero of `f` between two points with their values, of unlike sign: false position that halves the value of an end that stays (Illinois). */
function edgeBetween(f: (x: number) => number, [a, atA]: readonly [number, number], [b, atB]: readonly [number, number]): number {
  let [stays, atStays, moves, atMoves] = [a, atA, b, atB];
  for (let pass = 0; pass < 100 && Math.abs(moves - stays) > 1e-11 && atMoves !== 0; pass += 1) {
    const next = moves - (atMoves * (moves - stays)) / (atMoves - atStays);
    const atNext = f(next);
    if (atNext > 0 !== atMoves > 0) [stays, atStays] = [moves, atMoves];
    else atStays /= 2;
    const done = Math.abs(next - moves) < 1e-11;
    [moves, atMoves] = [next, atNext];
    if (done) break;
  }
  return moves;
}

function openEnds(set: AcceptedSet, name: LeafIntervalName, options: CompleteOptions): AcceptedSet {
  if (name !== 'tolerance' || options.toleranceSides === 'both' || set.kind !== 'interval') return set;
  return options.toleranceSides === 'lower' ? { kind: 'at-least', lower: set.lower } : { kind: 'at-most', upper: set.upper };
}
