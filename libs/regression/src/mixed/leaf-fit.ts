import type { FamilyName } from '../families/family.js';
import { families } from '../families/fit-family.js';
import { fitLeafCurve, type LeafCurve } from './leaf-curve.js';
import { fitLeafLine, type LeafEffect, type LeafLine, type LeafReading } from './leaf-line.js';
import type { MixedMethod } from './model.js';

/** A calibration of whatever family with leaf effects: all that intervals, advice and transfer know of it is told by the functions here. */
export type LeafFit = LeafLine | LeafCurve;

/** How a family is fitted with leaf effects. */
export interface LeafFitOptions {
  readonly method: MixedMethod;
  /** One of `leafEffectsOf(family)`. */
  readonly leafEffect: LeafEffect;
  /** Of a line; see `LeafLineOptions`. */
  readonly originRwc?: number;
}

const isCurve = (fit: LeafFit): fit is LeafCurve => 'family' in fit;

/** The family of a fit. */
export function familyOf(fit: LeafFit): FamilyName {
  if (isCurve(fit)) return fit.family;
  return fit.options.responseScale === 'ln-transmittance' ? 'log-linear' : 'linear';
}

/**
 * Fits any family with leaf effects: a line by `fitLeafLine`, a curve by `fitLeafCurve`. Errors as there.
 *
 * @example
 * const readings = ['a', 'b', 'c', 'd'].flatMap((leafId, i) => [1, 0.8, 0.6].map((rwc, k) =>
 *   ({ leafId, rwc, transmittance: 0.15 * rwc ** -0.8 * Math.exp(0.05 * (i % 3) + 0.01 * ((i + k) % 2)) })));
 * ['log-linear', 'power'].map((family) => fitLeaves(family, readings, { method: 'REML', leafEffect: 'intercept' }).fit.residualSd.toFixed(3)) // => ['0.017', '0.006']
 */
export function fitLeaves(family: FamilyName, readings: readonly LeafReading[], { originRwc, ...options }: LeafFitOptions): LeafFit {
  if (family === 'log-linear' || family === 'linear') {
    return fitLeafLine(readings, { ...options, responseScale: family === 'linear' ? 'transmittance' : 'ln-transmittance', ...(originRwc === undefined ? {} : { originRwc }) });
  }
  return fitLeafCurve(family, readings, options);
}

/** The same fit made of other readings: some left out, say. Errors as those of {@link fitLeaves}. */
export function refitLeaves(fit: LeafFit, readings: readonly LeafReading[]): LeafFit {
  return isCurve(fit) ? fitLeafCurve(fit.family, readings, fit.options, fit.parameters) : fitLeafLine(readings, fit.options);
}

/** The mean on the scale of the fit, at an RWC. */
export function responseAt(fit: LeafFit, rwc: number): number {
  if (!isCurve(fit)) return fit.intercept + fit.slope * (rwc - fit.options.originRwc);
  const value = families[fit.family].predict(fit.parameters, rwc);
  return fit.options.responseScale === 'ln-transmittance' ? Math.log(value) : value;
}

/** How the mean changes with RWC there, on the scale of the fit, per unit of RWC. */
export function responseSlopeAt(fit: LeafFit, rwc: number): number {
  if (!isCurve(fit)) return fit.slope;
  const shape = families[fit.family];
  const slope = shape.slope(fit.parameters, rwc);
  return fit.options.responseScale === 'ln-transmittance' ? slope / shape.predict(fit.parameters, rwc) : slope;
}

/** The RWC at which the mean takes a response; null where a curve never does. */
export function rwcAtResponse(fit: LeafFit, response: number): number | null {
  if (!isCurve(fit)) return fit.options.originRwc + (response - fit.intercept) / fit.slope;
  return families[fit.family].inverse(fit.parameters, fit.options.responseScale === 'ln-transmittance' ? Math.exp(response) : response);
}

/** What multiplies the fixed effects of the fit for its mean at an RWC, to first order: nothing of the groups beside. */
export function fixedAt(fit: LeafFit, rwc: number): number[] {
  const of = isCurve(fit) ? curveGradient(fit, rwc) : [1, rwc - fit.options.originRwc];
  return fit.fit.fixed.map((_, i) => of[i] ?? 0);
}

/** The same for the slope of {@link responseSlopeAt}. */
export function fixedSlopeAt(fit: LeafFit, rwc: number): number[] {
  const of = isCurve(fit) ? curveSlopeGradient(fit, rwc) : [0, 1];
  return fit.fit.fixed.map((_, i) => of[i] ?? 0);
}

/** What multiplies what a leaf adds: 1 for its height, and for a slope of its own the predictor at the RWC. */
export function leafTermsAt(fit: LeafFit, rwc: number, terms: number): number[] {
  if (terms !== 2) return [1];
  return [1, isCurve(fit) ? families[fit.family].line!.predictor(rwc) : rwc - fit.options.originRwc];
}

/** Where a fit is a straight line in some predictor: response = intercept + slope·predictor, so that Fieller's argument is exact. */
export interface Straight {
  readonly intercept: number;
  readonly slope: number;
  rwcAt(predictor: number): number;
}

/** Null for a curve that is straight in none. */
export function straightOf(fit: LeafFit): Straight | null {
  if (!isCurve(fit)) return { intercept: fit.intercept, slope: fit.slope, rwcAt: (x) => x + fit.options.originRwc };
  const { line } = families[fit.family];
  return line && { intercept: fit.parameters[0]!, slope: fit.parameters[1]!, rwcAt: line.predictorInverse };
}

function curveGradient({ family, parameters, options }: LeafCurve, rwc: number): number[] {
  const shape = families[family];
  const unit = options.responseScale === 'ln-transmittance' ? 1 / shape.predict(parameters, rwc) : 1;
  return shape.gradient(parameters, rwc).map((slope) => slope * unit);
}

function curveSlopeGradient({ family, parameters, options }: LeafCurve, rwc: number): number[] {
  const shape = families[family];
  const slopes = shape.slopeGradient(parameters, rwc);
  if (options.responseScale === 'transmittance') return slopes;
  const value = shape.predict(parameters, rwc);
  const [slope, gradient] = [shape.slope(parameters, rwc), shape.gradient(parameters, rwc)];
  return slopes.map((d, k) => d / value - (slope * gradient[k]!) / (value * value));
}
