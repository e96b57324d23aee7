import { families } from '../families/fit-family.js';
import type { FittedCurve } from '../families/fit-family.js';
import type { Family } from '../families/family.js';

/** A fitted curve on the scale it was fitted on: T itself, or ln T. */
export interface ResponseScale {
  readonly family: Family;
  /** True where response and predictor, each transformed, form a straight line. */
  readonly isLine: boolean;
  of(transmittance: number): number;
  transmittanceAt(response: number): number;
  /** Standard uncertainty of T to that of the response. */
  uncertaintyOf(transmittance: number, u: number): number;
  at(x: number): number;
  slopeAt(x: number): number;
  /** u²(f(x)): gradientᵀ·covariance·gradient. */
  varianceAt(x: number): number;
  /** u²(f′(x)). */
  slopeVarianceAt(x: number): number;
}

export function responseScaleOf(fit: FittedCurve): ResponseScale {
  const family = families[fit.family];
  const relative = fit.errorScale === 'relative';
  const { parameters } = fit;
  const t = (x: number) => family.predict(parameters, x);
  const quadratic = (vector: readonly number[]) =>
    vector.reduce((sum, vi, i) => sum + vector.reduce((row, vj, j) => row + vi * vj * fit.covariance[i]![j]!, 0), 0);
  return {
    family,
    isLine: family.line !== null && family.line.errorScale === fit.errorScale,
    of: (value) => (relative ? Math.log(value) : value),
    transmittanceAt: (response) => (relative ? Math.exp(response) : response),
    uncertaintyOf: (value, u) => (relative ? u / value : u),
    at: (x) => (relative ? Math.log(t(x)) : t(x)),
    slopeAt: (x) => family.slope(parameters, x) / (relative ? t(x) : 1),
    varianceAt: (x) => quadratic(family.gradient(parameters, x).map((d) => (relative ? d / t(x) : d))),
    slopeVarianceAt(x) {
      const slopes = family.slopeGradient(parameters, x);
      if (!relative) return quadratic(slopes);
      const value = t(x);
      const slope = family.slope(parameters, x);
      const gradient = family.gradient(parameters, x);
      return quadratic(slopes.map((d, k) => d / value - (slope * gradient[k]!) / (value * value)));
    },
  };
}
