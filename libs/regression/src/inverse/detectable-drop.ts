import { increasingRoot, noncentralTCdf, normalQuantile, studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';
import type { FittedCurve } from '../families/fit-family.js';
import { responseScaleOf } from './response-scale.js';

export interface DropRequest {
  /** RWC of the basic state, a wet leaf. Default 1. */
  readonly wetRwc?: number;
  /** Readings averaged when the drop is looked for. Default 1. */
  readonly readings?: number;
  /** Share of false alarms, and of misses. Default 0.05 each. */
  readonly alpha?: number;
  readonly beta?: number;
}

export interface DetectableDrop {
  /** A drop of RWC read beyond this is told from the wet state, with a false alarm in `alpha` of cases. */
  readonly criticalDrop: number;
  /** The true drop that is then missed in `beta` of cases. */
  readonly minimumDetectableDrop: number;
  readonly alpha: number;
  readonly beta: number;
  readonly degreesOfFreedom: number;
  /** Noncentrality used: about twice the quantile of t where alpha = beta. */
  readonly noncentrality: number;
}

/**
 * Critical and minimum detectable drop of RWC below the wet state, by ISO 11843-2 (from memory; checked against the worked
 * example of DIN 32645) with the wet leaf as the basic state: critical drop = t(1−α, ν)·√(s²/K + u²(f(x₀)))/|f′(x₀)|,
 * detectable drop = δ(ν; α, β) times the same, δ from the noncentral t distribution. On a curve the drops are read off the
 * curve itself (ISO 11843-5), not off its tangent.
 *
 * Speaks for a leaf that belongs to this calibration; between-leaf differences are not in it unless they are in its scatter.
 *
 * @throws InputError PROBABILITY, COUNT, NOT_FINITE, NO_SCATTER (a fit on stated uncertainties), NOT_CONVERGED, OUT_OF_REACH
 * @example
 * const points = [[1, 0.15], [0.8, 0.182], [0.6, 0.225], [0.5, 0.248]].map(([rwc, transmittance]) => ({ rwc, transmittance }));
 * const { criticalDrop, minimumDetectableDrop } = detectableDrop(fitFamily('log-linear', points), { readings: 5 });
 * minimumDetectableDrop > criticalDrop // => true
 */
export function detectableDrop(fit: FittedCurve, request: DropRequest = {}): DetectableDrop {
  const alpha = requireShare('alpha', request.alpha ?? 0.05);
  const beta = requireShare('beta', request.beta ?? 0.05);
  const wet = requireFinite('wetRwc', request.wetRwc ?? 1);
  const readings = request.readings ?? 1;
  if (!Number.isInteger(readings) || readings < 1) {
    throw new InputError('COUNT', 'readings', `${readings} is not a whole number from 1`, 'Give how many readings are averaged.');
  }
  if (fit.covarianceBasis === 'stated') {
    throw new InputError('NO_SCATTER', 'fit', 'this fit rests on stated uncertainties and does not say how a new reading scatters', 'Fit with covarianceBasis "residuals".');
  }
  if (!fit.convergence.converged) {
    throw new InputError('NOT_CONVERGED', 'fit', `the ${fit.family} fit did not come to rest`, 'Fit a family with fewer parameters, or add points.');
  }
  const scale = responseScaleOf(fit);
  const df = fit.degreesOfFreedom;
  const spread = Math.sqrt((fit.residualSd * fit.residualSd) / readings + scale.varianceAt(wet));
  const quantile = studentTQuantile(1 - alpha, df);
  const noncentrality = noncentralityFor(quantile, df, beta);
  return {
    criticalDrop: dropFor(fit, wet, quantile * spread),
    minimumDetectableDrop: dropFor(fit, wet, noncentrality * spread),
    alpha,
    beta,
    degreesOfFreedom: df,
    noncentrality,
  };
}

function requireShare(field: string, value: number): number {
  if (requireFinite(field, value) > 0 && value < 0.5) return value;
  throw new InputError('PROBABILITY', field, `${value} is not between 0 and 0.5`, 'Give e.g. 0.05.');
}

/** The δ with P(T(ν, δ) ≤ quantile) = β. */
function noncentralityFor(quantile: number, df: number, beta: number): number {
  const start = quantile - normalQuantile(beta);
  return increasingRoot((delta) => ({ value: beta - noncentralTCdf(quantile, df, delta) }), 0, 10 * start + 10, start);
}

/** How far RWC must fall for the response to move by `distance` on the scale of the fit. */
function dropFor(fit: FittedCurve, wet: number, distance: number): number {
  const scale = responseScaleOf(fit);
  const sign = fit.direction === 'falling' ? 1 : -1;
  const value = scale.transmittanceAt(scale.at(wet) + sign * distance);
  const reached = scale.family.inverse(fit.parameters, value);
  if (reached !== null && wet > 0 && reached < 0) {
    throw new InputError('OUT_OF_REACH', 'fit', `the drop would be ${(wet - reached).toPrecision(3)}, more than the leaf has (${wet}), so no drop is detectable at these error rates`, 'Average more readings, or calibrate over a wider range.');
  }
  if (reached !== null) return wet - reached;
  throw new InputError('OUT_OF_REACH', 'fit', `the ${fit.family} curve never takes the transmittance ${value.toPrecision(3)}, so no drop is detectable at these error rates`, 'Average more readings, or calibrate over a wider range.');
}
