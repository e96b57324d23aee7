import type { Problem } from './problem.js';

/** Sums at a point: all that a Gauss-Newton step needs, without keeping derivatives. */
interface Sums {
  sum: number;
  /** JᵀJ, row by row, lower triangle filled. */
  readonly squares: Float64Array;
  /** Jᵀr. */
  readonly pulls: Float64Array;
}

/** Weighted derivatives, one column a parameter, and weighted residuals after them: rewritten at every point. */
type Columns = Float64Array;

/** Below this the unit-scaled normal matrix is left to the QR search: its condition enters squared here. */
const SMALLEST_PIVOT = 1e-7;

/** The tangent must foretell the fall of the sum this well, or the start is not an easy one. */
const EASY = 0.25;

/** Relative steps from which on the sum moves by less than its own rounding. */
const NEAR = 1e-7;

/** Relative error left, by the shrinking of the last two steps: below this, rounding. */
export const AT_ROUNDING = 1e-14;

export interface QuickRest {
  readonly parameters: Float64Array;
  readonly steps: number;
  /** Weighted derivatives there, one column a parameter, and weighted residuals after them. */
  readonly columns: Float64Array;
  readonly sum: number;
}

/**
 * Plain Gauss-Newton steps by normal equations, for starts near the foot of a well-conditioned problem: the common case
 * of a refit, at a tenth of the work. Null at the first sign of anything else: a step that the tangent did not foretell,
 * a bound, a small pivot, a value that is not finite. The caller then searches with care, and either way the last word
 * is a QR step at the point found.
 */
export function quickDescent(
  problem: Problem,
  start: Float64Array,
  maxSteps: number,
  tolerance = AT_ROUNDING,
): QuickRest | null {
  const p = start.length;
  let parameters = start;
  let here: Sums = { sum: 0, squares: new Float64Array(p * p), pulls: new Float64Array(p) };
  let there: Sums = { sum: 0, squares: new Float64Array(p * p), pulls: new Float64Array(p) };
  const gradient = new Float64Array(p);
  const columns: Columns = new Float64Array((p + 1) * problem.response.length);
  const factor = new Float64Array(p * p);
  const step = new Float64Array(p);
  let lastSize = Infinity;
  sumsAt(problem, parameters, gradient, columns, here);
  for (let steps = 1; steps <= Math.min(maxSteps, 40); steps++) {
    if (!solveStep(here, factor, step)) return null;
    const next = new Float64Array(p);
    let predicted = 0;
    let stepLength = 0;
    let length = 0;
    for (let k = 0; k < p; k++) {
      const value = parameters[k]! + step[k]!;
      if (!(value > problem.lower[k]! && value < problem.upper[k]!)) return null;
      next[k] = value;
      predicted += step[k]! * here.pulls[k]!;
      stepLength += step[k]! * step[k]! * here.squares[k * p + k]!;
      length += parameters[k]! * parameters[k]! * here.squares[k * p + k]!;
    }
    sumsAt(problem, next, gradient, columns, there);
    const size = Math.sqrt(stepLength / length);
    // There only the shrinking of the steps still tells.
    const near = size < NEAR;
    if (near ? !(there.sum <= here.sum * (1 + 1e-9) && size < lastSize) : !(here.sum - there.sum >= EASY * predicted)) {
      if (!near || lastSize >= 1e-12) return null;
      sumsAt(problem, parameters, gradient, columns, here);
      return { parameters, steps, columns, sum: here.sum };
    }
    parameters = next;
    [here, there] = [there, here];
    const left = lastSize === Infinity ? size : size * Math.min(1, size / lastSize);
    if (left < tolerance && (near || tolerance > AT_ROUNDING)) return { parameters, steps, columns, sum: here.sum };
    lastSize = size;
  }
  return null;
}

function sumsAt(problem: Problem, parameters: Float64Array, gradient: Float64Array, columns: Columns, into: Sums): void {
  const { model, response, rootWeights } = problem;
  const { squares, pulls } = into;
  const p = parameters.length;
  const n = response.length;
  for (let i = 0; i < n; i++) {
    columns[p * n + i] = response[i]! - model.evaluate(parameters, i, gradient);
    for (let k = 0, at = i; k < p; k++, at += n) columns[at] = gradient[k]!;
  }
  if (rootWeights !== null) for (let at = 0; at < columns.length; at++) columns[at] = columns[at]! * rootWeights[at % n]!;
  for (let k = 0; k < p; k++) {
    for (let l = 0; l <= k; l++) squares[k * p + l] = product(columns, k * n, l * n, n);
    pulls[k] = product(columns, k * n, p * n, n);
  }
  into.sum = product(columns, p * n, p * n, n);
}

/** Four running sums, so that one addition need not wait for the one before. */
function product(columns: Columns, a: number, b: number, n: number): number {
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let s3 = 0;
  let i = 0;
  for (; i + 3 < n; i += 4) {
    s0 += columns[a + i]! * columns[b + i]!;
    s1 += columns[a + i + 1]! * columns[b + i + 1]!;
    s2 += columns[a + i + 2]! * columns[b + i + 2]!;
    s3 += columns[a + i + 3]! * columns[b + i + 3]!;
  }
  for (; i < n; i++) s0 += columns[a + i]! * columns[b + i]!;
  return s0 + s1 + (s2 + s3);
}

/** Cholesky of the unit-scaled normal matrix; false where a pivot is too small. */
function solveStep({ squares, pulls }: Sums, factor: Float64Array, step: Float64Array): boolean {
  const p = pulls.length;
  for (let k = 0; k < p; k++) {
    const rootK = Math.sqrt(squares[k * p + k]!);
    if (!(rootK > 0 && rootK < Infinity)) return false;
    let rest = pulls[k]! / rootK;
    for (let l = 0; l <= k; l++) {
      let entry = l === k ? 1 : squares[k * p + l]! / (rootK * Math.sqrt(squares[l * p + l]!));
      for (let m = 0; m < l; m++) entry -= factor[k * p + m]! * factor[l * p + m]!;
      if (l < k) {
        factor[k * p + l] = entry / factor[l * p + l]!;
        rest -= factor[k * p + l]! * step[l]!;
      } else {
        if (!(entry > SMALLEST_PIVOT)) return false;
        factor[k * p + k] = Math.sqrt(entry);
        step[k] = rest / factor[k * p + k]!;
      }
    }
  }
  for (let k = p - 1; k >= 0; k--) {
    let value = step[k]!;
    for (let l = k + 1; l < p; l++) value -= factor[l * p + k]! * step[l]!;
    step[k] = value / factor[k * p + k]!;
  }
  for (let k = 0; k < p; k++) step[k] = step[k]! / Math.sqrt(squares[k * p + k]!);
  return true;
}
