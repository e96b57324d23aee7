import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { fitMixedModel } from './fit.js';
import type { MixedFit } from './mixed-fit.js';
import { interceptTerm, type MixedMethod, type MixedModelInput, type ModelTerm, type RandomLevel } from './model.js';

/** One reading with the leaf it was taken on; `rwc` and `transmittance` are fractions. */
export interface LeafReading {
  readonly leafId: string;
  /** Give it for every reading or for none; leaves are counted within their plant. */
  readonly plantId?: string;
  /** Give it for every reading or for none; discs are counted within their leaf. */
  readonly discId?: string;
  readonly rwc: number;
  /** Or the ratio to the leaf's own turgid transmittance, throughout. */
  readonly transmittance: number;
  /**
   * Names readings taken beside the line's own: of another crop, laboratory or rig, whose leaves lie higher or lower throughout. They
   * share slope and spreads with the line and have a height of their own, so that they say nothing of the line's height.
   */
  readonly besideId?: string;
}

/** In what leaves differ: in height, in height and slope (correlated), or in both independently at the origin. */
export type LeafEffect = 'intercept' | 'intercept-and-slope' | 'independent-intercept-and-slope';

/** How a calibration line with leaf effects is fitted. */
export interface LeafLineOptions {
  readonly method: MixedMethod;
  readonly leafEffect: LeafEffect;
  /** The line runs through ln T (the physical form), or through T itself. */
  readonly responseScale: 'ln-transmittance' | 'transmittance';
  /** The RWC at which the intercept is meant; default 0. It matters for independent effects, which are independent there only. */
  readonly originRwc?: number;
}

/** A calibration line with leaf effects: response = intercept + slope·(RWC − origin) + what the plant, leaf and disc add. */
export interface LeafLine {
  readonly options: Required<LeafLineOptions>;
  readonly intercept: number;
  readonly slope: number;
  /** All leaves, those beside included. */
  readonly leafCount: number;
  /** Of the line's own readings. */
  readonly rwcRange: { readonly from: number; readonly to: number };
  /** Its fixed effects are intercept, slope, and the height of each group of readings beside. */
  readonly fit: MixedFit;
}

/**
 * Fits one straight line through the readings of many leaves, each leaf free to differ.
 *
 * Levels are taken from the readings: plant (intercept), leaf ({@link LeafEffect}), disc (intercept). The leaf, not the reading, is what
 * the uncertainty is counted by. Units: RWC and transmittance as fractions; the slope is per unit of RWC.
 * Domain: T > 0 on the logarithmic scale; at least two leaves with replicates; more than one RWC.
 * Errors: `NO_READINGS`, `NOT_FINITE`, `NOT_POSITIVE`, `PARTLY_GIVEN`, `FLAT_LINE`, and those of `fitMixedModel`.
 * Source: Pinheiro & Bates (2000), ch. 1-2. The choice of ln T is common practice for absorption along a path.
 *
 * @example
 * const readings = ['a', 'b', 'c', 'd'].flatMap((leafId, i) => [1, 0.8, 0.6].map((rwc, k) =>
 *   ({ leafId, rwc, transmittance: Math.exp(-0.9 - rwc + 0.05 * (i % 3) + 0.01 * ((i + k) % 2)) })));
 * const line = fitLeafLine(readings, { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' });
 * [line.leafCount, line.slope.toFixed(2), line.fit.levels[0].sd[0].toFixed(2)] // => [4, '-1.00', '0.05']
 */
export function fitLeafLine(readings: readonly LeafReading[], options: LeafLineOptions): LeafLine {
  const model = leafLineModel(readings, options);
  const fit = fitMixedModel(model);
  const slope = fit.fixed[1]!.estimate;
  if (slope === 0) {
    throw new InputError('FLAT_LINE', 'readings', 'the fitted line has no slope', 'Check that RWC and transmittance belong together.');
  }
  return {
    options: { originRwc: 0, ...options },
    intercept: fit.fixed[0]!.estimate,
    slope,
    leafCount: leavesCounted(fit),
    rwcRange: rwcRangeOf(readings),
    fit,
  };
}

export const leavesCounted = (fit: MixedFit): number => fit.levels.find((level) => level.name === 'leaf')!.groupCount;

/** Of the fit's own readings, not of those beside. */
export function rwcRangeOf(readings: readonly LeafReading[]): LeafLine['rwcRange'] {
  const rwc = readings.filter(({ besideId }) => besideId === undefined).map((reading) => reading.rwc);
  if (rwc.length === 0) throw new InputError('NO_READINGS', 'readings', 'all lie beside the line', 'Give readings of the line itself.');
  return { from: Math.min(...rwc), to: Math.max(...rwc) };
}

/** The mixed model behind {@link fitLeafLine}, for instance for `profileVariances`. Errors as there. */
export function leafLineModel(readings: readonly LeafReading[], options: LeafLineOptions): MixedModelInput {
  const originRwc = requireFinite('originRwc', options.originRwc ?? 0);
  if (readings.length === 0) throw new InputError('NO_READINGS', 'readings', 'there is none', 'Give the readings of two leaves or more.');
  const one = interceptTerm(readings.length);
  const along = { name: 'rwc', values: readings.map((reading, i) => requireFinite(`readings[${i}].rwc`, reading.rwc) - originRwc) };
  const leafLevel: RandomLevel = {
    name: 'leaf',
    groups: readings.map((reading) => reading.leafId),
    terms: options.leafEffect === 'intercept' ? [one] : [one, along],
    covariance: options.leafEffect === 'independent-intercept-and-slope' ? 'diagonal' : 'full',
  };
  return {
    response: readings.map((reading, i) => responseOf(options.responseScale, reading.transmittance, `readings[${i}].transmittance`)),
    fixed: [one, along, ...besideTerms(readings)],
    levels: [...outerLevel('plant', readings, (reading) => reading.plantId), leafLevel, ...outerLevel('disc', readings, (reading) => reading.discId)],
    method: options.method,
  };
}

/** A height of its own for each group of readings beside the line. */
export function besideTerms(readings: readonly LeafReading[]): ModelTerm[] {
  const names = [...new Set(readings.flatMap(({ besideId }) => besideId ?? []))];
  return names.map((name) => ({ name: `height of ${name}`, values: readings.map(({ besideId }) => (besideId === name ? 1 : 0)) }));
}

function outerLevel(name: 'plant' | 'disc', readings: readonly LeafReading[], labelOf: (reading: LeafReading) => string | undefined): RandomLevel[] {
  const labels = readings.map(labelOf);
  if (labels.every((label) => label === undefined)) return [];
  const groups = labels.map((label, i) => {
    if (label !== undefined) return label;
    throw new InputError('PARTLY_GIVEN', `readings[${i}].${name}Id`, `the ${name} is given for some readings but not for this one`, 'Give it for every reading or for none.');
  });
  return [{ name, groups, terms: [interceptTerm(readings.length)], covariance: 'full' }];
}

/** A transmittance on the scale of the line. */
export function responseOf(scale: LeafLineOptions['responseScale'], transmittance: number, field = 'transmittance'): number {
  return scale === 'ln-transmittance' ? Math.log(requirePositive(field, transmittance)) : requireFinite(field, transmittance);
}

/** A value on the scale of the line as a transmittance. */
export function transmittanceOf(scale: LeafLineOptions['responseScale'], response: number): number {
  return scale === 'ln-transmittance' ? Math.exp(response) : response;
}
