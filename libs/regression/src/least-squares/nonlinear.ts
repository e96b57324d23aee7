import { requireCount } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';
import { summarise, summariseParameters, type LeastSquaresFit, type ParameterFit, type ParameterSolution } from './fit-result.js';
import { requireAllFinite, requireMorePointsThanParameters, requireScale, rootWeightsOf, type WeightOptions } from './linear.js';
import { columnMatrix, inverseOfCrossProduct, requireFullRank, type ColumnMatrix } from './qr.js';
import type { Problem, ResponseModel } from './problem.js';
import { roomFor, roomSuits, type Room } from './quick-descent.js';
import { seekRest, type Rest } from './search.js';

export type { ResponseModel };

export interface NonlinearOptions extends WeightOptions {
  readonly start: readonly number[];
  readonly parameterNames?: readonly string[];
  /** One bound a parameter, -Infinity or Infinity for none. */
  readonly lower?: readonly number[];
  readonly upper?: readonly number[];
  /** Trial steps, default 2000. Reaching it is reported as not converged, never as an answer. */
  readonly maxIterations?: number;
  /**
   * Relative error of the parameters at which an easy search may rest; default 1e-14, the rounding of the arithmetic. A
   * search with care always goes there.
   */
  readonly tolerance?: number;
}

/**
 * Nonlinear least squares: minimises Σ wᵢ(yᵢ − f(β, i))² by a Levenberg-Marquardt search in a scaled trust region
 * (Moré, in Lecture Notes in Mathematics 630 (1978) 105-116), then closes in with plain Gauss-Newton steps until
 * rounding stops them, so that the answer does not carry the tolerance of the search.
 *
 * Scaling follows the longest derivative column seen, so the path does not depend on the units of the parameters.
 * Bounds hold a parameter fixed while the descent presses against them.
 *
 * @throws InputError SHAPE, NOT_FINITE, NOT_POSITIVE, NOT_A_COUNT, TOLERANCE, TOO_FEW_POINTS, SCALE (squares leave float64),
 *   BOUNDS_REVERSED, START_OUT_OF_BOUNDS, START_OUT_OF_DOMAIN, SINGULAR_DESIGN (at the point found)
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
  return solve(model, response, options, (problem, rest) => {
    const { residuals: weighted } = rest.point;
    const { rootWeights } = problem;
    const residuals = rootWeights === null ? weighted : weighted.map((r, i) => r / rootWeights[i]!);
    return summarise({
      ...parametersOf(problem, rest, options),
      fitted: residuals.map((r, i) => response[i]! - r),
      residuals,
      rootWeights,
    });
  });
}

/**
 * {@link fitNonlinear} without the figures of single points, for fits made by the thousand.
 *
 * @throws InputError as fitNonlinear
 * @example
 * const x = [1, 2, 3, 4];
 * const line = modelFromFormula(2, ([a, b], i) => b.times(x[i]).plus(a));
 * solveNonlinear(line, [1, 3, 5, 7], { start: [0, 1] }).parameters // => [-1, 2]
 */
export function solveNonlinear(model: ResponseModel, response: readonly number[], options: NonlinearOptions): ParameterFit {
  return solve(model, response, options, (problem, rest) => summariseParameters(parametersOf(problem, rest, options)));
}

/** What is told of the rest must be copied: it stands in the room. */
function solve<T>(model: ResponseModel, response: readonly number[], options: NonlinearOptions, tell: (problem: Problem, rest: Rest) => T): T {
  const p = model.parameterCount;
  const n = response.length;
  requireAllFinite('response', response);
  requireMorePointsThanParameters(n, p);
  const observed = new Float64Array(n);
  for (let i = 0; i < n; i++) observed[i] = response[i]!;
  requireScale('response', observed);
  requireSearch(options);
  const problem: Problem = {
    model,
    response: observed,
    rootWeights: rootWeightsOf(n, options),
    lower: boundsOf('lower', options.lower, p, -Infinity),
    upper: boundsOf('upper', options.upper, p, Infinity),
  };
  const start = startOf(problem, options.start);
  return withRoom(problem, (room) => {
    const rest = seekRest(problem, start, options.maxIterations ?? 2000, options.tolerance, room);
    if (rest !== null) return tell(problem, rest);
    throw new InputError('START_OUT_OF_DOMAIN', 'start', 'the model has no finite value at the start for some point', 'Start nearer to the data.');
  });
}

/** The most numbers that stay asked for between fits. */
const MOST_IDLE = 100_000;

/** Of the last fit, unless one is in it: a small fit costs as much to be given memory as two passes over its points. */
let idleRoom: Room | null = null;

function withRoom<T>(problem: Problem, use: (room: Room) => T): T {
  const room = idleRoom !== null && roomSuits(idleRoom, problem) ? idleRoom : roomFor(problem);
  // A model may itself fit something while it is fitted.
  idleRoom = null;
  try {
    return use(room);
  } finally {
    if (room.columns.all.length < MOST_IDLE) idleRoom = room;
  }
}

/** A tolerance from here on would let a search rest before it has an answer. */
const CRUDEST_TOLERANCE = 1e-3;

function requireSearch({ maxIterations, tolerance }: NonlinearOptions): void {
  if (maxIterations !== undefined) requireCount('maxIterations', maxIterations, 1);
  if (tolerance === undefined || (tolerance > 0 && tolerance < CRUDEST_TOLERANCE)) return;
  throw new InputError('TOLERANCE', 'tolerance', `${tolerance} is not between 0 and ${CRUDEST_TOLERANCE}`, 'Give a relative error such as 1e-8, or leave it out.');
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
    if (problem.lower[k]! > problem.upper[k]!) {
      throw new InputError('BOUNDS_REVERSED', `lower[${k}]`, `${problem.lower[k]} is above upper ${problem.upper[k]}`, 'Give the lower bound first.');
    }
    if (value < problem.lower[k]! || value > problem.upper[k]!) {
      throw new InputError('START_OUT_OF_BOUNDS', `start[${k}]`, `${value} is not within [${problem.lower[k]}, ${problem.upper[k]}]`, 'Start within the bounds.');
    }
  });
  return new Float64Array(start);
}

function parametersOf(problem: Problem, rest: Rest, options: NonlinearOptions): ParameterSolution {
  const { point, reason, iterations, settled } = rest;
  const p = problem.model.parameterCount;
  const parameterNames = options.parameterNames ?? Array.from({ length: p }, (_, k) => `β${k}`);
  const { free, qr, projected, columnNorms } = point.tangent();
  requireFullRank(qr, free.length === p ? parameterNames : free.map((k) => parameterNames[k]!), 'Start nearer to the data, add points at other values of the predictor, or fit a curve with fewer parameters.');
  const unscaledCovariance = amongAll(inverseOfCrossProduct(qr, columnNorms), free, p);
  let tangential = 0;
  for (let k = 0; k < free.length; k++) tangential += projected[k]! * projected[k]!;
  const normal = Math.max(point.sum - tangential, 0) / (qr.rows - qr.columns);
  const relativeOffset = normal === 0 ? 0 : Math.sqrt(tangential / Math.max(free.length, 1) / normal);
  return {
    parameterNames,
    parameters: point.parameters,
    unscaledCovariance,
    qr,
    residualSumOfSquares: point.sum,
    covarianceBasis: options.covarianceBasis ?? 'residuals',
    convergence: { converged: reason !== 'iteration-limit' && (settled || relativeOffset < 1e-3), reason, iterations, relativeOffset },
    parametersAtBound: free.length === p ? [] : parameterNames.flatMap((_, k) => (free.includes(k) ? [] : [k])),
  };
}

/** A matrix over the free parameters as one over all: parameters held at a bound have rows and columns of zero. */
function amongAll(ofFree: ColumnMatrix, free: readonly number[], p: number): ColumnMatrix {
  if (free.length === p) return ofFree;
  const all = columnMatrix(p, p);
  free.forEach((k, i) => free.forEach((l, j) => (all.data[l * p + k] = ofFree.data[j * free.length + i]!)));
  return all;
}
