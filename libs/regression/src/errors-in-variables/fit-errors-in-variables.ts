import { chiSquareQuantile, chiSquareSurvival, cholesky, type Matrix } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import {
  applyTransposed,
  backSubstitute,
  columnMatrix,
  factorise,
  inverseOfCrossProduct,
  requireFullRank,
  type ColumnMatrix,
} from '../least-squares/qr.js';
import { requireMorePointsThanParameters } from '../least-squares/linear.js';
import { jointCovariance, type JointCovariance, type UncertainPairs } from './joint-covariance.js';
import type { EivModel } from './model.js';

export interface EivOptions {
  /** Default: an ordinary fit that takes x as exact. */
  readonly start?: readonly number[];
  /** Default 500. */
  readonly maxIterations?: number;
}

export interface EivFit {
  readonly model: string;
  readonly parameterNames: readonly string[];
  readonly parameters: readonly number[];
  readonly standardErrors: readonly number[];
  /** Gauss-Newton at the adjusted x, from the stated uncertainties, never rescaled: see {@link fitErrorsInVariables}. */
  readonly covariance: readonly (readonly number[])[];
  readonly correlation: readonly (readonly number[])[];
  readonly covarianceConvention: 'gauss-newton-at-adjusted-x';
  readonly chiSquared: number;
  readonly degreesOfFreedom: number;
  /** P(χ² at least this large), if model and uncertainties are right. */
  readonly pValue: number;
  /** 95 % point of χ²: above it, model and stated uncertainties contradict the data. */
  readonly chiSquaredLimit: number;
  readonly consistent: boolean;
  readonly adjustedX: readonly number[];
  readonly adjustedY: readonly number[];
  /** Largest |observed − adjusted| over its standard uncertainty, x and y alike (ISO 6143 calls it Γ). */
  readonly greatestWeightedDeviation: number;
  readonly convergence: {
    readonly converged: boolean;
    readonly reason: 'step-below-tolerance' | 'iteration-limit';
    readonly iterations: number;
  };
}

/**
 * Fits y = f(x; β) where both x and y are uncertain and may be correlated, among themselves and with each other.
 *
 * Minimises vᵀU⁻¹v over corrections v to all observations, subject to every corrected point lying on the curve (ISO/TS
 * 28037:2010; ISO 6143:2001), by Gauss-Helmert steps linearised at the corrected points (Pope, 1972). Exact values
 * (zero uncertainty) are allowed in x or y, not in both of one point.
 *
 * Standard errors: two conventions are in print. Ours is Gauss-Newton at the adjusted x, (JᵀV⁻¹J)⁻¹ with V the covariance
 * of y − f(x) propagated at the adjusted x (ISO/TS 28037; York et al., Am. J. Phys. 72 (2004) 367-375), not the
 * propagation of each observation's uncertainty through the estimator (Kalantar).
 *
 * @throws InputError SHAPE, NOT_FINITE, NEGATIVE, NOT_SYMMETRIC, NOT_POSITIVE_DEFINITE, TOO_FEW_POINTS, SINGULAR_DESIGN,
 *   OUT_OF_DOMAIN
 * @example
 * const line = fitErrorsInVariables(polynomialModel(1), {
 *   x: [1.2, 1.9, 2.9, 4.0, 4.7, 5.9], uX: [0.2, 0.2, 0.2, 0.2, 0.2, 0.2],
 *   y: [3.4, 4.4, 7.2, 8.5, 10.8, 13.5], uY: [0.2, 0.2, 0.2, 0.4, 0.4, 0.4],
 * });
 * line.parameters.map((value) => value.toFixed(4)) // => ['0.5788', '2.1597']
 * line.standardErrors.map((u) => u.toFixed(4)) // => ['0.4764', '0.1355']
 */
export function fitErrorsInVariables(model: EivModel, data: UncertainPairs, options: EivOptions = {}): EivFit {
  const uncertainty = jointCovariance(data);
  const n = data.x.length;
  const p = model.parameterNames.length;
  requireMorePointsThanParameters(n, p);
  let parameters = Float64Array.from(options.start ?? model.initial(data.x, data.y));
  if (parameters.length !== p) {
    throw new InputError('SHAPE', 'start', `${parameters.length} values for ${p} parameters`, 'Give one starting value a parameter.');
  }
  const maxIterations = options.maxIterations ?? 500;
  let adjustedX = Float64Array.from(data.x);
  let lastSize = Infinity;
  let damping = 1;
  for (let iterations = 1; ; iterations++) {
    const step = helmertStep(model, data, uncertainty, parameters, adjustedX);
    const size = Math.max(...step.change.map((d, k) => Math.abs(d) / Math.sqrt(step.covariance.data[k * p + k]!)), step.shift);
    // Steps that grow mean the tangent overreaches: go a part of the way, and win the full step back once they shrink.
    damping = size > lastSize ? Math.max(damping / 2, 1 / 64) : Math.min(1, damping * 1.5);
    lastSize = size;
    const settled = size < SETTLED;
    const part = settled ? 1 : damping;
    parameters = parameters.map((value, k) => value + part * step.change[k]!);
    adjustedX = adjustedX.map((value, i) => value + part * (step.adjustedX[i]! - value));
    if (settled || iterations >= maxIterations) {
      const last = helmertStep(model, data, uncertainty, parameters, adjustedX);
      return describe(model, data, uncertainty, parameters, last, settled, iterations);
    }
  }
}

/** In standard uncertainties: far below what any of them is known to, and well above rounding. */
const SETTLED = 1e-11;

interface HelmertStep {
  readonly change: Float64Array;
  readonly covariance: ColumnMatrix;
  readonly adjustedX: Float64Array;
  readonly correctionY: Float64Array;
  /** Largest move of an adjusted x, in its standard uncertainty. */
  readonly shift: number;
  readonly chiSquared: number;
}

function helmertStep(
  model: EivModel,
  data: UncertainPairs,
  u: JointCovariance,
  parameters: Float64Array,
  adjustedX: Float64Array,
): HelmertStep {
  const n = data.x.length;
  const p = parameters.length;
  const slopes = adjustedX.map((x) => model.slope(parameters, x));
  const misclosure = adjustedX.map((x, i) => data.y[i]! - model.value(parameters, x) - slopes[i]! * (data.x[i]! - x));
  const bad = misclosure.findIndex((value) => !Number.isFinite(value));
  if (bad >= 0) {
    throw new InputError('OUT_OF_DOMAIN', `x[${bad}]`, `the ${model.name} has no value near x = ${adjustedX[bad]}`, 'Give a start nearer to the data, or fit another curve.');
  }
  const factor = cholesky(misclosureCovariance(u, slopes), 'uncertainty');
  const whitened = columnMatrix(n, p);
  const gradients = Array.from(adjustedX, (x) => model.gradient(parameters, x));
  const unit = new Float64Array(p);
  for (let k = 0; k < p; k++) {
    const column = factor.solveLower(gradients.map((g) => g[k]!));
    unit[k] = Math.hypot(...column) || 1;
    whitened.data.set(column.map((value) => value / unit[k]!), k * n);
  }
  const target = factor.solveLower(misclosure);
  const qr = factorise(whitened);
  requireFullRank(qr, model.parameterNames);
  const projected = Float64Array.from(target);
  applyTransposed(qr, projected);
  const solved = projected.slice(0, p);
  backSubstitute(qr, solved);
  const change = new Float64Array(p);
  for (let k = 0; k < p; k++) change[qr.pivot[k]!] = solved[k]! / unit[qr.pivot[k]!]!;

  const residual = misclosure.map((e, i) => e - gradients[i]!.reduce((sum, g, k) => sum + g * change[k]!, 0));
  const multipliers = factor.solve(residual);
  const next = new Float64Array(n);
  const correctionY = new Float64Array(n);
  let shift = 0;
  let chiSquared = 0;
  for (let i = 0; i < n; i++) {
    let vx = 0;
    let vy = 0;
    for (let j = 0; j < n; j++) {
      const lambda = multipliers[j]!;
      vx += (u.xx.data[i * n + j]! * slopes[j]! - u.xy.data[i * n + j]!) * lambda;
      vy += (u.xy.data[j * n + i]! * slopes[j]! - u.yy.data[i * n + j]!) * lambda;
    }
    next[i] = data.x[i]! + vx;
    correctionY[i] = vy;
    chiSquared += residual[i]! * multipliers[i]!;
    const ux = Math.sqrt(u.xx.data[i * n + i]!);
    if (ux > 0) shift = Math.max(shift, Math.abs(next[i]! - adjustedX[i]!) / ux);
  }
  return { change, covariance: inverseOfCrossProduct(qr, unit), adjustedX: next, correctionY, shift, chiSquared };
}

/** V = D·Uxx·D − D·Uxy − (D·Uxy)ᵀ + Uyy with D the slopes: the covariance of y − f(x). */
function misclosureCovariance(u: JointCovariance, slopes: Float64Array): Matrix {
  const n = slopes.length;
  const data = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      const value =
        slopes[i]! * u.xx.data[i * n + j]! * slopes[j]! -
        slopes[i]! * u.xy.data[i * n + j]! -
        slopes[j]! * u.xy.data[j * n + i]! +
        u.yy.data[i * n + j]!;
      data[i * n + j] = value;
      data[j * n + i] = value;
    }
  }
  return { rows: n, cols: n, data };
}

function describe(
  model: EivModel,
  data: UncertainPairs,
  u: JointCovariance,
  parameters: Float64Array,
  step: HelmertStep,
  converged: boolean,
  iterations: number,
): EivFit {
  const n = data.x.length;
  const p = parameters.length;
  const degreesOfFreedom = n - p;
  const covariance = Array.from({ length: p }, (_, i) => Array.from({ length: p }, (_, j) => step.covariance.data[j * p + i]!));
  const standardErrors = covariance.map((row, i) => Math.sqrt(row[i]!));
  const deviation = (correction: number, variance: number) => (variance > 0 ? Math.abs(correction) / Math.sqrt(variance) : 0);
  const deviations = Array.from({ length: n }, (_, i) =>
    Math.max(deviation(step.adjustedX[i]! - data.x[i]!, u.xx.data[i * n + i]!), deviation(step.correctionY[i]!, u.yy.data[i * n + i]!)),
  );
  const chiSquaredLimit = chiSquareQuantile(0.95, degreesOfFreedom);
  return {
    model: model.name,
    parameterNames: model.parameterNames,
    parameters: Array.from(parameters),
    standardErrors,
    covariance,
    correlation: covariance.map((row, i) => row.map((c, j) => (i === j ? 1 : c / (standardErrors[i]! * standardErrors[j]!)))),
    covarianceConvention: 'gauss-newton-at-adjusted-x',
    chiSquared: step.chiSquared,
    degreesOfFreedom,
    pValue: chiSquareSurvival(step.chiSquared, degreesOfFreedom),
    chiSquaredLimit,
    consistent: step.chiSquared <= chiSquaredLimit,
    adjustedX: Array.from(step.adjustedX),
    adjustedY: Array.from(step.correctionY, (v, i) => data.y[i]! + v),
    greatestWeightedDeviation: Math.max(...deviations),
    convergence: { converged, reason: converged ? 'step-below-tolerance' : 'iteration-limit', iterations },
  };
}
