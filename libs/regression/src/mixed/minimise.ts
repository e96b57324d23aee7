import { matrixFromRows, symmetricEigen } from '#libs/numeric';

/** A smooth function with its gradient, written into `gradient`; NaN or Infinity where it is not defined. */
export type Objective = (point: Float64Array, gradient: Float64Array) => number;

/** Where a search ended, and how. */
export interface Minimum {
  readonly point: Float64Array;
  readonly value: number;
  readonly gradient: Float64Array;
  /** Half of gᵀH⁻¹g before the last step: how much the value could still fall, to second order. */
  readonly predictedFall: number;
  readonly converged: boolean;
  readonly reason: 'the gradient vanished' | 'rounding hides any further fall' | 'no step lowers the value' | 'the step limit was reached';
  readonly iterations: number;
  readonly evaluations: number;
}

const MAX_ITERATIONS = 100;
/** Once this little can be gained, the step about to be taken is the last: its error is the square of what it removes. */
const LAST_STEP_FALL = 1e-10;
/** A deviance that could fall by this little more changes no estimate by a thousandth of its standard error. */
const NEGLIGIBLE_FALL = 1e-6;

/**
 * Minimum of a smooth function of few variables by Newton steps with a curvature made positive.
 *
 * The Hessian is differenced from the gradient (central, so good to about 1e-8 of itself); along directions of negative curvature its
 * size is used; steps are limited in length and halved until the value falls enough (Armijo). The coordinates marked in `fixed` stay.
 * Source: J. Nocedal and S. J. Wright, Numerical Optimization, 2nd ed. (2006), 3.4 (from memory).
 */
export function minimise(objective: Objective, start: ArrayLike<number>, fixed: readonly boolean[] = []): Minimum {
  const n = start.length;
  const free = Array.from({ length: n }, (_, i) => i).filter((i) => fixed[i] !== true);
  let evaluations = 0;
  const evaluate = (point: Float64Array, gradient: Float64Array) => {
    evaluations += 1;
    return objective(point, gradient);
  };
  let point = Float64Array.from(start);
  let gradient = new Float64Array(n);
  let value = evaluate(point, gradient);
  let hessian = differenceHessian(evaluate, point, free);
  let reason: Minimum['reason'] = 'the step limit was reached';
  let fall = free.length === 0 ? 0 : Infinity;
  let iterations = 0;
  if (free.length === 0) reason = 'the gradient vanished';
  for (; iterations < MAX_ITERATIONS && free.length > 0; iterations += 1) {
    const step = newtonStep(hessian, gradient, point, free);
    fall = -0.5 * free.reduce((sum, i, k) => sum + gradient[i]! * step[k]!, 0);
    const last = fall < LAST_STEP_FALL * Math.max(1, Math.abs(value) * 1e-3);
    const next = search(evaluate, point, value, gradient, step, free, last);
    if (next !== undefined) ({ point, value, gradient } = next);
    if (last || next === undefined) {
      reason = last ? 'the gradient vanished' : fall < NEGLIGIBLE_FALL ? 'rounding hides any further fall' : 'no step lowers the value';
      break;
    }
    hessian = differenceHessian(evaluate, point, free);
  }
  return { point, value, gradient, predictedFall: fall, converged: reason === 'the gradient vanished' || reason === 'rounding hides any further fall', reason, iterations, evaluations };
}

type Evaluate = (point: Float64Array, gradient: Float64Array) => number;

function search(evaluate: Evaluate, point: Float64Array, value: number, gradient: Float64Array, step: Float64Array, free: readonly number[], last: boolean) {
  const slope = free.reduce((sum, i, k) => sum + gradient[i]! * step[k]!, 0);
  const rounding = 1e-13 * (1 + Math.abs(value));
  for (let share = 1; share > 1e-9; share /= 2) {
    const candidate = Float64Array.from(point);
    free.forEach((i, k) => (candidate[i]! += share * step[k]!));
    const candidateGradient = new Float64Array(point.length);
    const candidateValue = evaluate(candidate, candidateGradient);
    if (candidateValue <= value + 1e-4 * share * slope + (last ? rounding : 0)) {
      return { point: candidate, value: candidateValue, gradient: candidateGradient };
    }
    if (last) return undefined;
  }
  return undefined;
}

/** −H⁻¹g with the eigenvalues of H made positive, no longer than twice the point's own length and 2. */
function newtonStep(hessian: readonly Float64Array[], gradient: Float64Array, point: Float64Array, free: readonly number[]): Float64Array {
  const { values, vectors } = symmetricEigen(matrixFromRows(free.map((i) => free.map((j) => hessian[i]![j]!))));
  const m = free.length;
  const largest = values.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  const step = new Float64Array(m);
  for (let e = 0; e < m; e += 1) {
    let along = 0;
    for (let k = 0; k < m; k += 1) along += vectors.data[k * m + e]! * gradient[free[k]!]!;
    const curvature = Math.max(Math.abs(values[e]!), 1e-12 * largest, Number.MIN_VALUE);
    for (let k = 0; k < m; k += 1) step[k]! -= (along / curvature) * vectors.data[k * m + e]!;
  }
  const longest = 2 * (1 + Math.hypot(...point));
  const length = Math.hypot(...step);
  if (length > longest) for (let k = 0; k < m; k += 1) step[k]! *= longest / length;
  return step;
}

function differenceHessian(evaluate: Evaluate, point: Float64Array, free: readonly number[]): Float64Array[] {
  const n = point.length;
  const hessian = Array.from({ length: n }, () => new Float64Array(n));
  const above = new Float64Array(n);
  const below = new Float64Array(n);
  for (const i of free) {
    const h = 1e-4 * Math.max(Math.abs(point[i]!), 0.1);
    const moved = Float64Array.from(point);
    moved[i] = point[i]! + h;
    evaluate(moved, above);
    moved[i] = point[i]! - h;
    evaluate(moved, below);
    for (const j of free) hessian[i]![j] = (above[j]! - below[j]!) / (2 * h);
  }
  for (const i of free) {
    for (const j of free) {
      if (j > i) hessian[i]![j] = hessian[j]![i] = (hessian[i]![j]! + hessian[j]![i]!) / 2;
    }
  }
  return hessian;
}
