import { requireCount, studentTQuantile } from '#libs/numeric';
import { requireFinite } from '#libs/quantity';
import { fiellerSet, type AcceptedSet } from '../inverse/accepted-set.js';
import { lineAt, responseOf, transmittanceOf, type LeafLine } from './leaf-line.js';
import { estimateVariance, type VarianceCombination } from './satterthwaite.js';
import { oneSidedToleranceFactor, requireFraction, twoSidedToleranceFactor } from './tolerance-factor.js';

/** What the three intervals are asked for. */
export interface LeafIntervalOptions {
  /** Of the confidence and the prediction interval; default 0.95. */
  readonly level?: number;
  /** Share of leaves the tolerance interval holds; default 0.95. */
  readonly share?: number;
  /** Confidence of the tolerance interval; default 0.95. */
  readonly confidence?: number;
  /** How many readings of the new leaf are averaged: 1 (default) for a single one, Infinity for the leaf's own line. */
  readonly readingsPerNewLeaf?: number;
  /** Whether the tolerance interval has both ends (default) or one. */
  readonly toleranceSides?: 'both' | 'lower' | 'upper';
}

/** The name of an interval says what lies inside: the mean line, one new leaf, or a share of all leaves. */
export type LeafIntervalName = 'confidence' | 'prediction' | 'tolerance';

/** One interval of the line at a water content. */
export interface LeafInterval {
  readonly name: LeafIntervalName;
  /** On the scale of the line; an open end is ±Infinity. */
  readonly response: { readonly lower: number; readonly upper: number };
  readonly transmittance: { readonly lower: number; readonly upper: number };
  /** Half-width on the scale of the line, and divided by |slope| in points of RWC (0.01 of RWC). */
  readonly halfWidth: number;
  readonly halfWidthPoints: number;
  /** Student's t, or the tolerance factor. */
  readonly factor: number;
  readonly degreesOfFreedom: number;
  /** What it means, to be shown with the numbers. */
  readonly sentence: string;
}

/** The three intervals at one water content. */
export interface IntervalsAtRwc {
  readonly rwc: number;
  readonly response: number;
  /** The mean line as a transmittance; on the logarithmic scale that is the median leaf. */
  readonly transmittance: number;
  /** Outside the RWC the line was fitted over. */
  readonly extrapolated: boolean;
  readonly confidence: LeafInterval;
  readonly prediction: LeafInterval;
  readonly tolerance: LeafInterval;
}

/** One interval of the water content at a transmittance. */
export interface InvertedInterval {
  readonly name: LeafIntervalName;
  /** The water contents not ruled out, as a fraction; unbounded or disjoint where the slope is too uncertain. */
  readonly accepted: AcceptedSet;
  /** Half the width in points of RWC; null where the set has no two ends. */
  readonly halfWidthPoints: number | null;
  /** Fieller's g of this interval: from 1 on it has no two ends. */
  readonly g: number;
  readonly factor: number;
  readonly degreesOfFreedom: number;
  readonly sentence: string;
}

/** The three intervals of the water content at one transmittance. */
export interface RwcAtTransmittance {
  readonly transmittance: number;
  /** Where the mean line takes this transmittance. */
  readonly rwc: number;
  readonly extrapolated: boolean;
  readonly confidence: InvertedInterval;
  readonly prediction: InvertedInterval;
  readonly tolerance: InvertedInterval;
}

type Complete = Required<LeafIntervalOptions>;

/**
 * Confidence, prediction and tolerance interval of the transmittance at one water content.
 *
 * - confidence: x'β ± t·√(x'Cov(β)x): where the mean line is.
 * - prediction: ± t·√(x'Cov(β)x + z'Σz + σ²/m): one new leaf (of a new plant), mean of m readings.
 * - tolerance: ± k·√(z'Σz + σ²/m): the stated share of leaves at the stated confidence; k from the noncentral t (one-sided) or exact
 *   quadrature (two-sided), with the effective number of leaves (z'Σz + σ²/m)/(x'Cov(β)x).
 *
 * Degrees of freedom are Satterthwaite's, for the prediction interval never more than leaves − 1: how a new leaf scatters is known
 * from the leaves, however many readings each has. Domain: any RWC; outside the fitted range the answer is marked extrapolated.
 * Errors: `NOT_FINITE`, `NOT_A_FRACTION`, `NOT_A_COUNT`. Source: ISO 16269-6 for k; Satterthwaite (1946); trade rule "leaf, not reading,
 * is the unit": common practice, no source.
 *
 * @example
 * const readings = ['a', 'b', 'c', 'd'].flatMap((leafId, i) => [1, 0.8, 0.6].map((rwc, k) =>
 *   ({ leafId, rwc, transmittance: Math.exp(-0.9 - rwc + 0.05 * (i % 3) + 0.01 * ((i + k) % 2)) })));
 * const line = fitLeafLine(readings, { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' });
 * const at = intervalsAtRwc(line, 0.8);
 * [at.confidence, at.prediction, at.tolerance].map((interval) => interval.halfWidthPoints.toFixed(1)) // => ['7.5', '16.9', '30.2']
 */
export function intervalsAtRwc(line: LeafLine, rwc: number, options: LeafIntervalOptions = {}): IntervalsAtRwc {
  const confidence = leafIntervalAt(line, 'confidence', rwc, options);
  const response = responseAt(line, rwc);
  return {
    rwc,
    response,
    transmittance: transmittanceOf(line.options.responseScale, response),
    extrapolated: rwc < line.rwcRange.from || rwc > line.rwcRange.to,
    confidence,
    prediction: leafIntervalAt(line, 'prediction', rwc, options),
    tolerance: leafIntervalAt(line, 'tolerance', rwc, options),
  };
}

/** One of the three intervals of {@link intervalsAtRwc} alone. Options and errors as there. */
export function leafIntervalAt(line: LeafLine, name: LeafIntervalName, rwc: number, options: LeafIntervalOptions = {}): LeafInterval {
  const complete = checked(options);
  requireFinite('rwc', rwc);
  const response = responseAt(line, rwc);
  const { factor, degreesOfFreedom, variance } = spreadAt(line, rwc, name, complete);
  const halfWidth = factor * Math.sqrt(variance);
  const open = name === 'tolerance' ? complete.toleranceSides : 'both';
  const ends = { lower: open === 'upper' ? -Infinity : response - halfWidth, upper: open === 'lower' ? Infinity : response + halfWidth };
  const scale = line.options.responseScale;
  return {
    name,
    response: ends,
    transmittance: { lower: transmittanceOf(scale, ends.lower), upper: transmittanceOf(scale, ends.upper) },
    halfWidth,
    halfWidthPoints: (100 * halfWidth) / Math.abs(line.slope),
    factor,
    degreesOfFreedom,
    sentence: sentenceFor(name, complete, 'transmittance'),
  };
}

function responseAt(line: LeafLine, rwc: number): number {
  return line.intercept + line.slope * (rwc - line.options.originRwc);
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
export function rwcAtTransmittance(line: LeafLine, transmittance: number, options: LeafIntervalOptions = {}): RwcAtTransmittance {
  const confidence = invertedLeafInterval(line, 'confidence', transmittance, options);
  const rwc = rwcOf(line, responseOf(line.options.responseScale, transmittance));
  return {
    transmittance,
    rwc,
    extrapolated: rwc < line.rwcRange.from || rwc > line.rwcRange.to,
    confidence,
    prediction: invertedLeafInterval(line, 'prediction', transmittance, options),
    tolerance: invertedLeafInterval(line, 'tolerance', transmittance, options),
  };
}

/** One of the three intervals of {@link rwcAtTransmittance} alone. Options and errors as there. */
export function invertedLeafInterval(line: LeafLine, name: LeafIntervalName, transmittance: number, options: LeafIntervalOptions = {}): InvertedInterval {
  const complete = checked(options);
  const response = responseOf(line.options.responseScale, transmittance);
  return invert(line, response, rwcOf(line, response), name, complete);
}

function rwcOf(line: LeafLine, response: number): number {
  return line.options.originRwc + (response - line.intercept) / line.slope;
}

interface Spread {
  readonly variance: number;
  readonly factor: number;
  readonly degreesOfFreedom: number;
}

function combinationAt(line: LeafLine, rwc: number, withFixed: boolean, options: Complete): VarianceCombination {
  const x = rwc - line.options.originRwc;
  return {
    fixed: lineAt(line, x).map((value) => (withFixed ? value : 0)),
    levels: line.fit.levels.map((level) => (level.sd.length === 2 ? [1, x] : [1])),
    residualWeight: 1 / options.readingsPerNewLeaf,
  };
}

function spreadAt(line: LeafLine, rwc: number, name: LeafIntervalName, options: Complete): Spread {
  const upper = (1 + options.level) / 2;
  const x = rwc - line.options.originRwc;
  const mean = estimateVariance(line.fit, { fixed: lineAt(line, x) });
  if (name === 'confidence') {
    return { variance: mean.variance, degreesOfFreedom: mean.degreesOfFreedom, factor: studentTQuantile(upper, mean.degreesOfFreedom) };
  }
  if (name === 'prediction') {
    const { variance, degreesOfFreedom } = estimateVariance(line.fit, combinationAt(line, rwc, true, options));
    const df = Math.min(degreesOfFreedom, line.leafCount - 1);
    return { variance, degreesOfFreedom: df, factor: studentTQuantile(upper, df) };
  }
  const leaves = estimateVariance(line.fit, combinationAt(line, rwc, false, options));
  if (leaves.variance === 0) {
    // Leaves estimated as all alike, each known exactly: what holds them all is what holds their mean.
    const factor = studentTQuantile((1 + options.confidence) / 2, mean.degreesOfFreedom);
    return { variance: mean.variance, degreesOfFreedom: mean.degreesOfFreedom, factor };
  }
  const degreesOfFreedom = Math.min(leaves.degreesOfFreedom, line.leafCount - 1);
  const question = { effectiveCount: leaves.variance / mean.variance, share: options.share, confidence: options.confidence, degreesOfFreedom };
  const factor = options.toleranceSides === 'both' ? twoSidedToleranceFactor(question) : oneSidedToleranceFactor(question);
  return { variance: leaves.variance, degreesOfFreedom, factor };
}

function invert(line: LeafLine, response: number, estimate: number, name: LeafIntervalName, options: Complete): InvertedInterval {
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

/** Fieller's set at one factor; the variance inside it is a quadratic in x for all three intervals. */
function setWith(line: LeafLine, response: number, name: LeafIntervalName, factor: number, options: Complete): { g: number; set: AcceptedSet } {
  const covariance = [
    [0, 0],
    [0, 0],
  ];
  const add = (matrix: readonly (readonly number[])[]) => matrix.slice(0, 2).forEach((row, i) => row.slice(0, 2).forEach((value, j) => (covariance[i]![j]! += value)));
  const noSpread = name === 'tolerance' && options.readingsPerNewLeaf === Infinity && line.fit.levels.every((level) => level.sd.every((sd) => sd === 0));
  if (name !== 'tolerance' || noSpread) add(line.fit.fixedCovariance);
  if (name !== 'confidence') line.fit.levels.forEach((level) => add(level.covariance));
  const responseVariance = name === 'confidence' ? 0 : line.fit.residualSd ** 2 / options.readingsPerNewLeaf;
  const { g, set } = fiellerSet({ intercept: line.intercept, slope: line.slope, covariance, response, responseVariance, quantile: factor });
  const origin = line.options.originRwc;
  const moved = { ...set, ...('lower' in set ? { lower: set.lower + origin } : {}), ...('upper' in set ? { upper: set.upper + origin } : {}) };
  return { g, set: moved as AcceptedSet };
}

const MOST_ROUNDS = 50;

/** The factor depends on where the end is, through its degrees of freedom: repeats Fieller's set at each end until it stands still; null where it does not. */
function refine(line: LeafLine, response: number, name: LeafIntervalName, options: Complete, set: AcceptedSet & { kind: 'interval' }): AcceptedSet | null {
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
function soughtOutwards(line: LeafLine, response: number, estimate: number, name: LeafIntervalName, options: Complete): AcceptedSet {
  const { from, to } = line.rwcRange;
  /** Above zero where the water content is ruled out. */
  const excess = (rwc: number): number => {
    const { factor, variance } = spreadAt(line, rwc, name, options);
    return Math.abs(response - responseAt(line, rwc)) - factor * Math.sqrt(variance);
  };
  const steps: number[] = [];
  for (let step = FINEST * (to - from); step < FARTHEST * (to - from); step *= 1.6) steps.push(step);
  const places = [estimate, (from + to) / 2].flatMap((centre) => [centre, ...steps.map((step) => centre + step), ...steps.map((step) => centre - step)]).sort((a, b) => a - b);
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

function openEnds(set: AcceptedSet, name: LeafIntervalName, options: Complete): AcceptedSet {
  if (name !== 'tolerance' || options.toleranceSides === 'both' || set.kind !== 'interval') return set;
  return options.toleranceSides === 'lower' ? { kind: 'at-least', lower: set.lower } : { kind: 'at-most', upper: set.upper };
}

function checked(options: LeafIntervalOptions): Complete {
  const complete: Complete = { level: 0.95, share: 0.95, confidence: 0.95, readingsPerNewLeaf: 1, toleranceSides: 'both', ...options };
  requireFraction('level', complete.level);
  requireFraction('share', complete.share);
  requireFraction('confidence', complete.confidence);
  if (complete.readingsPerNewLeaf !== Infinity) requireCount('readingsPerNewLeaf', complete.readingsPerNewLeaf, 1);
  return complete;
}

function sentenceFor(name: LeafIntervalName, options: Complete, of: 'transmittance' | 'rwc'): string {
  const percent = (value: number) => `${Number((100 * value).toPrecision(4))} %`;
  const readings = options.readingsPerNewLeaf === Infinity ? 'its own line' : options.readingsPerNewLeaf === 1 ? 'one reading' : `the mean of ${options.readingsPerNewLeaf} readings`;
  const where = of === 'transmittance' ? 'at this RWC' : 'at this transmittance';
  if (name === 'confidence') return `Confidence, ${percent(options.level)}: where the mean line of all leaves may lie ${where}. It says nothing about a single leaf.`;
  if (name === 'prediction') return `Prediction, ${percent(options.level)}: where one new leaf may lie ${where} (${readings}).`;
  return `Tolerance: with ${percent(options.confidence)} confidence, at least ${percent(options.share)} of leaves lie here ${where} (${readings}).`;
}
