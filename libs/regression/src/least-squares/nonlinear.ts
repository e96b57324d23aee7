import { singularValues, zeros } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';
import { summarise, type LeastSquaresReason, type LeastSquaresFit } from './fit-result.js';
import { requireMorePointsThanParameters, rootWeightsOf, type WeightOptions } from './linear.js';
import {
  applyTransposed,
  columnMatrix,
  factorise,
  inverseOfCrossProduct,
  deficientColumn,
  requireFullRank,
  upperTriangle,
  type ColumnMatrix,
  type PivotedQr,
} from './qr.js';

/** A curve to be fitted, known to the solver only by its values and derivatives at the observations. */
export interface ResponseModel {
  readonly parameterCount: number;
  /**
   * The value expected at observation `index`. Where `gradient` is given, writes ∂value/∂parameterₖ into its k-th place.
   * May return NaN or Infinity outside the model's domain: the solver then steps back.
   */
  evaluate(parameters: Float64Array, index: number, gradient: Float64Array | null): number;
}

export interface NonlinearOptions extends WeightOptions {
  readonly start: readonly number[];
  readonly parameterNames?: readonly string[];
  /** One bound a parameter, -Infinity or Infinity for none. */
  readonly lower?: readonly number[];
  readonly upper?: readonly number[];
  /** Trial steps, default 2000. Reaching it is reported as not converged, never as an answer. */
  readonly maxIterations?: number;
}

interface Problem {
  readonly model: ResponseModel;
  readonly response: readonly number[];
  readonly rootWeights: Float64Array | null;
  readonly lower: Float64Array;
  readonly upper: Float64Array;
}

interface Point {
  readonly parameters: Float64Array;
  /** Weighted residuals, observed − expected. */
  readonly residuals: Float64Array;
  readonly sum: number;
}

/** The tangent at a point, with parameters that press against a bound held fixed. */
interface Tangent {
  readonly free: readonly number[];
  /** Of the derivative columns scaled to unit length: rank must not depend on the units of the parameters. */
  readonly qr: PivotedQr;
  readonly columnNorms: Float64Array;
  /** Qᵀ·residuals. */
  readonly projected: Float64Array;
}

/**
 * Nonlinear least squares: minimises Σ wᵢ(yᵢ − f(β, i))² by a Levenberg-Marquardt search in a scaled trust region
 * (Moré, in Lecture Notes in Mathematics 630 (1978) 105-116), then closes in with plain Gauss-Newton steps until
 * rounding stops them, so that the answer does not carry the tolerance of the search.
 *
 * Scaling follows the longest derivative column seen, so the path does not depend on the units of the parameters.
 * Bounds hold a parameter fixed while the descent presses against them.
 *
 * @throws InputError SHAPE, NOT_FINITE, NOT_POSITIVE, TOO_FEW_POINTS, START_OUT_OF_BOUNDS, START_OUT_OF_DOMAIN,
 *   SINGULAR_DESIGN (at the point found)
 * @example
 * const x = [1, 2, 3, 4];
 * const saturation = modelFromFormula(2, ([top, rate], i) => rate.times(-x[i]).exp().negated().plus(1).times(top));
 * fitNonlinear(saturation, x.map((at) => 5 * (1 - Math.exp(-0.5 * at))), { start: [4, 1] }).parameters // => [5, 0.5]
 */
export function fitNonlinear(
  model: ResponseModel,
  response: readonly number[],
  options: NonlinearOptions,
): LeastSquaresFit {
  const p = model.parameterCount;
  const n = response.length;
  response.forEach((value, i) => requireFinite(`response[${i}]`, value));
  requireMorePointsThanParameters(n, p);
  const problem: Problem = {
    model,
    response,
    rootWeights: rootWeightsOf(n, options),
    lower: boundsOf('lower', options.lower, p, -Infinity),
    upper: boundsOf('upper', options.upper, p, Infinity),
  };
  const first = evaluateAt(problem, startOf(problem, options.start));
  if (!Number.isFinite(first.sum)) {
    throw new InputError('START_OUT_OF_DOMAIN', 'start', 'the model has no finite value at the start for some point', 'Start nearer to the data.');
  }
  const maxIterations = options.maxIterations ?? 2000;
  let best: Rest | null = null;
  for (const firstRadius of FIRST_RADII) {
    const rest = comeToRest(problem, first, firstRadius, maxIterations);
    if (rest.sound) return describe(problem, rest, options);
    if (best === null || rest.point.sum < best.point.sum) best = rest;
  }
  return describe(problem, best!, options);
}

/**
 * In lengths of the start vector. A bold first step can leap onto a plateau from which no descent leads back, a timid one
 * can creep into a dead end: the next radius is tried only where the one before came to no sound rest.
 */
const FIRST_RADII = [1, 100, 0.01];

interface Rest {
  readonly point: Point;
  readonly reason: LeastSquaresReason;
  readonly iterations: number;
  readonly settled: boolean;
  /** Settled where the parameters can be told apart. */
  readonly sound: boolean;
}

function comeToRest(problem: Problem, first: Point, firstRadius: number, maxIterations: number): Rest {
  const search = descend(problem, first, firstRadius, maxIterations);
  const { point, steps, settled } = closeIn(problem, search.point);
  return {
    point,
    reason: search.reason === 'iteration-limit' && settled ? 'step-below-tolerance' : search.reason,
    iterations: search.iterations + steps,
    settled,
    sound: settled && deficientColumn(tangentAt(problem, point).qr) === null,
  };
}

function boundsOf(field: string, bounds: readonly number[] | undefined, p: number, none: number): Float64Array {
  if (bounds === undefined) return new Float64Array(p).fill(none);
  if (bounds.length !== p || bounds.some(Number.isNaN)) {
    throw new InputError('SHAPE', field, `[${bounds.join(', ')}] for ${p} parameters`, 'Give one bound a parameter, or none.');
  }
  return Float64Array.from(bounds);
}

function startOf(problem: Problem, start: readonly number[]): Float64Array {
  const p = problem.model.parameterCount;
  if (start.length !== p) {
    throw new InputError('SHAPE', 'start', `${start.length} values for ${p} parameters`, 'Give one starting value a parameter.');
  }
  start.forEach((value, k) => {
    requireFinite(`start[${k}]`, value);
    if (value < problem.lower[k]! || value > problem.upper[k]!) {
      throw new InputError('START_OUT_OF_BOUNDS', `start[${k}]`, `${value} is not within [${problem.lower[k]}, ${problem.upper[k]}]`, 'Start within the bounds.');
    }
  });
  return Float64Array.from(start);
}

function evaluateAt(problem: Problem, parameters: Float64Array): Point {
  const { model, response, rootWeights } = problem;
  const residuals = new Float64Array(response.length);
  let sum = 0;
  for (let i = 0; i < residuals.length; i++) {
    const r = (response[i]! - model.evaluate(parameters, i, null)) * (rootWeights === null ? 1 : rootWeights[i]!);
    residuals[i] = r;
    sum += r * r;
  }
  return { parameters, residuals, sum };
}

function jacobianAt(problem: Problem, parameters: Float64Array): ColumnMatrix {
  const { model, response, rootWeights } = problem;
  const n = response.length;
  const p = model.parameterCount;
  const jacobian = columnMatrix(n, p);
  const gradient = new Float64Array(p);
  for (let i = 0; i < n; i++) {
    model.evaluate(parameters, i, gradient);
    const w = rootWeights === null ? 1 : rootWeights[i]!;
    for (let k = 0; k < p; k++) jacobian.data[k * n + i] = gradient[k]! * w;
  }
  return jacobian;
}

function tangentAt(problem: Problem, point: Point): Tangent {
  const jacobian = jacobianAt(problem, point.parameters);
  const n = jacobian.rows;
  const free: number[] = [];
  for (let k = 0; k < jacobian.columns; k++) {
    let pull = 0;
    for (let i = 0; i < n; i++) pull += jacobian.data[k * n + i]! * point.residuals[i]!;
    const value = point.parameters[k]!;
    const pressed = (pull <= 0 && value <= problem.lower[k]!) || (pull >= 0 && value >= problem.upper[k]!);
    if (!pressed) free.push(k);
  }
  const kept = columnMatrix(n, free.length);
  const columnNorms = new Float64Array(free.length);
  free.forEach((k, j) => {
    let sum = 0;
    for (let i = 0; i < n; i++) sum += jacobian.data[k * n + i]! ** 2;
    columnNorms[j] = Math.sqrt(sum);
    const unit = columnNorms[j]! || 1;
    for (let i = 0; i < n; i++) kept.data[j * n + i] = jacobian.data[k * n + i]! / unit;
  });
  const qr = factorise(kept);
  const projected = Float64Array.from(point.residuals);
  applyTransposed(qr, projected);
  return { free, qr, columnNorms, projected };
}

interface Search {
  readonly point: Point;
  readonly reason: LeastSquaresReason;
  readonly iterations: number;
}

const SEARCH_TOLERANCE = 1e-13;


function descend(problem: Problem, first: Point, firstRadius: number, maxIterations: number): Search {
  const p = problem.model.parameterCount;
  const scale = new Float64Array(p);
  let point = first;
  let radius = 0;
  let iterations = 0;
  while (iterations < maxIterations) {
    const tangent = tangentAt(problem, point);
    if (tangent.free.length === 0 || point.sum === 0) return { point, reason: 'gradient-zero', iterations };
    tangent.free.forEach((k, j) => (scale[k] = Math.max(scale[k]!, tangent.columnNorms[j]!)));
    const scales = Float64Array.from(tangent.free, (k) => scale[k]! || 1);
    const length = scaledLength(point.parameters, scale);
    if (radius === 0) radius = length > 0 ? firstRadius * length : firstRadius;
    const region = trustRegion(tangent, scales);
    for (;;) {
      iterations++;
      const step = stepWithin(region, radius);
      const trial = evaluateAt(problem, stepped(problem, point.parameters, tangent.free, step.step, scales));
      const actual = Number.isFinite(trial.sum) ? 1 - trial.sum / point.sum : -Infinity;
      const predicted = step.reduction / point.sum;
      const ratio = predicted > 0 ? actual / predicted : 0;
      radius = nextRadius(radius, ratio, actual, step.length, step.damping);
      if (ratio >= 1e-4) point = trial;
      if (Math.abs(actual) <= SEARCH_TOLERANCE && predicted <= SEARCH_TOLERANCE) {
        return { point, reason: 'step-below-tolerance', iterations };
      }
      if (radius <= SEARCH_TOLERANCE * length) return { point, reason: ratio > 0 ? 'step-below-tolerance' : 'no-further-descent', iterations };
      if (ratio >= 1e-4 || iterations >= maxIterations) break;
    }
  }
  return { point, reason: 'iteration-limit', iterations };
}

function scaledLength(parameters: Float64Array, scale: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < parameters.length; k++) sum += (parameters[k]! * scale[k]!) ** 2;
  return Math.sqrt(sum);
}

function nextRadius(radius: number, ratio: number, actual: number, length: number, damping: number): number {
  if (ratio <= 0.25) {
    // How far the sum rose says how much the tangent overreached: cut harder for a steep rise (Moré 1978, sec. 4).
    const cut = actual >= 0 || !Number.isFinite(actual) ? 0.5 : Math.max(0.1, 0.5 / (1 - actual / 2));
    return (Number.isFinite(actual) ? cut : 0.1) * Math.min(radius, 10 * length);
  }
  return damping === 0 || ratio >= 0.75 ? 2 * length : radius;
}

/** The quadratic model in scaled parameters z = D·step, diagonalised: ‖Qᵀr − R·D⁻¹·z‖. */
interface TrustRegion {
  /** Singular values of R·D⁻¹, greatest first. */
  readonly s: Float64Array;
  /** Its right singular vectors: element i of the k-th at `v[i * n + k]`. */
  readonly v: Float64Array;
  /** Uᵀ·(Qᵀr). */
  readonly target: Float64Array;
}

function trustRegion(tangent: Tangent, scales: Float64Array): TrustRegion {
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
function stepWithin(region: TrustRegion, radius: number) {
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
    if (length <= radius * (damping === 0 ? 1 : 1.001)) {
      if (damping === 0 || length >= radius * 0.9) break;
    }
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

function stepped(problem: Problem, from: Float64Array, free: readonly number[], step: Float64Array, scales: Float64Array): Float64Array {
  const to = Float64Array.from(from);
  free.forEach((k, j) => {
    to[k] = Math.min(problem.upper[k]!, Math.max(problem.lower[k]!, from[k]! + step[j]! / scales[j]!));
  });
  return to;
}

/** Gauss-Newton steps while they keep shrinking: takes the search's answer to the rounding of its arithmetic. */
function closeIn(problem: Problem, from: Point): { point: Point; steps: number; settled: boolean } {
  let point = from;
  let last = Infinity;
  let settled = false;
  let steps = 0;
  for (; steps < 30; steps++) {
    const tangent = tangentAt(problem, point);
    const ones = new Float64Array(tangent.free.length).fill(1);
    const scales = tangent.columnNorms.map((norm) => norm || 1);
    if (tangent.free.length === 0) return { point, steps, settled: true };
    const { step, length } = stepWithin(trustRegion(tangent, scales), Infinity);
    const size = length / Math.max(scaledLength(Float64Array.from(tangent.free, (k) => point.parameters[k]!), scales), Number.MIN_VALUE);
    settled ||= size < 1e-8;
    if (!(size < last)) break;
    const trial = evaluateAt(problem, stepped(problem, point.parameters, tangent.free, step.map((z, j) => z / scales[j]!), ones));
    if (!(trial.sum <= point.sum * (1 + 1e-9))) break;
    point = trial;
    last = size;
    if (size < Number.EPSILON) break;
  }
  return { point, steps, settled };
}

function describe(problem: Problem, rest: Rest, options: NonlinearOptions): LeastSquaresFit {
  const { point, reason, iterations, settled } = rest;
  const p = problem.model.parameterCount;
  const parameterNames = options.parameterNames ?? Array.from({ length: p }, (_, k) => `β${k}`);
  const tangent = tangentAt(problem, point);
  const { free, qr, projected, columnNorms } = tangent;
  requireFullRank(qr, free.map((k) => parameterNames[k]!));
  const unscaledCovariance = columnMatrix(p, p);
  const inverse = inverseOfCrossProduct(qr, columnNorms);
  free.forEach((k, i) => free.forEach((l, j) => (unscaledCovariance.data[l * p + k] = inverse.data[j * free.length + i]!)));
  let tangential = 0;
  for (let k = 0; k < free.length; k++) tangential += projected[k]! * projected[k]!;
  const degreesOfFreedom = point.residuals.length - free.length;
  const normal = Math.max(point.sum - tangential, 0) / degreesOfFreedom;
  const relativeOffset = normal === 0 ? 0 : Math.sqrt(tangential / Math.max(free.length, 1) / normal);
  const residuals = point.residuals.map((r, i) => r / (problem.rootWeights?.[i] ?? 1));
  return summarise({
    parameterNames,
    parameters: point.parameters,
    unscaledCovariance,
    qr,
    fitted: residuals.map((r, i) => problem.response[i]! - r),
    residuals,
    rootWeights: problem.rootWeights,
    residualSumOfSquares: point.sum,
    covarianceBasis: options.covarianceBasis ?? 'residuals',
    convergence: { converged: reason !== 'iteration-limit' && (settled || relativeOffset < 1e-3), reason, iterations, relativeOffset },
    parametersAtBound: Array.from({ length: p }, (_, k) => k).filter((k) => !free.includes(k)),
  });
}
