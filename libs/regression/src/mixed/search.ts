import { InputError } from '#libs/quantity';
import { createCriterion, foldInwards, foldOutwards, setFactors, type Criterion } from './criterion.js';
import type { MixedDesign } from './design.js';
import { minimise, type Minimum } from './minimise.js';

/** Where the search for the relative covariance factors ended. */
export interface FactorSearch {
  readonly criterion: Criterion;
  readonly minimum: Minimum;
  /** Which parameters stand at exactly zero because the criterion is least there. */
  readonly atZero: readonly boolean[];
  readonly evaluations: number;
}

/** −2 log-likelihood (restricted for REML), the residual variance profiled out. */
export function profiledDeviance(criterion: Criterion): number {
  const df = residualDegrees(criterion.design);
  return criterion.logDeterminants + df * (1 + Math.log((2 * Math.PI * criterion.residualSum) / df));
}

/** ν: n for ML, n − p for REML. */
export function residualDegrees(design: MixedDesign): number {
  return design.method === 'REML' ? design.observationCount - design.fixedCount : design.observationCount;
}

/** 2·(D + w·R)·Λ at each parameter, the gradient when the residual slopes carry weight −`weight`. */
export function factorGradient(criterion: Criterion, weight: number, gradient: Float64Array): void {
  criterion.design.entries.forEach(({ level, row, column }, k) => {
    const q = criterion.design.levels[level]!.size;
    const determinant = criterion.determinantSlopes[level]!;
    const residual = criterion.residualSlopes[level]!;
    const lambda = criterion.factors[level]!;
    let sum = 0;
    for (let m = column; m < q; m += 1) sum += (determinant[row * q + m]! - weight * residual[row * q + m]!) * lambda[m * q + column]!;
    gradient[k] = 2 * sum;
  });
}

/**
 * The factors with the least profiled deviance.
 *
 * The deviance depends on Λ through Λ·Λᵀ only, so it is smooth and even in each column of Λ: no bound is needed, and a variance of zero
 * is an ordinary stationary point. Newton's method starts from the best of a coarse ladder of sizes. A zero from which the deviance falls
 * as the *variance* grows is left again; every small diagonal element is then tried at exactly zero and stays there if that costs nothing.
 */
export function searchFactors(design: MixedDesign): FactorSearch {
  requireResidual(design);
  const criterion = createCriterion(design);
  const df = residualDegrees(design);
  const objective = (theta: Float64Array, gradient: Float64Array) => {
    setFactors(criterion, theta);
    foldOutwards(criterion);
    foldInwards(criterion);
    factorGradient(criterion, df / criterion.residualSum, gradient);
    return profiledDeviance(criterion);
  };
  const start = bestOfLadder(design, criterion);
  let minimum = minimise(objective, start);
  let evaluations = minimum.evaluations;
  for (let round = 0; round < 4; round += 1) {
    const away = leaveSaddle(criterion, minimum, objective);
    if (away === undefined) break;
    const again = minimise(objective, away);
    evaluations += again.evaluations;
    if (!(again.value < minimum.value)) break;
    minimum = again;
  }
  let settled = settleZeros(design, minimum, objective);
  evaluations += settled.evaluations;
  for (const other of otherStarts(design, settled)) {
    const found = minimise(objective, other);
    const rival = settleZeros(design, found, objective);
    evaluations += found.evaluations + rival.evaluations;
    if (rival.minimum.value < settled.minimum.value - 1e-8) settled = rival;
  }
  const point = normaliseSigns(design, settled.minimum.point);
  minimum = { ...settled.minimum, point };
  objective(point, new Float64Array(point.length));
  return { criterion, minimum, atZero: settled.atZero, evaluations };
}

/** Σy², the yardstick for what counts as no variation. */
function responseScale({ heads, remainders, width, projected }: MixedDesign): number {
  let sum = 0;
  for (let at = width - 1; at < heads.length; at += width) sum += heads[at]! ** 2;
  for (let at = width * width - 1; at < remainders.length; at += width * width) sum += remainders[at]!;
  for (const value of projected) sum += value * value;
  return sum;
}

/**
 * Refuses readings that each innermost group fits exactly, whatever the variances: ln|V| then has nothing to balance it, and the
 * search would run off to infinite factors.
 */
function requireResidual(design: MixedDesign): void {
  const left = withinSum(design);
  if (left > 1e-24 * responseScale(design)) return;
  throw new InputError(
    'NO_RESIDUAL_VARIATION',
    'response',
    'the readings within each group fit exactly: there is no residual variation to weigh the groups by',
    'Check for copied readings, or average each group and fit by least squares.',
  );
}

/** Residual sum of squares when every innermost group has its own random columns as free coefficients. */
function withinSum({ heads, remainders, width, randomWidth, fixedCount: p, levels }: MixedDesign): number {
  const m = p + 1;
  const cross = new Float64Array(m * m);
  const addRow = (row: Float64Array) => {
    for (let i = 0; i < m; i += 1) for (let j = 0; j < m; j += 1) cross[i * m + j]! += row[randomWidth + i]! * row[randomWidth + j]!;
  };
  for (let at = 0; at < remainders.length; at += width * width) {
    for (let i = 0; i < m; i += 1) for (let j = 0; j < m; j += 1) cross[i * m + j]! += remainders[at + (randomWidth + i) * width + randomWidth + j]!;
  }
  // Where a group's random columns depend on each other, a head row without them is residual too.
  const size = levels[0]!.size;
  for (let at = 0; at < heads.length; at += width) {
    const row = heads.subarray(at, at + width);
    if (row.subarray(0, size).every((value) => Math.abs(value) < 1e-12)) addRow(row);
  }
  for (let k = 0; k < p; k += 1) {
    const pivot = cross[k * m + k]!;
    // Columns of Q have length one: a smaller pivot is a direction the groups have taken up.
    if (pivot < 1e-12) continue;
    for (let i = k + 1; i < m; i += 1) {
      const factor = cross[i * m + k]! / pivot;
      for (let j = k + 1; j < m; j += 1) cross[i * m + j]! -= factor * cross[k * m + j]!;
    }
  }
  return cross[m * m - 1]!;
}

const LADDER = [0, 0.03, 0.1, 0.3, 1, 3, 10, 30, 100];

function bestOfLadder(design: MixedDesign, criterion: Criterion): Float64Array {
  let best = Infinity;
  let size = 1;
  const at = (theta: number) => Float64Array.from(design.entries, (entry) => (entry.row === entry.column ? theta : 0));
  for (const theta of LADDER) {
    setFactors(criterion, at(theta));
    foldOutwards(criterion);
    const value = profiledDeviance(criterion);
    if (value < best) {
      best = value;
      size = theta;
    }
  }
  // At exactly zero every slope vanishes: a search would never leave it.
  return at(Math.max(size, 0.01));
}

/** A point beside a stationary one from which the deviance falls with a variance now at zero; undefined at a true minimum. */
function leaveSaddle(criterion: Criterion, minimum: Minimum, objective: (t: Float64Array, g: Float64Array) => number): Float64Array | undefined {
  const { design } = criterion;
  objective(minimum.point, new Float64Array(minimum.point.length));
  for (const [k, { level, row, column }] of design.entries.entries()) {
    if (row !== column || Math.abs(minimum.point[k]!) > 1e-2) continue;
    if (varianceSlope(criterion, level, row) >= -1e-6) continue;
    const moved = Float64Array.from(minimum.point);
    moved[k] = 0.1;
    return moved;
  }
  return undefined;
}

/** ∂ deviance / ∂ (relative variance added to one term of one level). */
function varianceSlope(criterion: Criterion, level: number, row: number): number {
  const at = row * criterion.design.levels[level]!.size + row;
  const weight = residualDegrees(criterion.design) / criterion.residualSum;
  return criterion.determinantSlopes[level]![at]! - weight * criterion.residualSlopes[level]![at]!;
}

/**
 * A deviance with a zero in it may have another valley, where that variance takes over from the others (about one small data set in a
 * thousand): points from which a second search would find it. None for an ordinary minimum.
 */
function otherStarts(design: MixedDesign, { minimum, atZero }: Settled): Float64Array[] {
  const zeros = design.entries.map((entry, k) => entry.row === entry.column && atZero[k] === true);
  if (!zeros.includes(true)) return [];
  const withRest = (rest: (k: number) => number) => Float64Array.from(design.entries, (_, k) => (zeros[k] ? 1 : rest(k)));
  return [withRest((k) => minimum.point[k]!), withRest((k) => (design.entries[k]!.row === design.entries[k]!.column ? 0.1 : 0))];
}

interface Settled {
  readonly minimum: Minimum;
  readonly atZero: readonly boolean[];
  readonly evaluations: number;
}

/** Tries each small diagonal element, smallest first, at exactly zero. */
function settleZeros(design: MixedDesign, found: Minimum, objective: (t: Float64Array, g: Float64Array) => number): Settled {
  const atZero = design.entries.map(() => false);
  let minimum = found;
  let evaluations = 0;
  const small = design.entries
    .map((entry, k) => ({ entry, k, size: Math.abs(found.point[k]!) }))
    .filter(({ entry, size }) => entry.row === entry.column && size < 0.05)
    .sort((a, b) => a.size - b.size);
  for (const { k } of small) {
    const { start, zeros } = withZero(design, minimum.point, k);
    const fixed = atZero.map((zero, i) => zero || zeros[i]!);
    const candidate = minimise(objective, start, fixed);
    evaluations += candidate.evaluations;
    const free = candidate.value <= minimum.value + 1e-9 * (1 + 1e-3 * Math.abs(minimum.value));
    if (!free) continue;
    minimum = candidate;
    fixed.forEach((zero, i) => (atZero[i] = zero));
  }
  return { minimum, atZero, evaluations };
}

/**
 * The parameters with diagonal element k at zero. A first term without variance takes the covariances of its column with it; what
 * those gave to the other terms' variances moves into their own diagonal.
 */
function withZero(design: MixedDesign, point: Float64Array, k: number) {
  const { level, column } = design.entries[k]!;
  const start = Float64Array.from(point);
  const zeros = design.entries.map(() => false);
  design.entries.forEach((entry, i) => {
    if (entry.level !== level || entry.column !== column) return;
    start[i] = 0;
    zeros[i] = true;
    if (entry.row === column) return;
    const diagonal = design.entries.findIndex((other) => other.level === level && other.row === entry.row && other.column === entry.row);
    start[diagonal] = Math.hypot(point[diagonal]!, point[i]!);
  });
  return { start, zeros };
}

/** Columns of Λ are defined up to their sign: makes the diagonals positive. */
function normaliseSigns(design: MixedDesign, point: Float64Array): Float64Array {
  const signs = design.entries.map(({ level, column }) => {
    const diagonal = design.entries.findIndex((entry) => entry.level === level && entry.row === column && entry.column === column);
    return point[diagonal]! < 0 ? -1 : 1;
  });
  // A bare negation would leave −0 behind, which prints and compares oddly.
  return point.map((theta, k) => (theta === 0 ? 0 : theta * signs[k]!));
}
