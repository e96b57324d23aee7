import { singularValues } from '#libs/numeric';
import { leverages, upperTriangle, type ColumnMatrix, type PivotedQr } from './qr.js';

/**
 * Where the size of the noise comes from.
 *
 * - `residuals`: weights are relative; the scatter about the fit sets the scale (residual variance).
 * - `stated`: weights are 1/u² with u known from an uncertainty budget; the covariance is not rescaled, and the
 *   weighted residual sum is a chi-squared to be tested. Nothing is rescaled silently: the basis is in the result.
 */
export type CovarianceBasis = 'residuals' | 'stated';

export type LeastSquaresReason =
  | 'direct-solution'
  | 'step-below-tolerance'
  | 'gradient-zero'
  | 'no-further-descent'
  | 'iteration-limit';

export interface LeastSquaresConvergence {
  readonly converged: boolean;
  readonly reason: LeastSquaresReason;
  /** Accepted and refused trial steps of the search; refinement passes for a direct solution. */
  readonly iterations: number;
  /**
   * Relative offset of Bates & Watts (Technometrics 23 (1981) 179-183): length of the residual's projection on the
   * tangent plane over that on its complement, per degree of freedom. Below 0.001 the point is statistically at rest.
   */
  readonly relativeOffset: number;
}

/** What a fit says of its parameters. */
export interface ParameterFit {
  readonly parameterNames: readonly string[];
  readonly parameters: readonly number[];
  readonly standardErrors: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  readonly correlation: readonly (readonly number[])[];
  readonly covarianceBasis: CovarianceBasis;
  /** Σ w·(observed − fitted)². With `stated` weights this is chi-squared. */
  readonly residualSumOfSquares: number;
  readonly degreesOfFreedom: number;
  /** √(residual sum / degrees of freedom). */
  readonly residualSd: number;
  readonly convergence: LeastSquaresConvergence;
  /** Indices of parameters that rest on a bound: their standard errors are zero by construction, not by knowledge. */
  readonly parametersAtBound: readonly number[];
}

/**
 * All that a least-squares fit knows. Arrays over observations stand in the order the observations were given.
 * Residuals are observed − fitted in the unit of the response; sums and diagnostics are weighted.
 */
export interface LeastSquaresFit extends ParameterFit {
  /** 2-norm condition number of the weighted design with its columns scaled to unit length. */
  readonly conditionNumber: number;
  readonly fitted: readonly number[];
  readonly residuals: readonly number[];
  readonly leverage: readonly number[];
  /** Residual over its own standard deviation (internally studentised); null where that is zero. */
  readonly standardisedResiduals: readonly (number | null)[];
  /** The same with the observation left out of the variance (externally studentised); null where undefined. */
  readonly deletedResiduals: readonly (number | null)[];
  /** Cook, Technometrics 19 (1977) 15-18; null where undefined. */
  readonly cooksDistance: readonly (number | null)[];
}

/** What a solver hands over to be summarised. Covariance is (XᵀWX)⁻¹, not yet scaled. */
export interface ParameterSolution {
  readonly parameterNames: readonly string[];
  readonly parameters: Float64Array;
  readonly unscaledCovariance: ColumnMatrix;
  readonly qr: PivotedQr;
  readonly residualSumOfSquares: number;
  readonly covarianceBasis: CovarianceBasis;
  readonly convergence: LeastSquaresConvergence;
  readonly parametersAtBound: readonly number[];
}

export interface Solution extends ParameterSolution {
  readonly fitted: Float64Array;
  readonly residuals: Float64Array;
  readonly rootWeights: Float64Array | null;
}

export function summarise(solution: Solution): LeastSquaresFit {
  const fit = summariseParameters(solution);
  return {
    ...fit,
    conditionNumber: conditionNumber(solution.qr),
    fitted: plain(solution.fitted),
    residuals: plain(solution.residuals),
    ...influence(solution, fit.residualSd, fit.degreesOfFreedom),
  };
}

export function summariseParameters(solution: ParameterSolution): ParameterFit {
  const { parameters, unscaledCovariance, qr, residualSumOfSquares, covarianceBasis } = solution;
  const p = parameters.length;
  const degreesOfFreedom = qr.rows - qr.columns;
  const residualSd = Math.sqrt(residualSumOfSquares / degreesOfFreedom);
  const scale = covarianceBasis === 'stated' ? 1 : residualSd * residualSd;
  const { data } = unscaledCovariance;
  const rootDiagonal = new Array<number>(p);
  const standardErrors = new Array<number>(p);
  for (let i = 0; i < p; i++) {
    rootDiagonal[i] = Math.sqrt(data[i * p + i]!);
    standardErrors[i] = (covarianceBasis === 'stated' ? 1 : residualSd) * rootDiagonal[i]!;
  }
  return {
    parameterNames: solution.parameterNames,
    parameters: plain(parameters),
    standardErrors,
    covariance: square(p, (i, j) => scale * data[j * p + i]!),
    // From the unscaled covariance: an exact fit has a correlation too, though its covariance is zero.
    correlation: square(p, (i, j) => {
      if (i === j) return 1;
      const product = rootDiagonal[i]! * rootDiagonal[j]!;
      return product === 0 ? 0 : data[j * p + i]! / product;
    }),
    covarianceBasis,
    residualSumOfSquares,
    degreesOfFreedom,
    residualSd,
    convergence: solution.convergence,
    parametersAtBound: solution.parametersAtBound,
  };
}

/** 1 − leverage at or below this is rounding. */
const ALONE = 1e-12;

function influence(solution: Solution, residualSd: number, degreesOfFreedom: number) {
  const { residuals, rootWeights, residualSumOfSquares, qr } = solution;
  const n = residuals.length;
  const leverage = plain(leverages(qr));
  const standardisedResiduals = new Array<number | null>(n);
  const deletedResiduals = new Array<number | null>(n);
  const cooksDistance = new Array<number | null>(n);
  for (let i = 0; i < n; i++) {
    const h = (leverage[i] = Math.min(leverage[i]!, 1));
    const r = residuals[i]! * (rootWeights === null ? 1 : rootWeights[i]!);
    // A point with leverage one fixes a parameter alone: its residual is zero whatever it reads, and says nothing.
    const own = 1 - h > ALONE ? 1 - h : 0;
    const spread = residualSd * Math.sqrt(own);
    const variance = (residualSumOfSquares - (r * r) / own) / (degreesOfFreedom - 1);
    const standardised = spread > 0 ? r / spread : null;
    standardisedResiduals[i] = standardised;
    deletedResiduals[i] = own > 0 && degreesOfFreedom > 1 && variance > 0 ? r / Math.sqrt(variance * own) : null;
    cooksDistance[i] = standardised === null ? null : (standardised * standardised * h) / (own * qr.columns);
  }
  return { leverage, standardisedResiduals, deletedResiduals, cooksDistance };
}

function square(size: number, element: (i: number, j: number) => number): number[][] {
  const rows = new Array<number[]>(size);
  for (let i = 0; i < size; i++) {
    const row = (rows[i] = new Array<number>(size));
    for (let j = 0; j < size; j++) row[j] = element(i, j);
  }
  return rows;
}

function plain(values: Float64Array): number[] {
  const list = new Array<number>(values.length);
  for (let i = 0; i < values.length; i++) list[i] = values[i]!;
  return list;
}

/** Of R with its columns scaled to unit length, so that it does not depend on the units of the parameters. */
function conditionNumber(qr: PivotedQr): number {
  const r = upperTriangle(qr);
  const n = r.columns;
  for (let j = 0; j < n; j++) {
    const column = r.data.subarray(j * n, j * n + n);
    const norm = Math.hypot(...column);
    for (let i = 0; i < n; i++) column[i] = column[i]! / norm;
  }
  // A matrix and its transpose have the same singular values, so column order and row order are one here.
  const { values } = singularValues({ rows: n, cols: n, data: r.data });
  return n === 0 ? 1 : values[0]! / values[n - 1]!;
}
