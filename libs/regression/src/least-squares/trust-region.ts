import { singularValues, zeros } from '#libs/numeric';
import { backSubstitute, deficientColumn, upperTriangle, type PivotedQr } from './qr.js';

/** The curve's tangent at a point, with parameters that press against a bound held fixed. */
export interface Tangent {
  readonly free: readonly number[];
  /** Of the derivative columns scaled to unit length: rank must not depend on the units of the parameters. */
  readonly qr: PivotedQr;
  readonly columnNorms: Float64Array;
  /** Qᵀ·residuals. */
  readonly projected: Float64Array;
}

export interface Step {
  /** In scaled parameters, z = D·step. */
  readonly step: Float64Array;
  /** Fall of the sum of squares that the tangent foretells. */
  readonly reduction: number;
  readonly length: number;
  readonly damping: number;
}

/** The Gauss-Newton step; null where the tangent is deficient and the step has to be sought by {@link stepWithin}. */
export function wholeStep(tangent: Tangent, scales: Float64Array): Step | null {
  const { qr, projected, columnNorms } = tangent;
  const n = qr.columns;
  if (deficientColumn(qr) !== null) return null;
  const solved = new Float64Array(n);
  let reduction = 0;
  for (let k = 0; k < n; k++) {
    solved[k] = projected[k]!;
    reduction += solved[k]! * solved[k]!;
  }
  backSubstitute(qr, solved);
  const step = new Float64Array(n);
  let sum = 0;
  for (let k = 0; k < n; k++) {
    const j = qr.pivot[k]!;
    step[j] = (solved[k]! / columnNorms[j]!) * scales[j]!;
    sum += step[j]! * step[j]!;
  }
  return { step, reduction, length: Math.sqrt(sum), damping: 0 };
}

/** The quadratic model in scaled parameters, diagonalised: ‖Qᵀr − R·D⁻¹·z‖. */
export interface TrustRegion {
  /** Singular values of R·D⁻¹, greatest first. */
  readonly s: Float64Array;
  /** Its right singular vectors: element i of the k-th at `v[i * n + k]`. */
  readonly v: Float64Array;
  /** Uᵀ·(Qᵀr). */
  readonly target: Float64Array;
}

export function trustRegion(tangent: Tangent, scales: Float64Array): TrustRegion {
  const { qr, projected, columnNorms } = tangent;
  const n = qr.columns;
  const r = upperTriangle(qr);
  const inOrder = zeros(n, n);
  for (let j = 0; j < n; j++) {
    const to = qr.pivot[j]!;
    for (let i = 0; i < n; i++) inOrder.data[i * n + to] = r.data[j * n + i]! * (columnNorms[to]! / scales[to]!);
  }
  const { left, values, right } = singularValues(inOrder);
  const target = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < n; k++) target[k] = target[k]! + left.data[i * n + k]! * projected[i]!;
  }
  return { s: values, v: right.data, target };
}

/** The step of least predicted sum with scaled length at most `radius`; damping solves the secular equation by Newton. */
export function stepWithin(region: TrustRegion, radius: number): Step {
  const { s, v, target } = region;
  const n = s.length;
  const negligible = s[0]! * Number.EPSILON * n;
  let damping = 0;
  const along = new Float64Array(n);
  let length = 0;
  for (let pass = 0; pass < 40; pass++) {
    let sum = 0;
    let slope = 0;
    for (let k = 0; k < n; k++) {
      const denominator = s[k]! * s[k]! + damping;
      along[k] = s[k]! <= negligible || denominator === 0 ? 0 : (s[k]! * target[k]!) / denominator;
      sum += along[k]! * along[k]!;
      if (denominator > 0) slope += (along[k]! * along[k]!) / denominator;
    }
    length = Math.sqrt(sum);
    if (length <= radius && damping === 0) break;
    if (length <= 1.001 * radius && length >= 0.9 * radius) break;
    if (slope === 0) break;
    damping = Math.max(0, damping + ((length - radius) / radius) * (sum / slope));
  }
  const step = new Float64Array(n);
  let reduction = 0;
  for (let k = 0; k < n; k++) {
    for (let i = 0; i < n; i++) step[i] = step[i]! + v[i * n + k]! * along[k]!;
    const reached = s[k]! * along[k]!;
    reduction += reached * (2 * target[k]! - reached);
  }
  return { step, reduction, length, damping };
}
