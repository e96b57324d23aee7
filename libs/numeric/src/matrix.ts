import { InputError } from '#libs/quantity';
import { requireCount } from './guards.js';

/** A small dense matrix, row by row: element (i, j) is `data[i * cols + j]`. */
export interface Matrix {
  readonly rows: number;
  readonly cols: number;
  readonly data: Float64Array;
}

/** A rows × cols matrix of zeros. Errors: `NOT_A_COUNT`. */
export function zeros(rows: number, cols: number): Matrix {
  requireCount('rows', rows);
  requireCount('cols', cols);
  return { rows, cols, data: new Float64Array(rows * cols) };
}

/** The n × n identity. Errors: `NOT_A_COUNT`. */
export function identity(n: number): Matrix {
  const result = zeros(n, n);
  for (let i = 0; i < n; i += 1) result.data[i * n + i] = 1;
  return result;
}

/**
 * A matrix from its rows. Errors: `RAGGED_ROWS`, `NOT_FINITE`.
 *
 * @example
 * matrixFromRows([[1, 2], [3, 4]]).data[2] // => 3
 */
export function matrixFromRows(rows: readonly (readonly number[])[]): Matrix {
  const cols = rows[0]?.length ?? 0;
  const result = zeros(rows.length, cols);
  rows.forEach((row, i) => {
    if (row.length !== cols) {
      throw new InputError('RAGGED_ROWS', `rows[${i}]`, `has ${row.length} elements where the first row has ${cols}`, 'Give rows of equal length.');
    }
    result.data.set(row, i * cols);
  });
  requireFiniteMatrix('rows', result);
  return result;
}

/** The rows of a matrix as plain arrays. */
export function matrixToRows(matrix: Matrix): number[][] {
  return Array.from({ length: matrix.rows }, (_, i) => Array.from(matrix.data.subarray(i * matrix.cols, (i + 1) * matrix.cols)));
}

/** Element (i, j), counted from 0. */
export function element(matrix: Matrix, i: number, j: number): number {
  return matrix.data[i * matrix.cols + j]!;
}

/** Aᵀ. */
export function transpose(a: Matrix): Matrix {
  const result = zeros(a.cols, a.rows);
  for (let i = 0; i < a.rows; i += 1) {
    for (let j = 0; j < a.cols; j += 1) result.data[j * a.rows + i] = a.data[i * a.cols + j]!;
  }
  return result;
}

/**
 * A·B. Errors: `SHAPE` unless A has as many columns as B has rows.
 *
 * @example
 * Array.from(multiply(matrixFromRows([[1, 2], [3, 4]]), matrixFromRows([[5], [6]])).data) // => [17, 39]
 */
export function multiply(a: Matrix, b: Matrix): Matrix {
  requireShape('b', a.cols === b.rows, `${b.rows} x ${b.cols}`, `${a.cols} rows`);
  const result = zeros(a.rows, b.cols);
  for (let i = 0; i < a.rows; i += 1) {
    for (let k = 0; k < a.cols; k += 1) {
      const factor = a.data[i * a.cols + k]!;
      for (let j = 0; j < b.cols; j += 1) result.data[i * b.cols + j]! += factor * b.data[k * b.cols + j]!;
    }
  }
  return result;
}

/**
 * A·x for a vector x. Errors: `SHAPE`.
 *
 * @example
 * Array.from(multiplyVector(matrixFromRows([[1, 2], [3, 4]]), [1, 1])) // => [3, 7]
 */
export function multiplyVector(a: Matrix, x: ArrayLike<number>): Float64Array {
  requireShape('x', a.cols === x.length, `length ${x.length}`, `length ${a.cols}`);
  const result = new Float64Array(a.rows);
  for (let i = 0; i < a.rows; i += 1) {
    let sum = 0;
    for (let j = 0; j < a.cols; j += 1) sum += a.data[i * a.cols + j]! * x[j]!;
    result[i] = sum;
  }
  return result;
}

/**
 * xᵀ·A·y, e.g. the variance cᵀ·V·c of a linear combination. Errors: `SHAPE`.
 *
 * @example
 * bilinear([1, 2], matrixFromRows([[2, 1], [1, 3]]), [1, 2]) // => 18
 */
export function bilinear(x: ArrayLike<number>, a: Matrix, y: ArrayLike<number>): number {
  requireShape('x', a.rows === x.length, `length ${x.length}`, `length ${a.rows}`);
  const product = multiplyVector(a, y);
  let sum = 0;
  for (let i = 0; i < a.rows; i += 1) sum += x[i]! * product[i]!;
  return sum;
}

/** Throws `SHAPE` naming the field unless the condition holds. */
export function requireShape(field: string, holds: boolean, got: string, expected: string): void {
  if (!holds) throw new InputError('SHAPE', field, `expected ${expected}, got ${got}`, 'Make the shapes agree.');
}

/** Throws `NOT_FINITE` naming the first element that is not a finite number. */
export function requireFiniteMatrix(field: string, matrix: Matrix): void {
  const bad = matrix.data.findIndex((value) => !Number.isFinite(value));
  if (bad >= 0) {
    const where = `${field}[${Math.floor(bad / matrix.cols)}][${bad % matrix.cols}]`;
    throw new InputError('NOT_FINITE', where, `expected a finite number, got ${matrix.data[bad]}`, 'Enter a number.');
  }
}

/** Throws `NOT_SYMMETRIC` unless A is square and equals its transpose to rounding. */
export function requireSymmetric(field: string, a: Matrix): void {
  requireShape(field, a.rows === a.cols, `${a.rows} x ${a.cols}`, 'a square matrix');
  requireFiniteMatrix(field, a);
  for (let i = 0; i < a.rows; i += 1) {
    for (let j = 0; j < i; j += 1) {
      const scale = Math.sqrt(Math.abs(element(a, i, i) * element(a, j, j)));
      const difference = Math.abs(element(a, i, j) - element(a, j, i));
      if (difference > 1e-12 * Math.max(scale, Math.abs(element(a, i, j)))) {
        throw new InputError('NOT_SYMMETRIC', `${field}[${i}][${j}]`, `differs from [${j}][${i}] by ${difference}`, 'Give a symmetric matrix.');
      }
    }
  }
}
