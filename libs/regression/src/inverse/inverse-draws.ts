import { createStream, quantileOfSorted, symmetricEigen, type RandomStream } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import type { FittedCurve } from '../families/fit-family.js';
import { readingOf, type InverseRequest } from './inverse-predict.js';
import { responseScaleOf } from './response-scale.js';

export interface DrawRequest extends InverseRequest {
  readonly seed: bigint | string;
  /** First draw and how many: any thread may take any stretch, the draws are the same. */
  readonly from: number;
  readonly count: number;
}

/**
 * Monte Carlo draws of the water content for a transmittance (JCGM 101:2008): parameters from their joint distribution,
 * the reading from its own, each pair read backwards. Where scatter was estimated, both are scaled by the same draw of
 * √(ν/χ²), which makes them Student t with the fit's degrees of freedom (JCGM 101 6.4.9).
 *
 * @returns one value a draw; NaN where the drawn curve never takes the drawn transmittance
 * @throws InputError as inversePredict; COUNT
 * @example
 * const points = [[1, 0.15], [0.8, 0.182], [0.6, 0.225], [0.5, 0.248]].map(([rwc, transmittance]) => ({ rwc, transmittance }));
 * const request = { transmittance: 0.2, seed: '1' };
 * const fit = fitFamily('log-linear', points);
 * const whole = inverseDraws(fit, { ...request, from: 0, count: 4 });
 * inverseDraws(fit, { ...request, from: 2, count: 2 }) // => whole.slice(2)
 */
export function inverseDraws(fit: FittedCurve, request: DrawRequest): Float64Array {
  for (const name of ['from', 'count'] as const) {
    if (!Number.isInteger(request[name]) || request[name] < 0) {
      throw new InputError('COUNT', name, `${request[name]} is not a whole number from 0`, 'Give a whole number.');
    }
  }
  const scale = responseScaleOf(fit);
  const reading = readingOf(fit, scale, request);
  const root = rootOfCovariance(fit.covariance);
  const p = fit.parameters.length;
  const df = reading.degreesOfFreedom;
  const stream = createStream(request.seed, 0);
  const perDraw = p + 1 + (df === Infinity ? 0 : Math.ceil(df / 2));
  const draws = new Float64Array(request.count);
  const parameters = new Float64Array(p);
  const z = new Float64Array(p);
  const readingSd = Math.sqrt(reading.variance);
  const covarianceRoot = Math.sqrt(reading.covarianceFactor);
  for (let i = 0; i < request.count; i++) {
    const at = (request.from + i) * perDraw;
    const stretch = df === Infinity ? 1 : Math.sqrt(df / chiSquaredDraw(stream, at + p + 1, df));
    const response = reading.response + stretch * readingSd * stream.normalAt(at);
    for (let k = 0; k < p; k++) z[k] = stretch * covarianceRoot * stream.normalAt(at + 1 + k);
    for (let k = 0; k < p; k++) {
      let shift = 0;
      for (let l = 0; l < p; l++) shift += root[k * p + l]! * z[l]!;
      parameters[k] = fit.parameters[k]! + shift;
    }
    draws[i] = scale.family.inverse(parameters, scale.transmittanceAt(response)) ?? NaN;
  }
  return draws;
}

/** χ² of whole ν: −2 ln of a product of ν/2 uniform draws, and a squared normal deviate where ν is odd. */
function chiSquaredDraw(stream: RandomStream, at: number, df: number): number {
  const pairs = Math.floor(df / 2);
  let sum = 0;
  let product = 1;
  for (let k = 0; k < pairs; k++) {
    product *= stream.at(at + k);
    // Long before the product could underflow.
    if (k % 16 === 15) {
      sum -= 2 * Math.log(product);
      product = 1;
    }
  }
  sum -= 2 * Math.log(product);
  return df % 2 === 0 ? sum : sum + stream.normalAt(at + pairs) ** 2;
}

/** A with A·Aᵀ = covariance, zero variances allowed; by the correlation matrix, so that units do not matter. */
function rootOfCovariance(covariance: readonly (readonly number[])[]): Float64Array {
  const p = covariance.length;
  const sd = covariance.map((row, i) => Math.sqrt(row[i]!));
  const data = new Float64Array(p * p);
  covariance.forEach((row, i) =>
    row.forEach((c, j) => (data[i * p + j] = i === j ? 1 : sd[i]! > 0 && sd[j]! > 0 ? c / (sd[i]! * sd[j]!) : 0)),
  );
  const { values, vectors } = symmetricEigen({ rows: p, cols: p, data });
  const root = new Float64Array(p * p);
  for (let i = 0; i < p; i++) {
    // A correlation matrix of near-dependent parameters may have an eigenvalue a rounding below zero.
    for (let k = 0; k < p; k++) root[i * p + k] = sd[i]! * vectors.data[i * p + k]! * Math.sqrt(Math.max(values[k]!, 0));
  }
  return root;
}

export interface DrawSummary {
  readonly draws: number;
  /** Draws that had an answer; the rest are in no figure below. */
  readonly answered: number;
  readonly mean: number;
  readonly standardDeviation: number;
  readonly median: number;
  /** Equal shares of draws beyond either end. */
  readonly symmetric: { readonly lower: number; readonly upper: number };
  /** The narrowest interval that holds the level (JCGM 101 7.7). */
  readonly shortest: { readonly lower: number; readonly upper: number };
}

/**
 * Sums draws up; stretches from several threads are first joined in any order.
 *
 * @throws InputError TOO_FEW_DRAWS where fewer than 100 have an answer
 * @example
 * summariseDraws(Float64Array.from({ length: 1001 }, (_, i) => i)).symmetric // => { lower: 25, upper: 975 }
 */
export function summariseDraws(draws: Float64Array, level = 0.95): DrawSummary {
  const sorted = draws.filter((value) => !Number.isNaN(value)).sort();
  const n = sorted.length;
  if (n < 100) {
    throw new InputError('TOO_FEW_DRAWS', 'draws', `only ${n} of ${draws.length} draws have an answer`, 'Draw more, or see whether the curve takes this transmittance at all.');
  }
  const mean = sorted.reduce((sum, value) => sum + value, 0) / n;
  const standardDeviation = Math.sqrt(sorted.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (n - 1));
  const held = Math.min(n - 1, Math.round(level * n));
  let first = 0;
  for (let i = 0; i + held < n; i++) {
    if (sorted[i + held]! - sorted[i]! < sorted[first + held]! - sorted[first]!) first = i;
  }
  return {
    draws: draws.length,
    answered: n,
    mean,
    standardDeviation,
    median: quantileOfSorted(sorted, 0.5),
    symmetric: { lower: quantileOfSorted(sorted, (1 - level) / 2), upper: quantileOfSorted(sorted, (1 + level) / 2) },
    shortest: { lower: sorted[first]!, upper: sorted[first + held]! },
  };
}
