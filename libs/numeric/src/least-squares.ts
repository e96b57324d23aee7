import { InputError } from '#libs/quantity';
import { element, requireFiniteMatrix, requireShape, zeros, type Matrix } from './matrix.js';
import { twoProduct, twoSum } from './summation.js';

/** The result of {@link qrLeastSquares}. */
export interface LeastSquares {
  /** The p coefficients; where the rank is deficient, the left-out columns have 0. */
  readonly coefficients: Float64Array;
  /** y − X·b, summed in twice the working precision. */
  readonly residuals: Float64Array;
  readonly residualSumOfSquares: number;
  /** How many columns are linearly independent at the tolerance. */
  readonly rank: number;
  /** The columns in the order of pivoting; the first `rank` are the independent ones. */
  readonly pivots: readonly number[];
  /** |R₁₁|/|R_rr| of the column-scaled design: a lower estimate of its 2-norm condition number, good to a factor of about √p. */
  readonly conditionEstimate: number;
  /** (XᵀX)⁻¹, p × p; times the residual variance it is the covariance. Rows and columns of left-out columns are 0. */
  readonly unscaledCovariance: Matrix;
  /** hᵢ = xᵢᵀ(XᵀX)⁻¹xᵢ, the diagonal of the hat matrix. */
  readonly leverages: Float64Array;
}

/** Options of {@link qrLeastSquares}. */
export interface LeastSquaresOptions {
  /** A column whose remainder falls below this share of its own length counts as dependent; 1e-14·n unless given. */
  readonly rankTolerance?: number;
  /** `refuse` throws `SINGULAR_DESIGN` where the rank is deficient (the default); `report` returns the basic solution. */
  readonly deficientRank?: 'refuse' | 'report';
}

/**
 * Linear least squares: the b that minimises |y − X·b|², by Householder QR with column pivoting on columns scaled to length one, then
 * refined with residuals in twice the working precision (Björck), which buys back the digits an ill-conditioned design loses.
 *
 * Shapes: X n × p with n ≥ p ≥ 1, y of length n. Weights: multiply row i of X and y by √wᵢ beforehand. Errors: `SHAPE`, `NOT_FINITE`,
 * `TOO_FEW_POINTS`, `SINGULAR_DESIGN`. Source: Å. Björck, Numerical Methods for Least Squares Problems (1996), 2.4 and 2.9 (from memory);
 * checked against the NIST StRD linear problems.
 *
 * @example
 * Array.from(qrLeastSquares(matrixFromRows([[1, 0], [1, 1], [1, 2]]), [1, 3, 5]).coefficients) // => [1, 2]
 */
export function qrLeastSquares(x: Matrix, y: ArrayLike<number>, options: LeastSquaresOptions = {}): LeastSquares {
  const n = x.rows;
  const p = x.cols;
  requireShape('y', y.length === n, `length ${y.length}`, `length ${n}`);
  requireFiniteMatrix('x', x);
  const bad = Array.from(y).findIndex((value) => !Number.isFinite(value));
  if (bad >= 0) throw new InputError('NOT_FINITE', `y[${bad}]`, `expected a finite number, got ${y[bad]}`, 'Enter a number.');
  if (p < 1 || n < p) {
    throw new InputError('TOO_FEW_POINTS', 'x', `${n} points cannot determine ${p} coefficients`, 'Add points or take a simpler model.');
  }
  const qr = factorise(x, options.rankTolerance ?? 1e-14 * n);
  if (qr.rank < p && options.deficientRank !== 'report') {
    throw new InputError(
      'SINGULAR_DESIGN',
      `x[*][${qr.pivots[qr.rank]}]`,
      `column ${qr.pivots[qr.rank]} is a combination of the other columns`,
      'Leave that term out, or add points at other values.',
    );
  }
  const { coefficients, residuals } = solveRefined(x, y, qr);
  const unscaledCovariance = inverseOfNormalMatrix(qr, p);
  return {
    coefficients,
    residuals,
    residualSumOfSquares: residuals.reduce((sum, r) => sum + r * r, 0),
    rank: qr.rank,
    pivots: qr.pivots,
    conditionEstimate: qr.rank === 0 ? Infinity : Math.abs(qr.diagonal[0]! / qr.diagonal[qr.rank - 1]!),
    unscaledCovariance,
    leverages: leveragesOf(qr, n),
  };
}

interface Factorisation {
  /** Householder vectors below and on the diagonal, R above it; columns pivoted and scaled. n × p. */
  readonly packed: Matrix;
  readonly diagonal: Float64Array;
  readonly scales: Float64Array;
  readonly pivots: number[];
  readonly rank: number;
}

function factorise(x: Matrix, tolerance: number): Factorisation {
  const { rows: n, cols: p } = x;
  const packed: Matrix = { rows: n, cols: p, data: Float64Array.from(x.data) };
  const a = packed.data;
  const scales = new Float64Array(p);
  for (let j = 0; j < p; j += 1) {
    scales[j] = columnLength(packed, 0, j) || 1;
    for (let i = 0; i < n; i += 1) a[i * p + j]! /= scales[j]!;
  }
  const pivots = Array.from({ length: p }, (_, j) => j);
  const diagonal = new Float64Array(p);
  let rank = 0;
  for (let k = 0; k < p; k += 1) {
    let longest = k;
    let length = -1;
    for (let j = k; j < p; j += 1) {
      const candidate = columnLength(packed, k, j);
      if (candidate > length * (1 + 1e-10)) {
        longest = j;
        length = candidate;
      }
    }
    if (length <= tolerance) break;
    swapColumns(packed, k, longest);
    [pivots[k], pivots[longest]] = [pivots[longest]!, pivots[k]!];
    const head = a[k * p + k]!;
    const alpha = head > 0 ? -length : length;
    diagonal[k] = alpha;
    // v = x − alpha·e, scaled so that the reflection is I − v·vᵀ: one square root here saves a division in every use.
    const norm = Math.sqrt(length * (length + Math.abs(head)));
    a[k * p + k] = head - alpha;
    for (let i = k; i < n; i += 1) a[i * p + k]! /= norm;
    for (let j = k + 1; j < p; j += 1) reflect(packed, k, (i) => i * p + j, a);
    rank = k + 1;
  }
  return { packed, diagonal, scales, pivots, rank };
}

function columnLength(m: Matrix, from: number, j: number): number {
  let largest = 0;
  for (let i = from; i < m.rows; i += 1) largest = Math.max(largest, Math.abs(m.data[i * m.cols + j]!));
  if (largest === 0) return 0;
  let sum = 0;
  for (let i = from; i < m.rows; i += 1) sum += (m.data[i * m.cols + j]! / largest) ** 2;
  return largest * Math.sqrt(sum);
}

function swapColumns(m: Matrix, j: number, k: number): void {
  if (j === k) return;
  for (let i = 0; i < m.rows; i += 1) {
    const kept = m.data[i * m.cols + j]!;
    m.data[i * m.cols + j] = m.data[i * m.cols + k]!;
    m.data[i * m.cols + k] = kept;
  }
}

/** Applies reflection k of the packed factor to the vector whose element i is `target[index(i)]`. */
function reflect(packed: Matrix, k: number, index: (i: number) => number, target: Float64Array): void {
  const { rows, cols, data } = packed;
  let dot = 0;
  for (let i = k; i < rows; i += 1) dot += data[i * cols + k]! * target[index(i)]!;
  for (let i = k; i < rows; i += 1) target[index(i)]! -= dot * data[i * cols + k]!;
}

function transform(qr: Factorisation, vector: Float64Array, order: 'Qt' | 'Q'): Float64Array {
  for (let step = 0; step < qr.rank; step += 1) {
    reflect(qr.packed, order === 'Qt' ? step : qr.rank - 1 - step, (i) => i, vector);
  }
  return vector;
}

/** R·z = c on the independent columns. */
function solveUpper(qr: Factorisation, c: Float64Array): Float64Array {
  const { packed, diagonal, rank } = qr;
  const z = new Float64Array(rank);
  for (let i = rank - 1; i >= 0; i -= 1) {
    let sum = c[i]!;
    for (let j = i + 1; j < rank; j += 1) sum -= element(packed, i, j) * z[j]!;
    z[i] = sum / diagonal[i]!;
  }
  return z;
}

/** Rᵀ·z = c on the independent columns. */
function solveUpperTransposed(qr: Factorisation, c: Float64Array): Float64Array {
  const { packed, diagonal, rank } = qr;
  const z = new Float64Array(rank);
  for (let i = 0; i < rank; i += 1) {
    let sum = c[i]!;
    for (let j = 0; j < i; j += 1) sum -= element(packed, j, i) * z[j]!;
    z[i] = sum / diagonal[i]!;
  }
  return z;
}

/**
 * Björck's refinement of the augmented system r + X·b = y, Xᵀ·r = 0: both right-hand sides are re-evaluated in twice the working
 * precision and the corrections to r and b solved for together, until they stop shrinking.
 */
function solveRefined(x: Matrix, y: ArrayLike<number>, qr: Factorisation): { coefficients: Float64Array; residuals: Float64Array } {
  const { rows: n, cols: p } = x;
  const coefficients = new Float64Array(p);
  const residuals = new Float64Array(n);
  let previous = Infinity;
  for (let step = 0; step < 8; step += 1) {
    const f = new Float64Array(n);
    for (let i = 0; i < n; i += 1) f[i] = rowRemainder(x, i, coefficients, y[i]!, residuals[i]!);
    const g = new Float64Array(qr.rank);
    for (let k = 0; k < qr.rank; k += 1) g[k] = -columnDot(x, qr.pivots[k]!, residuals) / qr.scales[qr.pivots[k]!]!;
    const h = solveUpperTransposed(qr, g);
    const c = transform(qr, f, 'Qt');
    const difference = new Float64Array(qr.rank);
    for (let k = 0; k < qr.rank; k += 1) difference[k] = c[k]! - h[k]!;
    const correction = solveUpper(qr, difference);
    for (let k = 0; k < qr.rank; k += 1) c[k] = h[k]!;
    const residualCorrection = transform(qr, c, 'Q');
    const size = Math.hypot(...correction);
    // The first pass is the plain solution; a later one that no longer shrinks would only add rounding noise.
    if (step > 0 && !(size < previous / 2)) break;
    for (let k = 0; k < qr.rank; k += 1) coefficients[qr.pivots[k]!]! += correction[k]! / qr.scales[qr.pivots[k]!]!;
    for (let i = 0; i < n; i += 1) residuals[i]! += residualCorrection[i]!;
    if (size === 0) break;
    previous = step === 0 ? Infinity : size;
  }
  for (let i = 0; i < n; i += 1) residuals[i] = rowRemainder(x, i, coefficients, y[i]!, 0);
  return { coefficients, residuals };
}

/** yᵢ − rᵢ − xᵢ·b in twice the working precision. */
function rowRemainder(x: Matrix, i: number, b: Float64Array, y: number, r: number): number {
  let [sum, low] = twoSum(y, -r);
  for (let j = 0; j < x.cols; j += 1) {
    const [product, productError] = twoProduct(-x.data[i * x.cols + j]!, b[j]!);
    const [next, error] = twoSum(sum, product);
    sum = next;
    low += error + productError;
  }
  return sum + low;
}

/** Column j of X times r in twice the working precision. */
function columnDot(x: Matrix, j: number, r: Float64Array): number {
  let sum = 0;
  let low = 0;
  for (let i = 0; i < x.rows; i += 1) {
    const [product, productError] = twoProduct(x.data[i * x.cols + j]!, r[i]!);
    const [next, error] = twoSum(sum, product);
    sum = next;
    low += error + productError;
  }
  return sum + low;
}

function inverseOfNormalMatrix(qr: Factorisation, p: number): Matrix {
  const columns: Float64Array[] = [];
  for (let k = 0; k < qr.rank; k += 1) {
    const unit = new Float64Array(qr.rank);
    unit[k] = 1;
    columns.push(solveUpper(qr, unit));
  }
  const result = zeros(p, p);
  for (let i = 0; i < qr.rank; i += 1) {
    for (let j = 0; j <= i; j += 1) {
      let sum = 0;
      for (const column of columns) sum += column[i]! * column[j]!;
      const a = qr.pivots[i]!;
      const b = qr.pivots[j]!;
      result.data[a * p + b] = result.data[b * p + a] = sum / qr.scales[a]! / qr.scales[b]!;
    }
  }
  return result;
}

/** Squared row lengths of the thin Q, by applying Q to each unit vector. */
function leveragesOf(qr: Factorisation, n: number): Float64Array {
  const leverages = new Float64Array(n);
  for (let k = 0; k < qr.rank; k += 1) {
    const unit = new Float64Array(n);
    unit[k] = 1;
    const q = transform(qr, unit, 'Q');
    for (let i = 0; i < n; i += 1) leverages[i]! += q[i]! * q[i]!;
  }
  return leverages;
}
