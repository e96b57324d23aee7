import { requireSymmetric, zeros, type Matrix } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';
import { requireAllFinite } from '../least-squares/linear.js';

/**
 * Pairs with what is known of their errors. For each variable, either standard uncertainties (independent) or a full
 * covariance; `covarianceXy` holds the covariance of xᵢ (row) with yⱼ (column), zero where left out.
 */
export interface UncertainPairs {
  readonly x: readonly number[];
  readonly y: readonly number[];
  readonly uX?: readonly number[];
  readonly uY?: readonly number[];
  readonly covarianceX?: readonly (readonly number[])[];
  readonly covarianceY?: readonly (readonly number[])[];
  readonly covarianceXy?: readonly (readonly number[])[];
}

export interface JointCovariance {
  readonly xx: Matrix;
  readonly yy: Matrix;
  readonly xy: Matrix;
}

export function jointCovariance(data: UncertainPairs): JointCovariance {
  const n = data.x.length;
  if (data.y.length !== n) throw new InputError('SHAPE', 'y', `${data.y.length} values for ${n} x`, 'Give one y an x.');
  requireAllFinite('x', data.x);
  requireAllFinite('y', data.y);
  const xx = covarianceOf('X', n, data.uX, data.covarianceX);
  const yy = covarianceOf('Y', n, data.uY, data.covarianceY);
  const xy = data.covarianceXy === undefined ? zeros(n, n) : square('covarianceXy', n, data.covarianceXy);
  if (data.covarianceXy !== undefined) requireSemidefinite('covarianceXy', stacked(n, xx, xy, yy));
  else for (const [name, matrix] of [['X', xx], ['Y', yy]] as const) if (data[`covariance${name}`] !== undefined) requireSemidefinite(`covariance${name}`, matrix);
  for (let i = 0; i < n; i++) {
    if (xx.data[i * n + i] === 0 && yy.data[i * n + i] === 0) {
      throw new InputError('NOT_POSITIVE', `uY[${i}]`, 'this point is exact in both x and y', 'Give an uncertainty for x or y.');
    }
  }
  return { xx, yy, xy };
}

/** All 2n errors in one matrix: x first, then y. */
function stacked(n: number, xx: Matrix, xy: Matrix, yy: Matrix): Matrix {
  const all = zeros(2 * n, 2 * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      all.data[2 * n * i + j] = xx.data[i * n + j]!;
      all.data[2 * n * i + n + j] = all.data[2 * n * (n + j) + i] = xy.data[i * n + j]!;
      all.data[2 * n * (n + i) + n + j] = yy.data[i * n + j]!;
    }
  }
  return all;
}

/** Relative to each variance: what rounding leaves of a perfect correlation. */
const ROUNDING = 1e-10;

/** No combination of the errors has a negative variance: Cholesky with the largest rest first, in units of the standard uncertainties. */
function requireSemidefinite(field: string, { rows: n, data }: Matrix): void {
  const unit = Float64Array.from({ length: n }, (_, i) => Math.sqrt(data[i * n + i]!) || 1);
  const rest = data.map((value, at) => value / unit[Math.floor(at / n)]! / unit[at % n]!);
  const open = new Set(Array.from({ length: n }, (_, i) => i));
  while (open.size > 0) {
    const pivot = [...open].reduce((best, i) => (rest[i * n + i]! > rest[best * n + best]! ? i : best));
    const left = Math.max(rest[pivot * n + pivot]!, 0);
    open.delete(pivot);
    const possible = rest[pivot * n + pivot]! >= -ROUNDING && [...open].every((i) => rest[i * n + pivot]! ** 2 <= left * Math.max(rest[i * n + i]!, 0) + ROUNDING);
    if (!possible) {
      throw new InputError('NOT_POSITIVE_DEFINITE', field, 'some combination of these errors would have a negative variance', 'Check the covariances: none can exceed the product of its two standard uncertainties, nor contradict the others.');
    }
    if (left <= ROUNDING) continue;
    for (const i of open) for (const j of open) rest[i * n + j] = rest[i * n + j]! - (rest[i * n + pivot]! * rest[pivot * n + j]!) / left;
  }
}

function covarianceOf(
  name: 'X' | 'Y',
  n: number,
  u: readonly number[] | undefined,
  covariance: readonly (readonly number[])[] | undefined,
): Matrix {
  if ((u === undefined) === (covariance === undefined)) {
    throw new InputError('SHAPE', `u${name}`, u === undefined ? 'neither uncertainties nor covariance given' : 'both uncertainties and covariance given', `Give u${name} or covariance${name}.`);
  }
  if (covariance !== undefined) {
    const matrix = square(`covariance${name}`, n, covariance);
    requireSymmetric(`covariance${name}`, matrix);
    for (let i = 0; i < n; i++) requireNotNegative(`covariance${name}[${i}][${i}]`, matrix.data[i * n + i]!);
    return matrix;
  }
  if (u!.length !== n) throw new InputError('SHAPE', `u${name}`, `${u!.length} uncertainties for ${n} points`, 'Give one a point.');
  const diagonal = zeros(n, n);
  u!.forEach((value, i) => (diagonal.data[i * n + i] = requireNotNegative(`u${name}[${i}]`, value) ** 2));
  return diagonal;
}

function square(field: string, n: number, rows: readonly (readonly number[])[]): Matrix {
  if (rows.length !== n || rows.some((row) => row.length !== n)) {
    throw new InputError('SHAPE', field, `not ${n} rows of ${n}`, 'Give one row and one column a point.');
  }
  const matrix = zeros(n, n);
  rows.forEach((row, i) => {
    requireAllFinite(`${field}[${i}]`, row);
    matrix.data.set(row, i * n);
  });
  return matrix;
}

function requireNotNegative(field: string, value: number): number {
  if (requireFinite(field, value) >= 0) return value;
  throw new InputError('NEGATIVE', field, `${value} is below zero`, 'Give an uncertainty from 0.');
}
