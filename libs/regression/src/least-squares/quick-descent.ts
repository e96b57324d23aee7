import { columnsFor, linearise, type Columns, type Problem } from './problem.js';
import { dot } from './qr.js';

/** Below this the unit-scaled normal matrix is left to the QR search: its condition enters squared here. */
const SMALLEST_PIVOT = 1e-7;

/** The tangent must foretell the fall of the sum this well, or the start is not an easy one. */
const EASY = 0.25;

/** Relative steps from which on the sum moves by less than its own rounding. */
const NEAR = 1e-7;

/** Relative error left, by the shrinking of the last two steps: below this, rounding. */
export const AT_ROUNDING = 1e-14;

/** A step that overreaches is cut once to the foot of the parabola along it, unless that lies nearer than this share. */
const SHORTEST_CUT = 0.1;

/** Room for one descent after the other, so that a refit makes nothing that has to be cleared away. */
export interface Room {
  readonly columns: Columns;
  /**
   * Products of every two columns at a point, row by row, lower triangle: JᵀJ, then Jᵀr and at the end rᵀr in the last row.
   * All that a Gauss-Newton step needs.
   */
  here: Float64Array;
  there: Float64Array;
  parameters: Float64Array;
  trial: Float64Array;
  readonly factor: Float64Array;
  readonly step: Float64Array;
}

export function roomFor(problem: Problem): Room {
  const p = problem.model.parameterCount;
  const products = (p + 1) * (p + 1);
  const columns = columnsFor(problem, 2 * products + p * p);
  return {
    columns,
    here: columns.spare.subarray(0, products),
    there: columns.spare.subarray(products, 2 * products),
    factor: columns.spare.subarray(2 * products),
    parameters: new Float64Array(p),
    trial: new Float64Array(p),
    step: new Float64Array(p),
  };
}

export function roomSuits({ step, columns }: Room, { model, response }: Problem): boolean {
  return step.length === model.parameterCount && columns.residuals.length === response.length;
}

export interface QuickRest {
  /** Stand in the room of the descent, until the next. */
  readonly parameters: Float64Array;
  readonly steps: number;
}

/** What a start has that no response changes: descents from it on one response after the other need not evaluate it again. */
export interface SharedStart {
  readonly parameters: Float64Array;
  readonly values: Float64Array;
  /** Weighted. */
  readonly derivatives: Float64Array;
  /** As in {@link Room}, the last row left to the response. */
  readonly products: Float64Array;
}

export function sharedStart(problem: Problem, parameters: Float64Array): SharedStart {
  const room = roomFor(problem);
  const { response, rootWeights } = problem;
  productsAt(problem, parameters, room.columns, room.here);
  const values = room.columns.residuals.map((r, i) => response[i]! - (rootWeights === null ? r : r / rootWeights[i]!));
  return { parameters, values, derivatives: room.columns.derivatives, products: room.here };
}

/** {@link productsAt} at a shared start: only what the response has a part in. */
function productsAtShared(problem: Problem, { values, derivatives, products }: SharedStart, { columns: { residuals }, here }: Room): void {
  const { response, rootWeights } = problem;
  const n = response.length;
  const last = products.length - problem.model.parameterCount - 1;
  for (let i = 0; i < n; i++) residuals[i] = (response[i]! - values[i]!) * (rootWeights === null ? 1 : rootWeights[i]!);
  here.set(products);
  for (let at = last, column = 0; at < products.length - 1; at++, column += n) here[at] = dot(derivatives, column, residuals, 0, n);
  here[products.length - 1] = dot(residuals, 0, residuals, 0, n);
}

/**
 * Gauss-Newton steps by normal equations, for starts near the foot of a well-conditioned problem: the common case of a
 * refit, at a tenth of the work. Null at the first sign of anything else: a step that the tangent did not foretell even
 * when cut, a bound, a small pivot, a value that is not finite. The caller then searches with care, and where it goes on
 * from the rest found here, the last word is a QR step.
 */
export function quickDescent(problem: Problem, start: Float64Array | SharedStart, maxSteps: number, tolerance: number, room: Room): QuickRest | null {
  const { step } = room;
  const p = step.length;
  const last = p * (p + 1);
  let lastSize = Infinity;
  if ('products' in start) {
    room.parameters.set(start.parameters);
    productsAtShared(problem, start, room);
  } else {
    room.parameters.set(start);
    productsAt(problem, start, room.columns, room.here);
  }
  for (let steps = 1; steps <= Math.min(maxSteps, 40); steps++) {
    const { here } = room;
    if (!solveStep(here, room.factor, step)) return null;
    let predicted = 0;
    let stepLength = 0;
    let length = 0;
    for (let k = 0; k < p; k++) {
      const square = here[k * (p + 2)]!;
      predicted += step[k]! * here[last + k]!;
      stepLength += step[k]! * step[k]! * square;
      length += room.parameters[k]! * room.parameters[k]! * square;
    }
    const size = Math.sqrt(stepLength / length);
    const near = size < NEAR;
    const left = lastSize === Infinity ? size : size * Math.min(1, size / lastSize);
    if (!goBy(problem, room, 1)) return null;
    // No step so small is judged by the sum: what is left after it lies below what was asked for.
    if (left < tolerance && size < lastSize && (near || tolerance > AT_ROUNDING)) return { parameters: room.trial, steps };
    productsAt(problem, room.trial, room.columns, room.there);
    const sum = here[last + p]!;
    const fall = sum - room.there[last + p]!;
    if (near ? !(fall >= -1e-9 * sum && size < lastSize) : !(fall >= EASY * predicted)) {
      if (near) return lastSize < 1e-12 ? { parameters: room.parameters, steps } : null;
      const share = predicted / (2 * predicted - fall);
      if (!(share > SHORTEST_CUT) || !goBy(problem, room, share)) return null;
      productsAt(problem, room.trial, room.columns, room.there);
      if (!(sum - room.there[last + p]! >= EASY * share * (2 - share) * predicted)) return null;
      lastSize = Infinity;
    } else {
      lastSize = size;
    }
    [room.parameters, room.trial] = [room.trial, room.parameters];
    [room.here, room.there] = [room.there, room.here];
  }
  return null;
}

/** Puts the trial a share of the step ahead; false where that meets a bound. */
function goBy(problem: Problem, { parameters, step, trial }: Room, share: number): boolean {
  for (let k = 0; k < step.length; k++) {
    const value = parameters[k]! + share * step[k]!;
    if (!(value > problem.lower[k]! && value < problem.upper[k]!)) return false;
    trial[k] = value;
  }
  return true;
}

function productsAt(problem: Problem, parameters: Float64Array, columns: Columns, into: Float64Array): void {
  linearise(problem, parameters, columns);
  const n = problem.response.length;
  const count = parameters.length + 1;
  if (count === 4) return multiplyFour(columns.all, n, into);
  for (let k = 0; k < count; k++) {
    for (let l = 0; l < k; l += 2) multiplyByTwo(columns.all, n, k * n, l * n, into, k * count + l);
    if (k % 2 === 0) into[k * count + k] = dot(columns.all, k * n, columns.all, k * n, n);
  }
}

/** All products of four columns in one pass: of three parameters, as most curves here have, and the residuals. */
function multiplyFour(columns: Float64Array, n: number, into: Float64Array): void {
  let s00 = 0;
  let s10 = 0;
  let s11 = 0;
  let s20 = 0;
  let s21 = 0;
  let s22 = 0;
  let s30 = 0;
  let s31 = 0;
  let s32 = 0;
  let s33 = 0;
  for (let i = 0; i < n; i++) {
    const c0 = columns[i]!;
    const c1 = columns[n + i]!;
    const c2 = columns[2 * n + i]!;
    const c3 = columns[3 * n + i]!;
    s00 += c0 * c0;
    s10 += c1 * c0;
    s11 += c1 * c1;
    s20 += c2 * c0;
    s21 += c2 * c1;
    s22 += c2 * c2;
    s30 += c3 * c0;
    s31 += c3 * c1;
    s32 += c3 * c2;
    s33 += c3 * c3;
  }
  into[0] = s00;
  into[4] = s10;
  into[5] = s11;
  into[8] = s20;
  into[9] = s21;
  into[10] = s22;
  into[12] = s30;
  into[13] = s31;
  into[14] = s32;
  into[15] = s33;
}

/** The products of the column at `a` with that at `b` and the next, each as {@link dot}: the two share what is read. */
function multiplyByTwo(columns: Float64Array, n: number, a: number, b: number, into: Float64Array, at: number): void {
  const next = b + n;
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let s3 = 0;
  let t0 = 0;
  let t1 = 0;
  let t2 = 0;
  let t3 = 0;
  let i = 0;
  for (; i + 3 < n; i += 4) {
    const a0 = columns[a + i]!;
    const a1 = columns[a + i + 1]!;
    const a2 = columns[a + i + 2]!;
    const a3 = columns[a + i + 3]!;
    s0 += a0 * columns[b + i]!;
    s1 += a1 * columns[b + i + 1]!;
    s2 += a2 * columns[b + i + 2]!;
    s3 += a3 * columns[b + i + 3]!;
    t0 += a0 * columns[next + i]!;
    t1 += a1 * columns[next + i + 1]!;
    t2 += a2 * columns[next + i + 2]!;
    t3 += a3 * columns[next + i + 3]!;
  }
  for (; i < n; i++) {
    s0 += columns[a + i]! * columns[b + i]!;
    t0 += columns[a + i]! * columns[next + i]!;
  }
  into[at] = s0 + s1 + (s2 + s3);
  into[at + 1] = t0 + t1 + (t2 + t3);
}

/** Cholesky of the unit-scaled normal matrix; false where a pivot is too small. */
function solveStep(products: Float64Array, factor: Float64Array, step: Float64Array): boolean {
  const p = step.length;
  const count = p + 1;
  for (let k = 0; k < p; k++) {
    const rootK = Math.sqrt(products[k * count + k]!);
    if (!(rootK > 0 && rootK < Infinity)) return false;
    let rest = products[p * count + k]! / rootK;
    for (let l = 0; l <= k; l++) {
      let entry = l === k ? 1 : products[k * count + l]! / (rootK * Math.sqrt(products[l * count + l]!));
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
  for (let k = 0; k < p; k++) step[k] = step[k]! / Math.sqrt(products[k * count + k]!);
  return true;
}
