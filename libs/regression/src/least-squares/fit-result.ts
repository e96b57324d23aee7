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

/**
 * All that a least-squares fit knows. Arrays over observations stand in the order the observations were given.
 * Residuals are observed − fitted in the unit of the response; sums and diagnostics are weighted.
 */
export interface LeastSquaresFit {
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
  /** 2-norm condition number of the weighted design with its columns scaled to unit length. */
  readonly conditionNumber: number;
  readonly convergence: LeastSquaresConvergence;
  /** Indices of parameters that rest on a bound: their standard errors are zero by construction, not by knowledge. */
  readonly parametersAtBound: readonly number[];
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
export interface Solution {
  readonly parameterNames: readonly string[];
  readonly parameters: Float64Array;
  readonly unscaledCovariance: ColumnMatrix;
  readonly qr: PivotedQr;
  readonly fitted: Float64Array;
  readonly residuals: Float64Array;
  readonly rootWeights: Float64Array | null;
  readonly residualSumOfSquares: number;
  readonly covarianceBasis: CovarianceBasis;
  readonly convergence: LeastSquaresConvergence;
  readonly parametersAtBound: readonly number[];
}

export function summarise(solution: Solution): LeastSquaresFit {
  const { parameters, unscaledCovariance, qr, residualSumOfSquares, covarianceBasis } = solution;
  const p = parameters.length;
  const degreesOfFreedom = solution.residuals.length - qr.columns;
  const residualSd = Math.sqrt(residualSumOfSquares / degreesOfFreedom);
  const scale = covarianceBasis === 'stated' ? 1 : residualSd * residualSd;
  const covariance = Array.from({ length: p }, (_, i) =>
    Array.from({ length: p }, (_, j) => scale * unscaledCovariance.data[j * p + i]!),
  );
  const rootDiagonal = Array.from({ length: p }, (_, i) => Math.sqrt(unscaledCovariance.data[i * p + i]!));
  return {
    parameterNames: solution.parameterNames,
    parameters: Array.from(parameters),
    standardErrors: rootDiagonal.map((root) => (covarianceBasis === 'stated' ? 1 : residualSd) * root),
    covariance,
    // From the unscaled covariance: an exact fit has a correlation too, though its covariance is zero.
    correlation: covariance.map((row, i) =>
      row.map((_, j) => {
        if (i === j) return 1;
        const product = rootDiagonal[i]! * rootDiagonal[j]!;
        return product === 0 ? 0 : unscaledCovariance.data[j * p + i]! / product;
      }),
    ),
    covarianceBasis,
    residualSumOfSquares,
    degreesOfFreedom,
    residualSd,
    conditionNumber: conditionNumber(qr),
    convergence: solution.convergence,
    parametersAtBound: solution.parametersAtBound,
    fitted: Array.from(solution.fitted),
    residuals: Array.from(solution.residuals),
    ...influence(solution, residualSd, degreesOfFreedom),
  };
}

/** 1 − leverage at or below this is rounding. */
const ALONE = 1e-12;

function influence(solution: Solution, residualSd: number, degreesOfFreedom: number) {
  const { residuals, rootWeights, residualSumOfSquares, qr } = solution;
  const leverage = Array.from(leverages(qr), (h) => Math.min(h, 1));
  const weighted = Array.from(residuals, (r, i) => r * (rootWeights?.[i] ?? 1));
  // A point with leverage one fixes a parameter alone: its residual is zero whatever it reads, and says nothing.
  const own = leverage.map((h) => (1 - h > ALONE ? 1 - h : 0));
  const standardisedResiduals = weighted.map((r, i) => {
    const spread = residualSd * Math.sqrt(own[i]!);
    return spread > 0 ? r / spread : null;
  });
  const deletedResiduals = weighted.map((r, i) => {
    const variance = (residualSumOfSquares - (r * r) / own[i]!) / (degreesOfFreedom - 1);
    return own[i]! > 0 && degreesOfFreedom > 1 && variance > 0 ? r / Math.sqrt(variance * own[i]!) : null;
  });
  const cooksDistance = standardisedResiduals.map((r, i) => (r === null ? null : (r * r * leverage[i]!) / (own[i]! * qr.columns)));
  return { leverage, standardisedResiduals, deletedResiduals, cooksDistance };
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
