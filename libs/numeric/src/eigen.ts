import { requireFiniteMatrix, requireSymmetric, identity, transpose, zeros, type Matrix } from './matrix.js';

/** A = V·diag(values)·Vᵀ. */
export interface SymmetricEigen {
  /** Eigenvalues, greatest first. */
  readonly values: Float64Array;
  /** Column k is the unit eigenvector of values[k]. */
  readonly vectors: Matrix;
}

/**
 * Eigenvalues and eigenvectors of a symmetric matrix by cyclic Jacobi rotations, which find small eigenvalues of a
 * positive definite matrix to better relative accuracy than tridiagonal methods.
 *
 * Domain: n × n, symmetric, finite; meant for n up to about 100. Errors: `SHAPE`, `NOT_FINITE`, `NOT_SYMMETRIC`. Source: G. H. Golub
 * and C. F. Van Loan, Matrix Computations, 4th ed., 8.5 (from memory).
 *
 * @example
 * Array.from(symmetricEigen(matrixFromRows([[2, 1], [1, 2]])).values) // => [3, 1]
 */
export function symmetricEigen(a: Matrix, field = 'a'): SymmetricEigen {
  requireSymmetric(field, a);
  const n = a.rows;
  const d = Float64Array.from(a.data);
  const vectors = identity(n);
  for (let sweep = 0; sweep < 60; sweep += 1) {
    let rotated = false;
    for (let p = 0; p < n - 1; p += 1) {
      for (let q = p + 1; q < n; q += 1) {
        const off = d[p * n + q]!;
        const scale = Math.sqrt(Math.abs(d[p * n + p]! * d[q * n + q]!));
        if (off === 0 || Math.abs(off) <= 1e-17 * scale || Math.abs(off) < 1e-300) continue;
        rotated = true;
        rotate(d, vectors, n, p, q);
      }
    }
    if (!rotated) break;
  }
  const order = Array.from({ length: n }, (_, i) => i).sort((i, j) => d[j * n + j]! - d[i * n + i]!);
  const sorted = zeros(n, n);
  order.forEach((from, to) => {
    for (let i = 0; i < n; i += 1) sorted.data[i * n + to] = vectors.data[i * n + from]!;
  });
  return { values: Float64Array.from(order, (i) => d[i * n + i]!), vectors: sorted };
}

function rotate(d: Float64Array, vectors: Matrix, n: number, p: number, q: number): void {
  const off = d[p * n + q]!;
  const theta = (d[q * n + q]! - d[p * n + p]!) / (2 * off);
  const t = Math.sign(theta || 1) / (Math.abs(theta) + Math.hypot(theta, 1));
  const c = 1 / Math.hypot(t, 1);
  const s = t * c;
  d[p * n + p]! -= t * off;
  d[q * n + q]! += t * off;
  d[p * n + q] = d[q * n + p] = 0;
  for (let i = 0; i < n; i += 1) {
    if (i !== p && i !== q) {
      const ip = d[i * n + p]!;
      const iq = d[i * n + q]!;
      d[i * n + p] = d[p * n + i] = c * ip - s * iq;
      d[i * n + q] = d[q * n + i] = s * ip + c * iq;
    }
    const vp = vectors.data[i * n + p]!;
    const vq = vectors.data[i * n + q]!;
    vectors.data[i * n + p] = c * vp - s * vq;
    vectors.data[i * n + q] = s * vp + c * vq;
  }
}

/** A = U·diag(values)·Vᵀ, thin form. */
export interface SingularValues {
  /** n × k with k = min(n, p); columns of zero singular values are zero. */
  readonly left: Matrix;
  /** Singular values, greatest first. */
  readonly values: Float64Array;
  /** p × k. */
  readonly right: Matrix;
}

/**
 * Singular value decomposition by one-sided Jacobi rotations.
 *
 * Domain: any finite n × p matrix; meant for small ones. Errors: `NOT_FINITE`. Source: G. H. Golub and C. F. Van Loan, Matrix
 * Computations, 4th ed., 8.6.3 (from memory).
 *
 * @example
 * Array.from(singularValues(matrixFromRows([[3, 0], [0, 4], [0, 0]])).values) // => [4, 3]
 */
export function singularValues(a: Matrix): SingularValues {
  requireFiniteMatrix('a', a);
  if (a.rows < a.cols) {
    const { left, values, right } = singularValues(transpose(a));
    return { left: right, values, right: left };
  }
  const { rows: n, cols: p } = a;
  // Columns as rows, so that each rotation runs through contiguous memory.
  const u = transpose(a);
  const v = identity(p);
  for (let sweep = 0; sweep < 60; sweep += 1) {
    let rotated = false;
    for (let j = 0; j < p - 1; j += 1) {
      for (let k = j + 1; k < p; k += 1) rotated = orthogonalise(u.data, v.data, n, p, j, k) || rotated;
    }
    if (!rotated) break;
  }
  const lengths = Float64Array.from({ length: p }, (_, j) => Math.hypot(...u.data.subarray(j * n, (j + 1) * n)));
  const order = Array.from({ length: p }, (_, j) => j).sort((j, k) => lengths[k]! - lengths[j]!);
  const left = zeros(n, p);
  const right = zeros(p, p);
  order.forEach((from, to) => {
    for (let i = 0; i < n; i += 1) left.data[i * p + to] = lengths[from]! > 0 ? u.data[from * n + i]! / lengths[from]! : 0;
    for (let i = 0; i < p; i += 1) right.data[i * p + to] = v.data[from * p + i]!;
  });
  return { left, values: Float64Array.from(order, (j) => lengths[j]!), right };
}

function orthogonalise(u: Float64Array, v: Float64Array, n: number, p: number, j: number, k: number): boolean {
  let jj = 0;
  let kk = 0;
  let jk = 0;
  for (let i = 0; i < n; i += 1) {
    const x = u[j * n + i]!;
    const y = u[k * n + i]!;
    jj += x * x;
    kk += y * y;
    jk += x * y;
  }
  if (Math.abs(jk) <= 1e-16 * Math.sqrt(jj * kk) || jk === 0) return false;
  const theta = (kk - jj) / (2 * jk);
  const t = Math.sign(theta || 1) / (Math.abs(theta) + Math.hypot(theta, 1));
  const c = 1 / Math.hypot(t, 1);
  turn(u, n, j, k, c, t * c);
  turn(v, p, j, k, c, t * c);
  return true;
}

function turn(m: Float64Array, length: number, j: number, k: number, c: number, s: number): void {
  for (let i = 0; i < length; i += 1) {
    const x = m[j * length + i]!;
    const y = m[k * length + i]!;
    m[j * length + i] = c * x - s * y;
    m[k * length + i] = s * x + c * y;
  }
}
