import { InputError, requireFinite } from '#libs/quantity';
import type { MixedFit, VarianceKnowledge } from './mixed-fit.js';

/** A variance built from a fit: aᵀ·Cov(β)·a + Σ_levels zᵀ·Σ·z + residualWeight·σ². */
export interface VarianceCombination {
  /** a: one number for each fixed term. */
  readonly fixed: readonly number[];
  /** z for each level, outermost first; leave out for a level that takes no part. */
  readonly levels?: readonly (readonly number[] | undefined)[];
  /** How many σ² are added, for instance 1 for one new reading. */
  readonly residualWeight?: number;
}

/** A variance and how well it is known. */
export interface VarianceEstimate {
  readonly variance: number;
  readonly degreesOfFreedom: number;
  /** The share aᵀ·Cov(β)·a of it that comes from estimating the fixed effects. */
  readonly fixedVariance: number;
}

/**
 * The estimate of a combination of variances, with Satterthwaite's degrees of freedom 2v²/Var(v).
 *
 * Var(v) = gᵀ·A·g, with g the slope of v in the variance parameters and A their asymptotic covariance. Parameters at the boundary count
 * as known. Errors: `LENGTHS_DIFFER`, `NOT_FINITE`. Source: F. E. Satterthwaite, Biometrics Bull. 2 (1946) 110; checked against lmerTest.
 *
 * @example
 * const fit = fitMixedModel({
 *   response: [55, 53, 54, 26, 37, 32, 78, 91, 85, 92, 100, 96, 49, 51, 50, 80, 85, 83],
 *   fixed: [interceptTerm(18)],
 *   levels: [{ name: 'rail', groups: [...'111222333444555666'], terms: [interceptTerm(18)], covariance: 'full' }],
 *   method: 'REML',
 * });
 * estimateVariance(fit, { fixed: [1] }).degreesOfFreedom.toFixed(6) // => '5.000000'
 */
export function estimateVariance(fit: MixedFit, combination: VarianceCombination): VarianceEstimate {
  const { fixed, levels = [], residualWeight = 0 } = combination;
  requireLength('fixed', fixed, fit.fixedCovariance.length);
  requireFinite('residualWeight', residualWeight);
  const sigma2 = fit.residualSd ** 2;
  const fixedVariance = quadraticForm(fixed, fit.fixedCovariance);
  const levelVariances = fit.levels.map((level, l) => {
    const z = levels[l];
    if (z === undefined) return 0;
    requireLength(`levels[${l}]`, z, level.sd.length);
    return quadraticForm(z, level.covariance);
  });
  const between = levelVariances.reduce((sum, value) => sum + value, 0);
  const variance = fixedVariance + between + residualWeight * sigma2;
  const slopes = fit.variances.parameters.map((parameter, k) => {
    const ofFixed = quadraticForm(fixed, fit.variances.fixedCovarianceSlopes[k]!);
    if (parameter.kind === 'log residual sd') return ofFixed + 2 * (between + residualWeight * sigma2);
    const z = levels[parameter.level];
    if (z === undefined) return ofFixed;
    const factor = fit.levels[parameter.level]!.relativeFactor;
    const along = z.reduce((sum, value, i) => sum + value * factor[i]![parameter.column]!, 0);
    return ofFixed + 2 * sigma2 * z[parameter.row]! * along;
  });
  return { variance, fixedVariance, degreesOfFreedom: (2 * variance * variance) / quadraticForm(slopes, fit.variances.covariance) };
}

/** Satterthwaite's degrees of freedom of one fixed coefficient. */
export function fixedDegrees(fixedCovariance: readonly (readonly number[])[], variances: VarianceKnowledge, i: number): number {
  const variance = fixedCovariance[i]![i]!;
  const slopes = variances.fixedCovarianceSlopes.map((matrix) => matrix[i]![i]!);
  return (2 * variance * variance) / quadraticForm(slopes, variances.covariance);
}

export function quadraticForm(a: readonly number[], matrix: readonly (readonly number[])[]): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 1) for (let j = 0; j < a.length; j += 1) sum += a[i]! * matrix[i]![j]! * a[j]!;
  return sum;
}

function requireLength(field: string, values: readonly number[], expected: number): void {
  if (values.length !== expected) {
    throw new InputError('LENGTHS_DIFFER', field, `has ${values.length} numbers where the model has ${expected} terms`, 'Give one number per term.');
  }
  values.forEach((value, i) => requireFinite(`${field}[${i}]`, value));
}
