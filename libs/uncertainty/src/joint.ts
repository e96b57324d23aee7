import { zeros, type Matrix } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import { propagate, type Measurement, type UncertaintyBudget } from './budget.js';
import type { Model } from './derivative.js';

/** Several outputs of the same sources, with what ties them together. */
export interface JointResult {
  /** One budget for each model, in their order. */
  readonly budgets: readonly UncertaintyBudget[];
  /** Covariance matrix of the outputs. */
  readonly covariance: Matrix;
  /** Correlation coefficients of the outputs. */
  readonly correlation: Matrix;
}

/**
 * Several outputs computed from the same sources, with their covariance C·V·Cᵀ: whoever combines them later needs it.
 *
 * Domain and errors as {@link propagate}, for each model; `NO_MODEL` where none is given. Source: JCGM 100:2008, 5.2.2 and H.2; JCGM 102:2011, 6.2.
 *
 * @example
 * const joint = propagateJointly({ sources: [normalSource('a', 1, 1), normalSource('b', 2, 1)] }, [([a, b]) => a + b, ([a]) => a]);
 * Number(element(joint.correlation, 0, 1).toFixed(9)) // => 0.707106781
 */
export function propagateJointly(inputs: Omit<Measurement, 'model' | 'sensitivities'>, models: readonly Model[]): JointResult {
  if (models.length === 0) throw new InputError('NO_MODEL', 'models', 'no model is given', 'Give one model for each output.');
  const budgets = models.map((model) => propagate({ ...inputs, model }));
  const outputs = models.length;
  const covariance = zeros(outputs, outputs);
  const correlation = zeros(outputs, outputs);
  for (let a = 0; a < outputs; a += 1) {
    for (let b = 0; b <= a; b += 1) {
      const shared = a === b ? budgets[a]!.standardUncertainty ** 2 : sharedVariance(budgets[a]!, budgets[b]!);
      const scale = budgets[a]!.standardUncertainty * budgets[b]!.standardUncertainty;
      covariance.data[a * outputs + b] = covariance.data[b * outputs + a] = shared;
      correlation.data[a * outputs + b] = correlation.data[b * outputs + a] = a === b ? 1 : shared / scale;
    }
  }
  return { budgets, covariance, correlation };
}

/** Σᵢ Σⱼ (c_a·u)ᵢ rᵢⱼ (c_b·u)ⱼ, from the lines and correlations that both budgets state. */
function sharedVariance(a: UncertaintyBudget, b: UncertaintyBudget): number {
  const position = new Map(a.lines.map((line, i) => [line.name, i] as const));
  let sum = a.lines.reduce((total, line, i) => total + line.contribution * b.lines[i]!.contribution, 0);
  for (const { first, second, coefficient } of a.correlations) {
    const i = position.get(first)!;
    const j = position.get(second)!;
    sum += coefficient * (a.lines[i]!.contribution * b.lines[j]!.contribution + a.lines[j]!.contribution * b.lines[i]!.contribution);
  }
  return sum;
}
