import { compensatedSum, createStream, requireCount, symmetricEigen, zeros, type Matrix } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import { covarianceOf } from './budget.js';
import { shortestInterval, symmetricInterval, type CoverageInterval } from './coverage-interval.js';
import type { Model } from './derivative.js';
import { drawFrom, UNIFORMS_PER_DRAW } from './distribution.js';
import { coverageFactor, positionsByName, requireLevel, type Correlation, type UncertaintySource } from './source.js';

// Bound once: it is asked for every draw, and some hosts look a global up at every use.
const { isFinite } = Number;

/** What a Monte Carlo run draws from and computes. */
export interface MonteCarloProblem {
  readonly sources: readonly UncertaintySource[];
  readonly model: Model;
  /** For normal sources only; not together with `covariance`. */
  readonly correlations?: readonly Correlation[];
  /** Covariance matrix of all sources; those with off-diagonal elements must be normal. */
  readonly covariance?: Matrix;
}

/** The output values of one block of draws, in the order drawn. */
export interface MonteCarloBlock {
  readonly index: number;
  readonly values: Float64Array;
}

/** What the draws show. */
export interface MonteCarloResult {
  readonly draws: number;
  /** The mean of the draws: the estimate of the output. */
  readonly value: number;
  /** Their standard deviation. */
  readonly standardUncertainty: number;
  readonly symmetric: CoverageInterval;
  readonly shortest: CoverageInterval;
  /** All draws, smallest first: a discrete form of the distribution function. */
  readonly sorted: Float64Array;
}

/**
 * Block `index` of the draws: a pure function, so that blocks may be computed by any number of workers in any order.
 *
 * Block i draws from stream i of the seed; draw d of source s takes the uniform numbers 2(dn + s) and 2(dn + s) + 1 of it, n being the
 * number of sources. Correlated normal sources are drawn together through the symmetric root of their covariance, which also serves
 * perfect correlations. Domain: size ≥ 1. Errors: `NO_SOURCES`, `NOT_A_COUNT`, `SEED_RANGE`, `CORRELATED_NOT_NORMAL`, `MODEL_NOT_FINITE` (with the inputs of the draw), and
 * those of a bad covariance. Source: JCGM 101:2008, 5.9.6, 6.4.8, 7.2 to 7.4.
 *
 * @example
 * const problem = { sources: [rectangular('x', 0, 1)], model: ([x]) => 2 * x };
 * monteCarloBlock(problem, 7n, 0, 1000).values[3] === 2 * (2 * createStream(7n, 0).at(6) - 1) // => true
 */
export function monteCarloBlock(problem: MonteCarloProblem, seed: bigint | string, index: number, size: number): MonteCarloBlock {
  const { sources, model } = problem;
  const n = sources.length;
  if (n === 0) throw new InputError('NO_SOURCES', 'sources', 'there is no source', 'Give the inputs of the model.');
  requireCount('size', size, 1);
  positionsByName(sources);
  const root = correlationRoot(problem);
  const stream = createStream(seed, index);
  const values = new Float64Array(size);
  const inputs = new Array<number>(n).fill(0);
  const standardised = new Float64Array(n);
  for (let d = 0; d < size; d += 1) {
    const start = d * n * UNIFORMS_PER_DRAW;
    for (let s = 0; s < n; s += 1) {
      const at = start + s * UNIFORMS_PER_DRAW;
      if (root?.correlated[s]) standardised[s] = stream.normalAt(at);
      else inputs[s] = drawFrom(sources[s]!.distribution, stream.at(at), stream.at(at + 1));
    }
    if (root) drawCorrelated(root, sources, standardised, inputs);
    const value = model(inputs);
    if (!isFinite(value)) {
      const where = sources.map((source, s) => `${source.name} = ${inputs[s]}`).join(', ');
      throw new InputError('MODEL_NOT_FINITE', 'model', `the model gives ${value} at ${where}`, 'Narrow the distributions to where the model holds.');
    }
    values[d] = value;
  }
  return { index, values };
}

interface CorrelationRoot {
  readonly correlated: readonly boolean[];
  /** B with B·Bᵀ the covariance of the correlated sources; zero rows elsewhere. */
  readonly matrix: Matrix;
}

function correlationRoot(problem: MonteCarloProblem): CorrelationRoot | undefined {
  const covariance = covarianceOf(problem);
  if (!covariance) return undefined;
  const n = covariance.rows;
  const correlated = problem.sources.map((_, i) => covariance.data.subarray(i * n, (i + 1) * n).some((value, j) => j !== i && value !== 0));
  problem.sources.forEach((source, i) => {
    if (correlated[i] && source.distribution.kind !== 'normal') {
      throw new InputError(
        'CORRELATED_NOT_NORMAL',
        source.name,
        `it is correlated and follows a ${source.distribution.kind} distribution`,
        'Give correlated sources a normal distribution, or put in the independent errors that make them correlated.',
      );
    }
  });
  const active = zeros(n, n);
  for (let i = 0; i < n; i += 1) {
    for (let j = 0; j < n; j += 1) if (correlated[i] && correlated[j]) active.data[i * n + j] = covariance.data[i * n + j]!;
  }
  const { values, vectors } = symmetricEigen(active);
  const matrix = zeros(n, n);
  for (let i = 0; i < n; i += 1) {
    for (let j = 0; j < n; j += 1) {
      let sum = 0;
      for (let k = 0; k < n; k += 1) sum += vectors.data[i * n + k]! * Math.sqrt(Math.max(0, values[k]!)) * vectors.data[j * n + k]!;
      matrix.data[i * n + j] = sum;
    }
  }
  return { correlated, matrix };
}

function drawCorrelated(root: CorrelationRoot, sources: readonly UncertaintySource[], standardised: Float64Array, inputs: number[]): void {
  const n = sources.length;
  for (let i = 0; i < n; i += 1) {
    if (!root.correlated[i]) continue;
    let sum = sources[i]!.distribution.centre;
    for (let j = 0; j < n; j += 1) if (root.correlated[j]) sum += root.matrix.data[i * n + j]! * standardised[j]!;
    inputs[i] = sum;
  }
}

/**
 * The result of blocks 0 … h−1, whatever order they come in: they are put in the order of their index before anything is summed, so that the same
 * seed gives the same bytes for any number of workers.
 *
 * Domain: at least one block, indices 0 … h−1 each once. Errors: `BLOCKS`, `LEVEL`, `TOO_FEW_DRAWS`. Source: JCGM 101:2008, 7.5 to 7.7.
 *
 * @example
 * const problem = { sources: [rectangular('x', 0, 1)], model: ([x]) => x };
 * const [first, second] = [0, 1].map((index) => monteCarloBlock(problem, 7n, index, 1000));
 * mergeBlocks([second, first], 0.95).value === mergeBlocks([first, second], 0.95).value // => true
 */
export function mergeBlocks(blocks: readonly MonteCarloBlock[], level: number): MonteCarloResult {
  requireLevel(level);
  const ordered = [...blocks].sort((a, b) => a.index - b.index);
  if (ordered.length === 0 || ordered.some((block, i) => block.index !== i)) {
    throw new InputError('BLOCKS', 'blocks', `expected blocks 0 to ${ordered.length - 1}, each once, got ${ordered.map((b) => b.index).join(', ')}`, 'Compute the missing blocks.');
  }
  const sorted = new Float64Array(ordered.reduce((sum, block) => sum + block.values.length, 0));
  let at = 0;
  for (const block of ordered) {
    sorted.set(block.values, at);
    at += block.values.length;
  }
  const { value, standardUncertainty } = summarise(sorted);
  sorted.sort();
  return {
    draws: sorted.length,
    value,
    standardUncertainty,
    symmetric: symmetricInterval(sorted, level),
    shortest: shortestInterval(sorted, level),
    sorted,
  };
}

function summarise(values: Float64Array): { readonly value: number; readonly standardUncertainty: number } {
  const value = compensatedSum(values) / values.length;
  let squares = 0;
  for (const v of values) squares += (v - value) ** 2;
  return { value, standardUncertainty: Math.sqrt(squares / (values.length - 1)) };
}

/** When an adaptive run may stop. */
export interface AdaptiveOptions {
  readonly level: number;
  /** Significant digits of the uncertainty that must hold. */
  readonly digits: 1 | 2;
  /** The coverage interval whose ends must hold. */
  readonly interval: CoverageInterval['kind'];
}

/** One look at an adaptive run. */
export interface AdaptiveState {
  /** The first number of blocks at which all four results hold; undefined while none does. */
  readonly stopAfterBlocks: number | undefined;
  /** δ: half a unit in the last digit that must hold, in the unit of the output. */
  readonly tolerance: number;
  /** 95 % half-widths for value, uncertainty and both ends, from the scatter between all blocks seen, or those up to the stop. */
  readonly halfWidths: readonly [value: number, standardUncertainty: number, low: number, high: number];
}

/**
 * Draws in each block of an adaptive run: max(⌈100/(1 − p)⌉, 10⁴).
 *
 * Errors: `LEVEL`. Source: JCGM 101:2008, 7.9.4 b.
 *
 * @example
 * adaptiveBlockSize(0.999) // => 100000
 */
export function adaptiveBlockSize(level: number): number {
  return Math.max(Math.ceil(100 / (1 - requireLevel(level)) - 1e-6), 10_000);
}

/**
 * Whether blocks 0 … h−1 settle the results: the 95 % half-widths of the block means of value, uncertainty and interval ends are all below δ.
 *
 * The half-width is t·s with t of h − 1 degrees of freedom, and 2s where t falls below 2. Clause 7.9.4 takes 2s from two blocks on, and two blocks that
 * happen to agree then end the run far too soon (t is 12.7 there): this is the stricter rule. The shortest interval needs many more blocks than the symmetric one.
 * Blocks beyond the first stopping point are ignored, so workers may run ahead without changing the result: merge the first `stopAfterBlocks` blocks.
 * Errors: `BLOCKS`, `LEVEL`. Source: JCGM 101:2008, 7.9.2 and 7.9.4.
 *
 * @example
 * const problem = { sources: [normalSource('x', 10, 1)], model: ([x]) => x };
 * const blocks = [0, 1, 2].map((index) => monteCarloBlock(problem, 1n, index, 10000));
 * adaptiveState(blocks, { level: 0.95, digits: 1, interval: 'symmetric' }).tolerance // => 0.5
 */
export function adaptiveState(blocks: readonly MonteCarloBlock[], options: AdaptiveOptions): AdaptiveState {
  return adaptiveStateOf([...blocks].sort((a, b) => a.index - b.index).map((block) => blockSummary(block, options)), options);
}

/** The four figures of one block and what is needed to pool its variance with that of others. */
export interface BlockSummary {
  readonly index: number;
  readonly draws: number;
  readonly value: number;
  readonly standardUncertainty: number;
  readonly low: number;
  readonly high: number;
}

/** The summary of a block that {@link adaptiveStateOf} works on: what a worker sends home while the run is not settled. */
export function blockSummary(block: MonteCarloBlock, options: AdaptiveOptions): BlockSummary {
  const sorted = Float64Array.from(block.values).sort();
  const { low, high } = options.interval === 'symmetric' ? symmetricInterval(sorted, options.level) : shortestInterval(sorted, options.level);
  return { index: block.index, draws: block.values.length, ...summarise(block.values), low, high };
}

/** {@link adaptiveState} from summaries in the order of their index. Errors: `BLOCKS`. */
export function adaptiveStateOf(summaries: readonly BlockSummary[], options: AdaptiveOptions): AdaptiveState {
  if (summaries.length === 0 || summaries.some((summary, i) => summary.index !== i)) {
    throw new InputError('BLOCKS', 'blocks', `expected blocks from 0 on, each once, got ${summaries.map((s) => s.index).join(', ')}`, 'Compute the missing blocks.');
  }
  let state: AdaptiveState = { stopAfterBlocks: undefined, tolerance: NaN, halfWidths: [Infinity, Infinity, Infinity, Infinity] };
  for (let h = 1; h <= summaries.length; h += 1) {
    const seen = summaries.slice(0, h);
    const tolerance = numericalTolerance(pooledUncertainty(seen), options.digits);
    const figures = [(s: BlockSummary) => s.value, (s: BlockSummary) => s.standardUncertainty, (s: BlockSummary) => s.low, (s: BlockSummary) => s.high];
    const [value, standardUncertainty, low, high] = figures.map((figure) => (h < 2 ? Infinity : halfWidth(seen.map(figure)))) as [number, number, number, number];
    const settled = Math.max(value, standardUncertainty, low, high) < tolerance;
    state = { stopAfterBlocks: settled ? h : undefined, tolerance, halfWidths: [value, standardUncertainty, low, high] };
    if (settled) break;
  }
  return state;
}

function pooledUncertainty(summaries: readonly BlockSummary[]): number {
  const draws = compensatedSum(summaries.map((s) => s.draws));
  const value = compensatedSum(summaries.map((s) => s.draws * s.value)) / draws;
  const squares = compensatedSum(summaries.map((s) => (s.draws - 1) * s.standardUncertainty ** 2 + s.draws * (s.value - value) ** 2));
  return Math.sqrt(squares / (draws - 1));
}

function halfWidth(values: readonly number[]): number {
  const h = values.length;
  const centre = compensatedSum(values) / h;
  const standardError = Math.sqrt(compensatedSum(values.map((v) => (v - centre) ** 2)) / (h * (h - 1)));
  return Math.max(2, coverageFactor(0.95, h - 1)) * standardError;
}

/**
 * δ = ½·10ˡ for an uncertainty written c·10ˡ with c a whole number of the given digits.
 *
 * Domain: u > 0. Errors: `NO_UNCERTAINTY`. Source: JCGM 101:2008, 7.9.2.
 *
 * @example
 * numericalTolerance(0.0754, 2) // => 0.0005
 */
export function numericalTolerance(standardUncertainty: number, digits: 1 | 2): number {
  if (!(standardUncertainty > 0)) {
    throw new InputError('NO_UNCERTAINTY', 'standardUncertainty', `expected a value above zero, got ${standardUncertainty}`, 'Check that the model depends on its sources.');
  }
  const exponent = Number(standardUncertainty.toExponential(digits - 1).split('e')[1]);
  return Number(`5e${exponent - digits}`);
}

/** Options of {@link monteCarlo}. */
export interface MonteCarloOptions extends Partial<AdaptiveOptions> {
  readonly seed: bigint | string;
  /** A run that has not settled by then fails; 10⁷ unless given. */
  readonly mostDraws?: number;
}

/** A settled run, with all that is needed to repeat it. */
export interface SettledMonteCarlo extends MonteCarloResult {
  readonly seed: string;
  readonly blocks: number;
  readonly blockSize: number;
  readonly tolerance: number;
}

/**
 * The adaptive Monte Carlo procedure on one thread: blocks until the results hold to the digits asked for.
 *
 * Level 0.95, two digits and the symmetric interval unless given. Errors: `NOT_SETTLED`, and those of {@link monteCarloBlock}. Source: JCGM 101:2008, 7.9.
 *
 * @example
 * const run = monteCarlo({ sources: [normalSource('x', 10, 1)], model: ([x]) => x }, { seed: 'example', digits: 1 });
 * Math.abs(run.value - 10) < 0.05 // => true
 */
export function monteCarlo(problem: MonteCarloProblem, options: MonteCarloOptions): SettledMonteCarlo {
  const { seed, level = 0.95, digits = 2, interval = 'symmetric', mostDraws = 10_000_000 } = options;
  const blockSize = adaptiveBlockSize(level);
  const blocks: MonteCarloBlock[] = [];
  const summaries: BlockSummary[] = [];
  while ((blocks.length + 1) * blockSize <= mostDraws) {
    const block = monteCarloBlock(problem, seed, blocks.length, blockSize);
    blocks.push(block);
    summaries.push(blockSummary(block, { level, digits, interval }));
    const { stopAfterBlocks, tolerance } = adaptiveStateOf(summaries, { level, digits, interval });
    if (stopAfterBlocks !== undefined) return { ...mergeBlocks(blocks, level), seed: String(seed), blocks: stopAfterBlocks, blockSize, tolerance };
  }
  throw new InputError('NOT_SETTLED', 'mostDraws', `the results do not hold to ${digits} digits after ${blocks.length * blockSize} draws`, 'Ask for fewer digits or allow more draws.');
}
