import { InputError, requireFinite } from '#libs/quantity';
import type { EivFit } from './fit-errors-in-variables.js';
import type { EivModel } from './model.js';

export interface PredictedValues {
  readonly values: readonly number[];
  readonly standardUncertainties: readonly number[];
  /** Predictions from one fit are correlated through its parameters. */
  readonly covariance: readonly (readonly number[])[];
}

export interface UncertainValue {
  readonly value: number;
  /** Standard uncertainty, from 0. */
  readonly u: number;
}

/**
 * f at new, uncertain x: u²(y₀) = f′²·u²(x₀) + gᵀCg (law of propagation, JCGM 100:2008 5.2; ISO/TS 28037:2010 clause 11).
 *
 * @throws InputError NOT_FINITE, NEGATIVE
 * @example
 * const model = polynomialModel(1);
 * const fit = fitErrorsInVariables(model, { x: [1, 2, 3], uX: [0, 0, 0], y: [2, 4, 6], uY: [0.1, 0.1, 0.1] });
 * predictFrom(model, fit, [{ value: 2, u: 0 }]).standardUncertainties[0] // => Math.sqrt(0.01 / 3)
 */
export function predictFrom(model: EivModel, fit: EivFit, at: readonly UncertainValue[]): PredictedValues {
  const terms = at.map(({ value, u }, i) => ({
    value: model.value(fit.parameters, requireFinite(`at[${i}].value`, value)),
    own: model.slope(fit.parameters, value) * requireUncertainty(`at[${i}].u`, u),
    gradient: model.gradient(fit.parameters, value),
  }));
  return combine(fit, terms);
}

/**
 * x of new, uncertain y: u²(x₀) = (u²(y₀) + gᵀCg) / f′², first order: see inversePredict for Fieller's set.
 *
 * @throws InputError NOT_FINITE, NEGATIVE, NEVER_REACHED
 * @example
 * const model = polynomialModel(1);
 * const fit = fitErrorsInVariables(model, { x: [1, 2, 3], uX: [0, 0, 0], y: [2, 4, 6], uY: [0.1, 0.1, 0.1] });
 * invertAt(model, fit, [{ value: 4, u: 0.1 }]).values // => [2]
 */
export function invertAt(model: EivModel, fit: EivFit, at: readonly UncertainValue[]): PredictedValues {
  const terms = at.map(({ value, u }, i) => {
    const x = model.inverse(fit.parameters, requireFinite(`at[${i}].value`, value));
    if (x === null) {
      throw new InputError('NEVER_REACHED', `at[${i}].value`, `the ${model.name} does not take ${value} at one single x`, 'Give a value within the calibrated range.');
    }
    const slope = model.slope(fit.parameters, x);
    return {
      value: x,
      own: requireUncertainty(`at[${i}].u`, u) / slope,
      gradient: model.gradient(fit.parameters, x).map((g) => g / slope),
    };
  });
  return combine(fit, terms);
}

function requireUncertainty(field: string, u: number): number {
  if (requireFinite(field, u) >= 0) return u;
  throw new InputError('NEGATIVE', field, `${u} is below zero`, 'Give a standard uncertainty from 0.');
}

function combine(fit: EivFit, terms: readonly { value: number; own: number; gradient: readonly number[] }[]): PredictedValues {
  const shared = (a: readonly number[], b: readonly number[]) =>
    a.reduce((sum, ai, i) => sum + b.reduce((row, bj, j) => row + ai * bj * fit.covariance[i]![j]!, 0), 0);
  const covariance = terms.map((a, i) => terms.map((b, j) => shared(a.gradient, b.gradient) + (i === j ? a.own * a.own : 0)));
  return {
    values: terms.map((term) => term.value),
    standardUncertainties: covariance.map((row, i) => Math.sqrt(row[i]!)),
    covariance,
  };
}
