import type { LeastSquaresReason } from './fit-result.js';
import { applyTransposed, deficientColumn, dot, factorise } from './qr.js';
import { columnsFor, linearise, type Columns, type Problem } from './problem.js';
import { AT_ROUNDING, quickDescent, roomFor } from './quick-descent.js';
import { stepWithin, trustRegion, wholeStep, type Tangent, type TrustRegion } from './trust-region.js';

export interface Point {
  readonly parameters: Float64Array;
  /** Weighted residuals, observed − expected. */
  readonly residuals: Float64Array;
  readonly sum: number;
  /** Made once, of the derivatives that were evaluated with the residuals. */
  tangent(): Tangent;
}

export function evaluateAt(problem: Problem, parameters: Float64Array, columns = columnsFor(problem)): Point {
  linearise(problem, parameters, columns);
  const { residuals } = columns;
  return pointOf(problem, parameters, columns, dot(residuals, 0, residuals, 0, residuals.length));
}

function pointOf(problem: Problem, parameters: Float64Array, columns: Columns, sum: number): Point {
  let tangent: Tangent | null = null;
  return { parameters, residuals: columns.residuals, sum, tangent: () => (tangent ??= tangentOf(problem, parameters, columns)) };
}

/** Whether the descent would take a parameter that stands on a bound beyond it. */
function pressesAgainstBound({ lower, upper }: Problem, k: number, value: number, pull: () => number): boolean {
  return (value <= lower[k]! && pull() <= 0) || (value >= upper[k]! && pull() >= 0);
}

/** Uses the derivatives up: they are scaled and factored in place. */
function tangentOf(problem: Problem, parameters: Float64Array, { derivatives, residuals, projected }: Columns): Tangent {
  const n = residuals.length;
  const free: number[] = [];
  const norms = new Float64Array(parameters.length);
  for (let k = 0; k < parameters.length; k++) {
    if (pressesAgainstBound(problem, k, parameters[k]!, () => dot(derivatives, k * n, residuals, 0, n))) continue;
    const norm = Math.sqrt(dot(derivatives, k * n, derivatives, k * n, n));
    const unit = norm || 1;
    for (let i = 0, from = k * n, to = free.length * n; i < n; i++, from++, to++) derivatives[to] = derivatives[from]! / unit;
    norms[free.length] = norm;
    free.push(k);
  }
  // A view costs as much as half a pass over the points: none where nothing is left out.
  const all = free.length === parameters.length;
  const qr = factorise({ rows: n, columns: free.length, data: all ? derivatives : derivatives.subarray(0, n * free.length) });
  projected.set(residuals);
  applyTransposed(qr, projected);
  return { free, qr, columnNorms: all ? norms : norms.subarray(0, free.length), projected };
}

export interface Rest {
  readonly point: Point;
  readonly reason: LeastSquaresReason;
  readonly iterations: number;
  readonly settled: boolean;
  /** Settled where the parameters can be told apart. */
  readonly sound: boolean;
}

/**
 * In lengths of the start vector. A bold first step can leap onto a plateau from which no descent leads back, a timid one
 * can creep into a dead end: the next radius is tried only where the one before came to no sound rest.
 */
const FIRST_RADII = [1, 100, 0.01];

const SEARCH_TOLERANCE = 1e-13;
const NEAR_THE_FOOT = 1e-6;

/** Relative Gauss-Newton steps: at rest without more ado, and the most that still counts as an answer. */
const AT_REST = 1e-12;
const SETTLED = 1e-8;

/**
 * The rest that the first sound search finds; the lowest of all where none is sound; null where the model has no finite
 * value at the start. It may stand in the room given, until that is used again.
 */
export function seekRest(problem: Problem, start: Float64Array, maxIterations: number, tolerance = AT_ROUNDING, room = roomFor(problem)): Rest | null {
  const quick = quickDescent(problem, start, maxIterations, tolerance, room);
  if (quick !== null) {
    const { point, error, steps } = closeIn(problem, evaluateAt(problem, quick.parameters, room.columns), tolerance);
    if (error < Math.max(AT_REST, tolerance) && deficientColumn(point.tangent().qr) === null) {
      return { point, reason: 'step-below-tolerance', iterations: quick.steps + steps, settled: true, sound: true };
    }
  }
  const first = evaluateAt(problem, start);
  if (!Number.isFinite(first.sum)) return null;
  let best: Rest | null = null;
  for (const firstRadius of FIRST_RADII) {
    const rest = comeToRest(problem, first, firstRadius, maxIterations);
    if (rest.sound) return rest;
    if (best === null || rest.point.sum < best.point.sum) best = rest;
    // A valley without end is the same valley from any first radius.
    if (rest.reason === 'iteration-limit') break;
  }
  return best;
}

function comeToRest(problem: Problem, first: Point, firstRadius: number, maxIterations: number): Rest {
  // Near the foot Gauss-Newton steps are cheaper; only where they do not settle is the search taken to its own end.
  let search = descend(problem, first, firstRadius, maxIterations, NEAR_THE_FOOT);
  let closed = closeIn(problem, search.point);
  let iterations = search.iterations + closed.steps;
  if (closed.error > AT_REST && iterations < maxIterations) {
    search = descend(problem, closed.point, firstRadius, maxIterations - iterations, SEARCH_TOLERANCE);
    closed = closeIn(problem, search.point);
    iterations += search.iterations + closed.steps;
  }
  const settled = closed.error < SETTLED;
  return {
    point: closed.point,
    reason: search.reason === 'iteration-limit' && settled ? 'step-below-tolerance' : search.reason,
    iterations,
    settled,
    sound: settled && deficientColumn(closed.point.tangent().qr) === null,
  };
}

interface Search {
  readonly point: Point;
  readonly reason: LeastSquaresReason;
  readonly iterations: number;
}

function descend(problem: Problem, first: Point, firstRadius: number, maxIterations: number, tolerance: number): Search {
  const scale = new Float64Array(problem.model.parameterCount);
  let point = first;
  let radius = 0;
  let iterations = 0;
  while (iterations < maxIterations) {
    const tangent = point.tangent();
    if (tangent.free.length === 0 || point.sum === 0) return { point, reason: 'gradient-zero', iterations };
    tangent.free.forEach((k, j) => (scale[k] = Math.max(scale[k]!, tangent.columnNorms[j]!)));
    const scales = Float64Array.from(tangent.free, (k) => scale[k]! || 1);
    const length = scaledLength(point.parameters, scale);
    if (radius === 0) radius = length > 0 ? firstRadius * length : firstRadius;
    const whole = wholeStep(tangent, scales);
    let region: TrustRegion | null = null;
    for (;;) {
      iterations++;
      const step = whole !== null && whole.length <= radius ? whole : stepWithin((region ??= trustRegion(tangent, scales)), radius);
      const trial = evaluateAt(problem, stepped(problem, point.parameters, tangent.free, step.step, scales));
      const actual = Number.isFinite(trial.sum) ? 1 - trial.sum / point.sum : -Infinity;
      const predicted = step.reduction / point.sum;
      const ratio = predicted > 0 ? actual / predicted : 0;
      radius = nextRadius(radius, ratio, actual, step.length, step.damping);
      if (ratio >= 1e-4) point = trial;
      if (Math.abs(actual) <= tolerance && predicted <= tolerance) return { point, reason: 'step-below-tolerance', iterations };
      if (radius <= tolerance * length) {
        return { point, reason: ratio > 0 ? 'step-below-tolerance' : 'no-further-descent', iterations };
      }
      if (ratio >= 1e-4 || iterations >= maxIterations) break;
    }
  }
  return { point, reason: 'iteration-limit', iterations };
}

function freeLength(parameters: Float64Array, free: readonly number[], scales: Float64Array): number {
  let sum = 0;
  for (let j = 0; j < free.length; j++) sum += (parameters[free[j]!]! * scales[j]!) ** 2;
  return Math.sqrt(sum);
}

function scaledLength(parameters: Float64Array, scale: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < parameters.length; k++) sum += (parameters[k]! * scale[k]!) ** 2;
  return Math.sqrt(sum);
}

function nextRadius(radius: number, ratio: number, actual: number, length: number, damping: number): number {
  if (ratio <= 0.25) {
    if (!Number.isFinite(actual)) return 0.1 * Math.min(radius, 10 * length);
    // How far the sum rose says how much the tangent overreached: cut harder for a steep rise (Moré 1978, sec. 4).
    const cut = actual >= 0 ? 0.5 : Math.max(0.1, 0.5 / (1 - actual / 2));
    return cut * Math.min(radius, 10 * length);
  }
  return damping === 0 || ratio >= 0.75 ? 2 * length : radius;
}

/** From `from` by z/scale in each free parameter, held within the bounds. */
function stepped(problem: Problem, from: Float64Array, free: readonly number[], z: Float64Array, scales: Float64Array): Float64Array {
  const to = from.slice();
  for (let j = 0; j < free.length; j++) {
    const k = free[j]!;
    to[k] = Math.min(problem.upper[k]!, Math.max(problem.lower[k]!, from[k]! + z[j]! / scales[j]!));
  }
  return to;
}

/**
 * Gauss-Newton steps while they keep shrinking: takes the search's answer to the rounding of its arithmetic. `error` is
 * what the last two steps say is left: they shrink at a steady rate, so the next would be size²/size before.
 */
function closeIn(problem: Problem, from: Point, tolerance = AT_ROUNDING): { point: Point; steps: number; error: number } {
  let point = from;
  let lastSize = Infinity;
  let error = Infinity;
  let steps = 0;
  for (; steps < 30; steps++) {
    const tangent = point.tangent();
    if (tangent.free.length === 0) return { point, steps, error: 0 };
    const scales = new Float64Array(tangent.free.length);
    for (let j = 0; j < scales.length; j++) scales[j] = tangent.columnNorms[j]! || 1;
    const { step, length } = wholeStep(tangent, scales) ?? stepWithin(trustRegion(tangent, scales), Infinity);
    const size = length / Math.max(freeLength(point.parameters, tangent.free, scales), Number.MIN_VALUE);
    if (!(size < lastSize)) break;
    error = Math.min(size, 1);
    if (size < tolerance) return { point, steps, error: size };
    const trial = evaluateAt(problem, stepped(problem, point.parameters, tangent.free, step, scales));
    if (!(trial.sum <= point.sum * (1 + 1e-9))) break;
    point = trial;
    error = lastSize === Infinity ? size : size * Math.min(1, size / lastSize);
    if (error < tolerance) return { point, steps: steps + 1, error };
    lastSize = size;
  }
  return { point, steps, error };
}
