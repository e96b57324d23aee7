import { requireCount, studentTQuantile } from '#libs/numeric';
import { requireFinite, requirePositive } from '#libs/quantity';
import { familyOf, fixedAt, leafTermsAt, responseAt, responseSlopeAt, type LeafFit } from './leaf-fit.js';
import { transmittanceOf } from './leaf-line.js';
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

/** One interval of the fit at a water content. */
export interface LeafInterval {
  readonly name: LeafIntervalName;
  /** On the scale of the fit; an open end is ±Infinity. */
  readonly response: { readonly lower: number; readonly upper: number };
  readonly transmittance: { readonly lower: number; readonly upper: number };
  /** Half-width on the scale of the fit, and divided by its |slope| there in points of RWC (0.01 of RWC). */
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
  /** Outside the RWC the fit was made over. */
  readonly extrapolated: boolean;
  readonly confidence: LeafInterval;
  readonly prediction: LeafInterval;
  readonly tolerance: LeafInterval;
}

export type CompleteOptions = Required<LeafIntervalOptions>;

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
export function intervalsAtRwc(line: LeafFit, rwc: number, options: LeafIntervalOptions = {}): IntervalsAtRwc {
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
export function leafIntervalAt(line: LeafFit, name: LeafIntervalName, rwc: number, options: LeafIntervalOptions = {}): LeafInterval {
  const complete = completed(options);
  if (familyOf(line) === 'power') requirePositive('rwc', rwc);
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
    halfWidthPoints: (100 * halfWidth) / Math.abs(responseSlopeAt(line, rwc)),
    factor,
    degreesOfFreedom,
    sentence: sentenceFor(name, complete, 'transmittance'),
  };
}

interface Spread {
  readonly variance: number;
  readonly factor: number;
  readonly degreesOfFreedom: number;
}

function combinationAt(line: LeafFit, rwc: number, withFixed: boolean, options: CompleteOptions): VarianceCombination {
  return {
    fixed: fixedAt(line, rwc).map((value) => (withFixed ? value : 0)),
    levels: line.fit.levels.map((level) => leafTermsAt(line, rwc, level.sd.length)),
    residualWeight: 1 / options.readingsPerNewLeaf,
  };
}

/** @param held a factor to take as it is, where it costs too much to ask for again */
export function spreadAt(line: LeafFit, rwc: number, name: LeafIntervalName, options: CompleteOptions, held?: number): Spread {
  const upper = (1 + options.level) / 2;
  const mean = estimateVariance(line.fit, { fixed: fixedAt(line, rwc) });
  if (name === 'confidence') {
    return { variance: mean.variance, degreesOfFreedom: mean.degreesOfFreedom, factor: held ?? studentTQuantile(upper, mean.degreesOfFreedom) };
  }
  if (name === 'prediction') {
    const { variance, degreesOfFreedom } = estimateVariance(line.fit, combinationAt(line, rwc, true, options));
    const df = Math.min(degreesOfFreedom, line.leafCount - 1);
    return { variance, degreesOfFreedom: df, factor: held ?? studentTQuantile(upper, df) };
  }
  const leaves = estimateVariance(line.fit, combinationAt(line, rwc, false, options));
  if (leaves.variance === 0) {
    // Leaves estimated as all alike, each known exactly: what holds them all is what holds their mean.
    const factor = held ?? studentTQuantile((1 + options.confidence) / 2, mean.degreesOfFreedom);
    return { variance: mean.variance, degreesOfFreedom: mean.degreesOfFreedom, factor };
  }
  const degreesOfFreedom = Math.min(leaves.degreesOfFreedom, line.leafCount - 1);
  const question = { effectiveCount: leaves.variance / mean.variance, share: options.share, confidence: options.confidence, degreesOfFreedom };
  const factor = held ?? (options.toleranceSides === 'both' ? twoSidedToleranceFactor(question) : oneSidedToleranceFactor(question));
  return { variance: leaves.variance, degreesOfFreedom, factor };
}

export function completed(options: LeafIntervalOptions): CompleteOptions {
  const complete: CompleteOptions = { level: 0.95, share: 0.95, confidence: 0.95, readingsPerNewLeaf: 1, toleranceSides: 'both', ...options };
  requireFraction('level', complete.level);
  requireFraction('share', complete.share);
  requireFraction('confidence', complete.confidence);
  if (complete.readingsPerNewLeaf !== Infinity) requireCount('readingsPerNewLeaf', complete.readingsPerNewLeaf, 1);
  return complete;
}

export function sentenceFor(name: LeafIntervalName, options: CompleteOptions, of: 'transmittance' | 'rwc'): string {
  const percent = (value: number) => `${Number((100 * value).toPrecision(4))} %`;
  const readings = options.readingsPerNewLeaf === Infinity ? 'its own line' : options.readingsPerNewLeaf === 1 ? 'one reading' : `the mean of ${options.readingsPerNewLeaf} readings`;
  const where = of === 'transmittance' ? 'at this RWC' : 'at this transmittance';
  if (name === 'confidence') return `Confidence, ${percent(options.level)}: where the mean line of all leaves may lie ${where}. It says nothing about a single leaf.`;
  if (name === 'prediction') return `Prediction, ${percent(options.level)}: where one new leaf may lie ${where} (${readings}).`;
  return `Tolerance: with ${percent(options.confidence)} confidence, at least ${percent(options.share)} of leaves lie here ${where} (${readings}).`;
}