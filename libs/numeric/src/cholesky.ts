import { InputError } from '#libs/quantity';
import { requireShape, requireSymmetric, zeros, type Matrix } from './matrix.js';

/** A = L·Lᵀ with what one does with it. */
export interface Cholesky {
  /** The lower triangular factor L. */
  readonly lower: Matrix;
  /** ln det A. */
  readonly logDeterminant: number;
  /** A⁻¹·b. */
  solve(b: ArrayLike<number>): Float64Array;
  /** L⁻¹·b: whitens a vector with covariance A. */
  solveLower(b: ArrayLike<number>): Float64Array;
  /** A⁻¹, symmetric to the last bit. */
  inverse(): Matrix;
}

/**
 * Cholesky factor of a symmetric positive definite matrix.
 *
 * Domain: n × n, symmetric, positive definite; a pivot below n·ε of its diagonal counts as zero. Errors: `SHAPE`, `NOT_FINITE`,
 * `NOT_SYMMETRIC`, `NOT_POSITIVE_DEFINITE`. Source: G. H. Golub and C. F. Van Loan, Matrix Computations, 4th ed., 4.2 (from memory).
 *
 * @example
 * Array.from(cholesky(matrixFromRows([[4, 2], [2, 3]])).solve([8, 7])) // => [1.25, 1.5]
 */
export function cholesky(a: Matrix, field = 'a'): Cholesky {
  requireSymmetric(field, a);
  const n = a.rows;
  const lower = zeros(n, n);
  const l = lower.data;
  let logDeterminant = 0;
  for (let j = 0; j < n; j += 1) {
    let pivot = a.data[j * n + j]!;
    for (let k = 0; k < j; k += 1) pivot -= l[j * n + k]! ** 2;
    if (!(pivot > n * Number.EPSILON * Math.abs(a.data[j * n + j]!))) {
      throw new InputError(
        'NOT_POSITIVE_DEFINITE',
        `${field}[${j}][${j}]`,
        `the matrix is not positive definite: pivot ${pivot} in row ${j}`,
        'Check for a variance of zero, a repeated input or correlations that contradict each other.',
      );
    }
    const root = Math.sqrt(pivot);
    l[j * n + j] = root;
    logDeterminant += 2 * Math.log(root);
    for (let i = j + 1; i < n; i += 1) {
      let sum = a.data[i * n + j]!;
      for (let k = 0; k < j; k += 1) sum -= l[i * n + k]! * l[j * n + k]!;
      l[i * n + j] = sum / root;
    }
  }
  const solveLower = (b: ArrayLike<number>) => forward(lower, b);
  const solve = (b: ArrayLike<number>) => backward(lower, forward(lower, b));
  return { lower, logDeterminant, solve, solveLower, inverse: () => inverseOf(n, solve) };
}

function forward(lower: Matrix, b: ArrayLike<number>): Float64Array {
  const n = lower.rows;
  requireShape('b', b.length === n, `length ${b.length}`, `length ${n}`);
  const x = Float64Array.from(b);
  for (let i = 0; i < n; i += 1) {
    let sum = x[i]!;
    for (let k = 0; k < i; k += 1) sum -= lower.data[i * n + k]! * x[k]!;
    x[i] = sum / lower.data[i * n + i]!;
  }
  return x;
}

function backward(lower: Matrix, x: Float64Array): Float64Array {
  const n = lower.rows;
  for (let i = n - 1; i >= 0; i -= 1) {
    let sum = x[i]!;
    for (let k = i + 1; k < n; k += 1) sum -= lower.data[k * n + i]! * x[k]!;
    x[i] = sum / lower.data[i * n + i]!;
  }
  return x;
}

function inverseOf(n: number, solve: (b: ArrayLike<number>) => Float64Array): Matrix {
  const inverse = zeros(n, n);
  const unit = new Float64Array(n);
  for (let j = 0; j < n; j += 1) {
    unit.fill(0);
    unit[j] = 1;
    const column = solve(unit);
    for (let i = 0; i <= j; i += 1) inverse.data[i * n + j] = inverse.data[j * n + i] = column[i]!;
  }
  return inverse;
}
