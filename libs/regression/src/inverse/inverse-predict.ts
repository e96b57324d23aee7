import { studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import type { FittedCurve } from '../families/fit-family.js';
import { acceptedAround, fiellerSet, type AcceptedSet } from './accepted-set.js';
import { responseScaleOf, type ResponseScale } from './response-scale.js';

export interface InverseRequest {
  /**
   * What was read: one transmittance, or several of the same state (their mean on the fit's scale is inverted). Where the
   * fit's response is `turgid-ratio`, the ratio to the leaf's own turgid transmittance.
   */
  readonly transmittance: number | readonly number[];
  /**
   * How sure the reading is, apart from the calibration:
   * - `as-calibration` (default): it scatters as the points of the fit did;
   * - `exact`: a set value without scatter, such as a threshold;
   * - a number: its standard uncertainty, in transmittance.
   */
  readonly readingUncertainty?: 'as-calibration' | 'exact' | number;
  /** Several readings also tell of scatter: pool theirs with the fit's (Graybill & Iyer 1994, ch. 6). Default false. */
  readonly poolScatter?: boolean;
  /** Default 0.95. */
  readonly level?: number;
}

/** Caution from here, refusal from 1: common practice, no source. */
export const G_CAUTION = 0.05;

interface Answer {
  readonly level: number;
  /** Two-sided quantile used, and its degrees of freedom (Infinity with stated uncertainties). */
  readonly quantile: number;
  readonly degreesOfFreedom: number;
  /** In plain words, to be shown with the numbers. */
  readonly sentence: string;
}

export type InversePrediction =
  | (Answer & {
      readonly verdict: 'usable' | 'caution';
      /** Fieller's g: 0 for a sharp slope, 1 where the slope cannot be told from none. */
      readonly g: number;
      /** In the unit of the predictor: RWC as a fraction, or water thickness in µm. */
      readonly estimate: number;
      readonly standardUncertainty: number;
      /** estimate ± quantile·u: first order. */
      readonly delta: { readonly lower: number; readonly upper: number };
      /** Fieller's set; for a curve, the inversion of its band. */
      readonly accepted: AcceptedSet;
      readonly extrapolated: boolean;
    })
  | (Answer & {
      readonly verdict: 'refused';
      readonly reason: 'not-converged' | 'never-reached' | 'slope-not-significant';
      /** Both null where the curve could not be read backwards at all. */
      readonly g: number | null;
      readonly accepted: AcceptedSet | null;
    });

/**
 * Water content for a transmittance, with its uncertainty.
 *
 * Delta: u(x̂) = √(u₀² + u²(f(x̂))) / |f′(x̂)| on the scale of the fit. Fieller: see {@link fiellerSet}. With g above
 * 0.05 the answer is given with caution, from 1 on it is refused and only the accepted set is returned.
 *
 * @throws InputError NOT_FINITE, NOT_POSITIVE (on the relative scale), LEVEL
 * @example
 * const points = [[1, 0.15], [0.8, 0.182], [0.6, 0.225], [0.5, 0.248]].map(([rwc, transmittance]) => ({ rwc, transmittance }));
 * const answer = inversePredict(fitFamily('log-linear', points), { transmittance: 0.2, readingUncertainty: 'exact' });
 * answer.verdict // => 'usable'
 * answer.estimate.toFixed(3) // => '0.713'
 */
export function inversePredict(fit: FittedCurve, request: InverseRequest): InversePrediction {
  const level = requireLevel(request.level ?? 0.95);
  const scale = responseScaleOf(fit);
  const reading = readingOf(fit, scale, request);
  const quantile = studentTQuantile(0.5 + level / 2, reading.degreesOfFreedom);
  const common = { level, quantile, degreesOfFreedom: reading.degreesOfFreedom };
  const value = scale.transmittanceAt(reading.response);
  if (!fit.convergence.converged) {
    return {
      ...common,
      verdict: 'refused',
      reason: 'not-converged',
      g: null,
      accepted: null,
      sentence: `The ${fit.family} fit did not come to rest, so its curve is not to be read backwards. Fit a family with fewer parameters, or add points.`,
    };
  }
  const estimate = scale.family.inverse(fit.parameters, value);
  if (estimate === null) {
    return {
      ...common,
      verdict: 'refused',
      reason: 'never-reached',
      g: null,
      accepted: null,
      sentence: `The ${fit.family} curve never takes the transmittance ${value.toPrecision(3)}, so there is no water content to give.`,
    };
  }
  // A pooled scatter sets the size of the line's covariance too.
  const covariance = fit.covariance.map((row) => row.map((v) => v * reading.covarianceFactor));
  const scaled = responseScaleOf({ ...fit, covariance });
  const { g, set } = invert(fit, scaled, reading, covariance, estimate, quantile);
  if (g >= 1) {
    return {
      ...common,
      verdict: 'refused',
      reason: 'slope-not-significant',
      g,
      accepted: set,
      sentence: `At ${percent(level)} the slope of this calibration cannot be told from zero (g = ${g.toPrecision(2)}), so a transmittance says nothing of water content. Measure more leaves over a wider range.`,
    };
  }
  const extrapolated = estimate < fit.range.from || estimate > fit.range.to;
  const standardUncertainty = Math.sqrt(reading.variance + scaled.varianceAt(estimate)) / Math.abs(scaled.slopeAt(estimate));
  return {
    ...common,
    verdict: g > G_CAUTION || extrapolated || set.kind !== 'interval' ? 'caution' : 'usable',
    estimate,
    standardUncertainty,
    delta: { lower: estimate - quantile * standardUncertainty, upper: estimate + quantile * standardUncertainty },
    g,
    accepted: set,
    extrapolated,
    sentence: sentenceFor(g, extrapolated, set, level),
  };
}

function requireLevel(level: number): number {
  if (requireFinite('level', level) > 0 && level < 1) return level;
  throw new InputError('LEVEL', 'level', `${level} is not between 0 and 1`, 'Give e.g. 0.95.');
}

export interface Reading {
  readonly response: number;
  readonly variance: number;
  readonly degreesOfFreedom: number;
  readonly covarianceFactor: number;
}

/** The reading on the scale of the fit, with its variance. */
export function readingOf(fit: FittedCurve, scale: ResponseScale, request: InverseRequest): Reading {
  const given = typeof request.transmittance === 'number' ? [request.transmittance] : request.transmittance;
  if (given.length === 0) throw new InputError('TOO_FEW_POINTS', 'transmittance', 'no reading given', 'Give at least one.');
  const responses = given.map((t, i) => {
    const field = given.length === 1 ? 'transmittance' : `transmittance[${i}]`;
    return scale.of(fit.errorScale === 'relative' ? requirePositive(field, t) : requireFinite(field, t));
  });
  const m = responses.length;
  const response = responses.reduce((sum, y) => sum + y, 0) / m;
  const fitDf = fit.covarianceBasis === 'stated' ? Infinity : fit.degreesOfFreedom;
  const uncertainty = request.readingUncertainty ?? 'as-calibration';
  if (typeof uncertainty === 'number') {
    if (requireFinite('readingUncertainty', uncertainty) < 0) {
      throw new InputError('NEGATIVE', 'readingUncertainty', `${uncertainty} is below zero`, 'Give a standard uncertainty from 0.');
    }
    const u = scale.uncertaintyOf(scale.transmittanceAt(response), uncertainty);
    return { response, variance: u * u, degreesOfFreedom: fitDf, covarianceFactor: 1 };
  }
  if (uncertainty === 'exact') return { response, variance: 0, degreesOfFreedom: fitDf, covarianceFactor: 1 };
  if (fit.covarianceBasis === 'stated') {
    throw new InputError(
      'MISSING',
      'readingUncertainty',
      'this fit rests on stated uncertainties and does not say how a new reading scatters',
      'Give the standard uncertainty of the reading, or "exact".',
    );
  }
  const variance = fit.residualSd * fit.residualSd;
  if (request.poolScatter !== true || m === 1) {
    return { response, variance: variance / m, degreesOfFreedom: fitDf, covarianceFactor: 1 };
  }
  const within = responses.reduce((sum, y) => sum + (y - response) ** 2, 0);
  const degreesOfFreedom = fit.degreesOfFreedom + m - 1;
  const pooled = (variance * fit.degreesOfFreedom + within) / degreesOfFreedom;
  return { response, variance: pooled / m, degreesOfFreedom, covarianceFactor: pooled / variance };
}

function invert(
  fit: FittedCurve,
  scale: ResponseScale,
  reading: Reading,
  covariance: readonly (readonly number[])[],
  estimate: number,
  quantile: number,
): { g: number; set: AcceptedSet } {
  const { line } = scale.family;
  if (scale.isLine && line !== null) {
    const { g, set } = fiellerSet({
      intercept: fit.parameters[0]!,
      slope: fit.parameters[1]!,
      covariance,
      response: reading.response,
      responseVariance: reading.variance,
      quantile,
    });
    return { g, set: transformed(set, line.predictorInverse) };
  }
  const g = (quantile * quantile * scale.slopeVarianceAt(estimate)) / scale.slopeAt(estimate) ** 2;
  const width = fit.range.to - fit.range.from;
  const excess = (x: number) =>
    (reading.response - scale.at(x)) ** 2 - quantile * quantile * (reading.variance + scale.varianceAt(x));
  return { g, set: acceptedAround(excess, estimate, width, 10 * width) };
}

function transformed(set: AcceptedSet, inverse: (z: number) => number): AcceptedSet {
  const moved: Record<string, unknown> = { ...set };
  if ('lower' in set) moved['lower'] = inverse(set.lower);
  if ('upper' in set) moved['upper'] = inverse(set.upper);
  return moved as AcceptedSet;
}

function sentenceFor(g: number, extrapolated: boolean, set: AcceptedSet, level: number): string {
  const parts: string[] = [];
  if (set.kind !== 'interval') parts.push(`At ${percent(level)} the accepted water contents have no end on at least one side.`);
  if (g > G_CAUTION) parts.push(`The slope is uncertain (g = ${g.toPrecision(2)}): take the Fieller limits, not estimate ± k·u.`);
  if (extrapolated) parts.push('The estimate lies outside the calibrated range.');
  return parts.length === 0 ? `Within the calibrated range, with a well-determined slope (g = ${g.toPrecision(2)}).` : parts.join(' ');
}

function percent(level: number): string {
  return `${Number((100 * level).toPrecision(6))} %`;
}
