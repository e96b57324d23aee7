import { InputError } from '#libs/quantity';

/** A matrix in column-major order: element (i, j) stands at `data[j * rows + i]`. */
export interface ColumnMatrix {
  readonly rows: number;
  readonly columns: number;
  readonly data: Float64Array;
}

export function columnMatrix(rows: number, columns: number): ColumnMatrix {
  return { rows, columns, data: new Float64Array(rows * columns) };
}

/**
 * X·P = Q·R by Householder reflections with column pivoting (Businger & Golub, Numer. Math. 7 (1965) 269-276).
 * The reflectors stand below the diagonal of `factors`, R on and above it, with R's diagonal in `diagonal`.
 */
export interface PivotedQr {
  readonly rows: number;
  readonly columns: number;
  readonly factors: Float64Array;
  readonly diagonal: Float64Array;
  readonly pivot: Int32Array;
}

/** Factors `x` (overwriting it). Rows must be at least columns. */
export function factorise(x: ColumnMatrix): PivotedQr {
  const { rows: m, columns: n, data: a } = x;
  const diagonal = new Float64Array(n);
  const pivot = new Int32Array(n);
  const norms = new Float64Array(n);
  const exactNorms = new Float64Array(n);
  for (let j = 0; j < n; j++) {
    pivot[j] = j;
    norms[j] = columnNorm(a, j * m, 0, m);
    exactNorms[j] = norms[j]!;
  }
  for (let k = 0; k < n; k++) {
    let best = k;
    for (let j = k + 1; j < n; j++) if (norms[j]! > norms[best]!) best = j;
    if (best !== k) {
      swapColumns(a, m, k, best);
      swap(pivot, k, best);
      swap(norms, k, best);
      swap(exactNorms, k, best);
    }
    diagonal[k] = reflect(a, m, n, k, k === 0 ? norms[0]! : columnNorm(a, k * m, k, m));
    for (let j = k + 1; j < n; j++) {
      const gone = norms[j] === 0 ? 0 : a[j * m + k]! / norms[j]!;
      norms[j] = norms[j]! * Math.sqrt(Math.max(0, 1 - gone * gone));
      // The update loses digits just where rank is decided: there the norm is taken anew.
      if (norms[j]! < 0.05 * exactNorms[j]!) norms[j] = exactNorms[j] = columnNorm(a, j * m, k + 1, m);
    }
  }
  return { rows: m, columns: n, factors: a, diagonal, pivot };
}

/** Σ aᵢ·bᵢ over `count` places from `fromA` and `fromB`. Four running sums: no addition waits for the one before. */
export function dot(a: Float64Array, fromA: number, b: Float64Array, fromB: number, count: number): number {
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let s3 = 0;
  let i = 0;
  for (; i + 3 < count; i += 4) {
    s0 += a[fromA + i]! * b[fromB + i]!;
    s1 += a[fromA + i + 1]! * b[fromB + i + 1]!;
    s2 += a[fromA + i + 2]! * b[fromB + i + 2]!;
    s3 += a[fromA + i + 3]! * b[fromB + i + 3]!;
  }
  for (; i < count; i++) s0 += a[fromA + i]! * b[fromB + i]!;
  return s0 + s1 + (s2 + s3);
}

function columnNorm(a: Float64Array, offset: number, from: number, to: number): number {
  const plain = dot(a, offset + from, a, offset + from, to - from);
  if (plain > 1e-280 && plain < 1e280) return Math.sqrt(plain);
  // Squares that leave the range of float64 are summed in units of the largest element.
  let scale = 0;
  for (let i = from; i < to; i++) {
    const size = Math.abs(a[offset + i]!);
    if (size > scale) scale = size;
  }
  if (scale === 0) return 0;
  let sum = 0;
  for (let i = from; i < to; i++) {
    const t = a[offset + i]! / scale;
    sum += t * t;
  }
  return scale * Math.sqrt(sum);
}

function swap(list: Float64Array | Int32Array, k: number, j: number): void {
  const held = list[k]!;
  list[k] = list[j]!;
  list[j] = held;
}

function swapColumns(a: Float64Array, m: number, k: number, j: number): void {
  for (let i = 0; i < m; i++) {
    const held = a[k * m + i]!;
    a[k * m + i] = a[j * m + i]!;
    a[j * m + i] = held;
  }
}

/** Makes the reflector of column k, applies it to the columns after k, returns R's diagonal element. */
function reflect(a: Float64Array, m: number, n: number, k: number, norm: number): number {
  if (norm === 0) return 0;
  const base = k * m;
  const signed = a[base + k]! < 0 ? -norm : norm;
  for (let i = k; i < m; i++) a[base + i] = a[base + i]! / signed;
  a[base + k] = a[base + k]! + 1;
  for (let j = k + 1; j < n; j++) {
    const other = j * m;
    const share = -dot(a, base + k, a, other + k, m - k) / a[base + k]!;
    for (let i = k; i < m; i++) a[other + i] = a[other + i]! + share * a[base + i]!;
  }
  return -signed;
}

/** v ← Qᵀ·v. */
export function applyTransposed(qr: PivotedQr, v: Float64Array): void {
  for (let k = 0; k < qr.columns; k++) applyReflector(qr, k, v);
}

/** v ← Q·v. */
export function apply(qr: PivotedQr, v: Float64Array): void {
  for (let k = qr.columns - 1; k >= 0; k--) applyReflector(qr, k, v);
}

function applyReflector(qr: PivotedQr, k: number, v: Float64Array): void {
  const { rows: m, factors: a } = qr;
  const base = k * m;
  const lead = a[base + k]!;
  if (lead === 0) return;
  const share = -dot(a, base + k, v, k, m - k) / lead;
  for (let i = k; i < m; i++) v[i] = v[i]! + share * a[base + i]!;
}

/** Solves R·z = c for the leading n elements, in place. */
export function backSubstitute(qr: PivotedQr, c: Float64Array): void {
  const { rows: m, columns: n, factors: a, diagonal } = qr;
  for (let j = n - 1; j >= 0; j--) {
    c[j] = c[j]! / diagonal[j]!;
    for (let i = 0; i < j; i++) c[i] = c[i]! - a[j * m + i]! * c[j]!;
  }
}

/** Solves Rᵀ·z = c for the leading n elements, in place. */
export function forwardSubstitute(qr: PivotedQr, c: Float64Array): void {
  const { rows: m, columns: n, factors: a, diagonal } = qr;
  for (let j = 0; j < n; j++) {
    for (let i = 0; i < j; i++) c[j] = c[j]! - a[j * m + i]! * c[i]!;
    c[j] = c[j]! / diagonal[j]!;
  }
}

/** R as a dense n × n matrix, its columns in the order of the pivots. */
export function upperTriangle(qr: PivotedQr): ColumnMatrix {
  const { rows: m, columns: n } = qr;
  const r = columnMatrix(n, n);
  for (let j = 0; j < n; j++) {
    for (let i = 0; i < j; i++) r.data[j * n + i] = qr.factors[j * m + i]!;
    r.data[j * n + j] = qr.diagonal[j]!;
  }
  return r;
}

/** Diagonal of the hat matrix Q₁·Q₁ᵀ: how much of each fitted value is its own observation. */
export function leverages(qr: PivotedQr): Float64Array {
  const { rows: m, columns: n } = qr;
  const leverage = new Float64Array(m);
  const unit = new Float64Array(m);
  for (let j = 0; j < n; j++) {
    unit.fill(0);
    unit[j] = 1;
    apply(qr, unit);
    for (let i = 0; i < m; i++) leverage[i] = leverage[i]! + unit[i]! * unit[i]!;
  }
  return leverage;
}

/** The first column, in the order before pivoting, that the others already determine to rounding; null for full rank. */
export function deficientColumn(qr: PivotedQr): number | null {
  const limit = Number.EPSILON * Math.max(qr.rows, qr.columns) * Math.abs(qr.diagonal[0] ?? 0);
  for (let k = 0; k < qr.columns; k++) if (!(Math.abs(qr.diagonal[k]!) > limit)) return qr.pivot[k]!;
  return null;
}

/** Throws `SINGULAR_DESIGN`, naming the first parameter that the others already determine. */
export function requireFullRank(
  qr: PivotedQr,
  parameterNames: readonly string[],
  remedy = 'Add points at other values of the predictor, or fit a family with fewer parameters.',
): void {
  const column = deficientColumn(qr);
  if (column === null) return;
  throw new InputError(
    'SINGULAR_DESIGN',
    parameterNames[column] ?? `parameter ${column + 1}`,
    'cannot be told apart from the other parameters with these points',
    remedy,
  );
}

/** (XᵀX)⁻¹ = P·R⁻¹·R⁻ᵀ·Pᵀ of an X whose columns were divided by `unit` before they were factored. */
export function inverseOfCrossProduct(qr: PivotedQr, unit: Float64Array): ColumnMatrix {
  const { rows: m, columns: n, factors: r, diagonal } = qr;
  const rInverse = new Float64Array(n * n);
  for (let j = 0; j < n; j++) {
    rInverse[j * n + j] = 1 / diagonal[j]!;
    for (let i = j - 1; i >= 0; i--) {
      let sum = 0;
      for (let k = i + 1; k <= j; k++) sum += r[k * m + i]! * rInverse[j * n + k]!;
      rInverse[j * n + i] = -sum / diagonal[i]!;
    }
  }
  const inverse = columnMatrix(n, n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = 0;
      for (let k = i; k < n; k++) sum += rInverse[k * n + i]! * rInverse[k * n + j]!;
      const a = qr.pivot[i]!;
      const b = qr.pivot[j]!;
      inverse.data[b * n + a] = sum / unit[a]! / unit[b]!;
      inverse.data[a * n + b] = inverse.data[b * n + a]!;
    }
  }
  return inverse;
}
