import { InputError, requireFinite } from '#libs/quantity';
import { requireFiniteMatrix, requireShape, transpose, zeros, type Matrix } from './matrix.js';

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
  /** hᵢ = xᵢᵀ(XᵀX)⁻¹xᵢ, the diagonal of the hat matrix; computed when first asked for. */
  readonly leverages: Float64Array;
}

/** Options of {@link qrLeastSquares}. */
export interface LeastSquaresOptions {
  /** A column whose remainder falls below this share of its own length counts as dependent; 1e-14·n unless given. */
  readonly rankTolerance?: number;
  /** `refuse` throws `SINGULAR_DESIGN` where the rank is deficient (the default); `report` returns the basic solution. */
  readonly deficientRank?: 'refuse' | 'report';
  /** `false` leaves the refinement out: three times as fast, for the steps of an iteration that corrects itself. */
  readonly refine?: boolean;
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
  for (let i = 0; i < n; i += 1) if (!Number.isFinite(y[i])) requireFinite(`y[${i}]`, y[i]!);
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
  const { coefficients, residuals } = solveRefined(x, y, qr, options.refine === false ? 1 : 8);
  let leverages: Float64Array | undefined;
  return {
    coefficients,
    residuals,
    residualSumOfSquares: sumOfSquares(residuals),
    rank: qr.rank,
    pivots: qr.pivots,
    conditionEstimate: qr.rank === 0 ? Infinity : Math.abs(qr.diagonal[0]! / qr.diagonal[qr.rank - 1]!),
    unscaledCovariance: inverseOfNormalMatrix(qr, p),
    get leverages() {
      return (leverages ??= leveragesOf(qr));
    },
  };
}

function sumOfSquares(values: Float64Array): number {
  let sum = 0;
  for (const value of values) sum += value * value;
  return sum;
}

interface Factorisation {
  /** Column by column: Householder vectors on and below the diagonal, R above it; columns pivoted and scaled. */
  readonly packed: Float64Array;
  readonly points: number;
  readonly diagonal: Float64Array;
  readonly scales: Float64Array;
  readonly pivots: number[];
  readonly rank: number;
}

function factorise(x: Matrix, tolerance: number): Factorisation {
  const { rows: n, cols: p } = x;
  const packed = transpose(x).data;
  const scales = new Float64Array(p);
  for (let j = 0; j < p; j += 1) {
    const scale = lengthOf(packed, j * n, (j + 1) * n) || 1;
    scales[j] = scale;
    for (let i = j * n; i < (j + 1) * n; i += 1) packed[i]! /= scale;
  }
  const pivots = Array.from({ length: p }, (_, j) => j);
  const diagonal = new Float64Array(p);
  let rank = 0;
  for (let k = 0; k < p; k += 1) {
    let longest = k;
    let length = -1;
    for (let j = k; j < p; j += 1) {
      const candidate = lengthOf(packed, j * n + k, (j + 1) * n);
      if (candidate > length * (1 + 1e-10)) {
        longest = j;
        length = candidate;
      }
    }
    if (length <= tolerance) break;
    swapColumns(packed, n, k, longest);
    [pivots[k], pivots[longest]] = [pivots[longest]!, pivots[k]!];
    const at = k * n + k;
    const top = packed[at]!;
    diagonal[k] = top > 0 ? -length : length;
    // v = x − alpha·e, scaled so that the reflection is I − v·vᵀ: one square root here saves a division in every use.
    const norm = Math.sqrt(length * (length + Math.abs(top)));
    packed[at] = top - diagonal[k]!;
    for (let i = at; i < (k + 1) * n; i += 1) packed[i]! /= norm;
    for (let j = k + 1; j < p; j += 1) reflect(packed, n, k, packed, j * n);
    rank = k + 1;
  }
  return { packed, points: n, diagonal, scales, pivots, rank };
}

/** Euclidean length of data[from … to), by the plain sum unless that could overflow or underflow. */
function lengthOf(data: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let i = from; i < to; i += 1) sum += data[i]! * data[i]!;
  if (sum > 1e-280 && sum < 1e280) return Math.sqrt(sum);
  let largest = 0;
  for (let i = from; i < to; i += 1) largest = Math.max(largest, Math.abs(data[i]!));
  if (largest === 0) return 0;
  sum = 0;
  for (let i = from; i < to; i += 1) sum += (data[i]! / largest) ** 2;
  return largest * Math.sqrt(sum);
}

function swapColumns(packed: Float64Array, n: number, j: number, k: number): void {
  if (j === k) return;
  const kept = packed.slice(j * n, (j + 1) * n);
  packed.copyWithin(j * n, k * n, (k + 1) * n);
  packed.set(kept, k * n);
}

/** Applies reflection k to the vector of length n that starts at `offset` of `target`. */
function reflect(packed: Float64Array, n: number, k: number, target: Float64Array, offset: number): void {
  const from = k * n;
  let dot = 0;
  for (let i = k; i < n; i += 1) dot += packed[from + i]! * target[offset + i]!;
  for (let i = k; i < n; i += 1) target[offset + i]! -= dot * packed[from + i]!;
}

function transform(qr: Factorisation, vector: Float64Array, order: 'Qt' | 'Q'): Float64Array {
  for (let step = 0; step < qr.rank; step += 1) {
    reflect(qr.packed, qr.points, order === 'Qt' ? step : qr.rank - 1 - step, vector, 0);
  }
  return vector;
}

/** R·z = c on the independent columns. */
function solveUpper(qr: Factorisation, c: Float64Array): Float64Array {
  const { packed, points, diagonal, rank } = qr;
  const z = new Float64Array(rank);
  for (let i = rank - 1; i >= 0; i -= 1) {
    let sum = c[i]!;
    for (let j = i + 1; j < rank; j += 1) sum -= packed[j * points + i]! * z[j]!;
    z[i] = sum / diagonal[i]!;
  }
  return z;
}

/** Rᵀ·z = c on the independent columns. */
function solveUpperTransposed(qr: Factorisation, c: Float64Array): Float64Array {
  const { packed, points, diagonal, rank } = qr;
  const z = new Float64Array(rank);
  for (let i = 0; i < rank; i += 1) {
    let sum = c[i]!;
    for (let j = 0; j < i; j += 1) sum -= packed[i * points + j]! * z[j]!;
    z[i] = sum / diagonal[i]!;
  }
  return z;
}

/**
 * Björck's refinement of the augmented system r + X·b = y, Xᵀ·r = 0: both right-hand sides are re-evaluated in twice the working
 * precision and the corrections to r and b solved for together, until they stop shrinking.
 */
function solveRefined(x: Matrix, y: ArrayLike<number>, qr: Factorisation, passes: number): { coefficients: Float64Array; residuals: Float64Array } {
  const { rows: n, cols: p } = x;
  const coefficients = new Float64Array(p);
  const residuals = new Float64Array(n);
  const f = new Float64Array(n);
  const g = new Float64Array(qr.rank);
  let previous = Infinity;
  for (let step = 0; step < passes; step += 1) {
    for (let i = 0; i < n; i += 1) {
      f[i] = extendedDot(x.data, i * p, 1, coefficients, p, y[i]!, residuals[i]!);
    }
    for (let k = 0; k < qr.rank; k += 1) {
      const column = qr.pivots[k]!;
      g[k] = extendedDot(x.data, column, p, residuals, n, 0, 0) / qr.scales[column]!;
    }
    const h = solveUpperTransposed(qr, g);
    const c = transform(qr, f, 'Qt');
    const difference = new Float64Array(qr.rank);
    for (let k = 0; k < qr.rank; k += 1) difference[k] = c[k]! - h[k]!;
    const correction = solveUpper(qr, difference);
    c.set(h);
    const size = lengthOf(correction, 0, qr.rank);
    // The first pass is the plain solution; a later one that no longer shrinks would only add rounding noise.
    if (step > 0 && !(size < previous / 2)) break;
    const residualCorrection = transform(qr, c, 'Q');
    for (let k = 0; k < qr.rank; k += 1) coefficients[qr.pivots[k]!]! += correction[k]! / qr.scales[qr.pivots[k]!]!;
    for (let i = 0; i < n; i += 1) residuals[i]! += residualCorrection[i]!;
    if (size <= 1e-3 * Number.EPSILON * largestScaled(coefficients, qr.scales)) break;
    previous = step === 0 ? Infinity : size;
  }
  for (let i = 0; i < n; i += 1) residuals[i] = extendedDot(x.data, i * p, 1, coefficients, p, y[i]!, 0);
  return { coefficients, residuals };
}

function largestScaled(coefficients: Float64Array, scales: Float64Array): number {
  let largest = 0;
  for (let j = 0; j < scales.length; j += 1) largest = Math.max(largest, Math.abs(coefficients[j]! * scales[j]!));
  return largest;
}

const SPLITTER = 134217729;

/**
 * a − b − Σ m[from + k·stride]·v[k] in twice the working precision: Knuth's exact sum and Dekker's exact product, written out because this
 * is the inner loop.
 */
function extendedDot(
  m: Float64Array,
  from: number,
  stride: number,
  v: Float64Array,
  length: number,
  a: number,
  b: number,
): number {
  let sum = a - b;
  let part = sum - a;
  let low = a - (sum - part) - (b + part);
  for (let k = 0, at = from; k < length; k += 1, at += stride) {
    const x = -m[at]!;
    const y = v[k]!;
    const product = x * y;
    let t = SPLITTER * x;
    const xHigh = t - (t - x);
    const xLow = x - xHigh;
    t = SPLITTER * y;
    const yHigh = t - (t - y);
    const yLow = y - yHigh;
    const productError = xLow * yLow - (product - xHigh * yHigh - xLow * yHigh - xHigh * yLow);
    const next = sum + product;
    part = next - sum;
    low += sum - (next - part) + (product - part) + productError;
    sum = next;
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

/** Squared row lengths of the thin Q, whose columns are Q applied to the unit vectors. */
function leveragesOf(qr: Factorisation): Float64Array {
  const leverages = new Float64Array(qr.points);
  for (let k = 0; k < qr.rank; k += 1) {
    const unit = new Float64Array(qr.points);
    unit[k] = 1;
    const q = transform(qr, unit, 'Q');
    for (let i = 0; i < qr.points; i += 1) leverages[i]! += q[i]! * q[i]!;
  }
  return leverages;
}
