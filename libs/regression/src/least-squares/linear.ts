import { raise, twoProduct } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { TwofoldSum } from './double-double.js';
import { summarise, type CovarianceBasis, type LeastSquaresFit } from './fit-result.js';
import {
  apply,
  applyTransposed,
  backSubstitute,
  factorise,
  forwardSubstitute,
  inverseOfCrossProduct,
  columnMatrix,
  requireFullRank,
  type ColumnMatrix,
  type PivotedQr,
} from './qr.js';

export interface WeightOptions {
  /** One weight an observation, above zero: relative, or 1/u² with `covarianceBasis: 'stated'`. Default: equal. */
  readonly weights?: readonly number[];
  /** Default `residuals`. `stated` needs `weights`. */
  readonly covarianceBasis?: CovarianceBasis;
}

export interface LinearOptions extends WeightOptions {
  readonly parameterNames?: readonly string[];
}

/**
 * Linear least squares: minimises Σ wᵢ(yᵢ − Σⱼ xᵢⱼβⱼ)² by pivoted Householder QR, then refines parameters, residuals and
 * covariance with residuals carried to 32 digits (Björck, BIT 7 (1967) 257-278), so that an ill-conditioned design costs
 * passes, not digits. For powers of one predictor use {@link fitPolynomial}, which does not round them.
 *
 * @param design   n rows of p numbers; the column of ones for an intercept is the caller's
 * @param response n numbers
 * @throws InputError SHAPE, NOT_FINITE, NOT_POSITIVE (a weight), TOO_FEW_POINTS (n ≤ p), SCALE (squares leave float64), SINGULAR_DESIGN
 * @example
 * fitLinear([[1, 1], [1, 2], [1, 3]], [1, 2, 4]).parameters // => [-2 / 3, 3 / 2]
 */
export function fitLinear(
  design: readonly (readonly number[])[],
  response: readonly number[],
  options: LinearOptions = {},
): LeastSquaresFit {
  const n = response.length;
  const p = design[0]?.length ?? 0;
  if (design.length !== n || p === 0) {
    throw new InputError('SHAPE', 'design', `${design.length} rows of ${p} for ${n} responses`, 'Give one row a response.');
  }
  const x = columnMatrix(n, p);
  design.forEach((row, i) => {
    if (row.length !== p) {
      throw new InputError('SHAPE', `design[${i}]`, `${row.length} columns where the first row has ${p}`, 'Give every row the same columns.');
    }
    requireAllFinite(`design[${i}]`, row);
    row.forEach((value, j) => (x.data[j * n + i] = value));
  });
  return solveLinear(x, null, response, options);
}

/**
 * Polynomial y = Σ βₖ·x^powersₖ. The powers are formed to 32 digits: rounding x¹⁰ to a float64 alone would cost a
 * high-degree fit half its digits.
 *
 * @param powers whole numbers from 0, e.g. [0, 1] for a straight line, [1] for a line through the origin
 * @throws InputError as {@link fitLinear}; POWERS for a power that is negative, fractional or repeated
 * @example
 * fitPolynomial([0, 1, 2, 3], [1, 2, 5, 10], [0, 2]).parameters // => [1, 1]
 */
export function fitPolynomial(
  x: readonly number[],
  y: readonly number[],
  powers: readonly number[],
  options: LinearOptions = {},
): LeastSquaresFit {
  const n = y.length;
  if (x.length !== n) {
    throw new InputError('SHAPE', 'x', `${x.length} values for ${n} responses`, 'Give one predictor value a response.');
  }
  if (powers.length === 0 || powers.some((k) => !Number.isInteger(k) || k < 0) || new Set(powers).size !== powers.length) {
    throw new InputError('POWERS', 'powers', `[${powers.join(', ')}] is not a list of distinct whole numbers from 0`, 'Give e.g. [0, 1, 2].');
  }
  const high = columnMatrix(n, powers.length);
  const low = columnMatrix(n, powers.length);
  requireAllFinite('x', x);
  x.forEach((value, i) => {
    powers.forEach((power, j) => {
      const [head, tail] = twofoldPower(value, power);
      high.data[j * n + i] = requireFinite(`x[${i}]^${power}`, head);
      low.data[j * n + i] = tail;
    });
  });
  return solveLinear(high, low, y, {
    ...options,
    parameterNames: options.parameterNames ?? powers.map((power) => `x^${power}`),
  });
}

function twofoldPower(x: number, power: number): readonly [number, number] {
  let high = 1;
  let low = 0;
  for (let k = 0; k < power; k++) {
    const product = new TwofoldSum().addProduct(high, x).addProduct(low, x);
    high = product.value();
    low = product.remainder();
  }
  return [high, low];
}

/** Names an element only where it fails: thousands of fits would else spend their time on names. */
export function requireAllFinite(field: string, values: ArrayLike<number>): void {
  for (let i = 0; i < values.length; i++) if (!Number.isFinite(values[i])) requireFinite(`${field}[${i}]`, values[i]!);
}

/** Beyond these, squares leave the range of float64 and results would be infinite or zero without a word. */
const LEAST_SIZE = 1e-140;
const GREATEST_SIZE = 1e140;

/** Throws `SCALE` unless the largest of the values has a size whose square float64 can hold, or all are zero. */
export function requireScale(field: string, values: ArrayLike<number>): void {
  let size = 0;
  for (let i = 0; i < values.length; i++) if (!(Math.abs(values[i]!) <= size)) size = Math.abs(values[i]!);
  if (size === 0 || (size >= LEAST_SIZE && size <= GREATEST_SIZE)) return;
  throw new InputError('SCALE', field, `the largest size is ${size}, and its square leaves the range of the arithmetic`, 'Give the values in another unit.');
}

/** Checks weights and returns their roots, or null for equal weights. */
export function rootWeightsOf(n: number, options: WeightOptions): Float64Array | null {
  if (options.weights === undefined) {
    if (options.covarianceBasis === 'stated') {
      throw new InputError('NO_WEIGHTS', 'weights', 'stated uncertainties were asked for, but no weights given', 'Give weights 1/u², one an observation.');
    }
    return null;
  }
  if (options.weights.length !== n) {
    throw new InputError('SHAPE', 'weights', `${options.weights.length} weights for ${n} observations`, 'Give one weight an observation.');
  }
  return Float64Array.from(options.weights, (w, i) => Math.sqrt(w > 0 && w < Infinity ? w : requirePositive(`weights[${i}]`, w)));
}

export function requireMorePointsThanParameters(n: number, p: number): void {
  if (n > p) return;
  throw new InputError(
    'TOO_FEW_POINTS',
    'points',
    `${n} points cannot fix ${p} parameters and their uncertainty`,
    `Measure at least ${p + 1} points, or fit a family with fewer parameters.`,
  );
}

function solveLinear(
  xHigh: ColumnMatrix,
  xLow: ColumnMatrix | null,
  response: readonly number[],
  options: LinearOptions,
): LeastSquaresFit {
  const { rows: n, columns: p } = xHigh;
  requireAllFinite('response', response);
  requireMorePointsThanParameters(n, p);
  const rootWeights = rootWeightsOf(n, options);
  const parameterNames = options.parameterNames ?? Array.from({ length: p }, (_, j) => `β${j}`);
  for (let j = 0; j < p; j++) requireScale(parameterNames[j]!, xHigh.data.subarray(j * n, j * n + n));
  requireScale('response', rootWeights === null ? response : response.map((value, i) => value * rootWeights[i]!));
  const scaled = scaleDesign(xHigh, xLow, rootWeights);
  const qr = factorise({ rows: n, columns: p, data: Float64Array.from(scaled.high) });
  requireFullRank(qr, parameterNames);

  const y = new Float64Array(n);
  const yLow = new Float64Array(n);
  response.forEach((value, i) => {
    const w = rootWeights?.[i] ?? 1;
    [y[i], yLow[i]] = twoProduct(value, w);
  });
  const solved = solveRefined(qr, scaled, y, yLow, null);
  const parameters = new Float64Array(p);
  for (let j = 0; j < p; j++) parameters[j] = solved.b[j]! / scaled.unit[j]!;

  const spread = Math.abs(qr.diagonal[0]! / qr.diagonal[p - 1]!);
  const unscaledCovariance = spread < WELL_CONDITIONED ? inverseOfCrossProduct(qr, scaled.unit) : refinedCovariance(qr, scaled);

  const residuals = solved.r.map((r, i) => r / (rootWeights?.[i] ?? 1));
  const sum = new TwofoldSum();
  for (const r of solved.r) sum.addProduct(r, r);
  return summarise({
    parameterNames,
    parameters,
    unscaledCovariance,
    qr,
    fitted: residuals.map((r, i) => response[i]! - r),
    residuals,
    rootWeights,
    residualSumOfSquares: sum.value(),
    covarianceBasis: options.covarianceBasis ?? 'residuals',
    convergence: { converged: true, reason: 'direct-solution', iterations: solved.passes, relativeOffset: 0 },
    parametersAtBound: [],
  });
}

/** Below this spread of R's diagonal the covariance loses no more than its last digits to plain arithmetic. */
const WELL_CONDITIONED = 1e3;

function refinedCovariance(qr: PivotedQr, x: ScaledDesign): ColumnMatrix {
  const p = x.columns;
  const covariance = columnMatrix(p, p);
  for (let j = 0; j < p; j++) {
    const unit = new Float64Array(p);
    unit[j] = -1;
    const column = solveRefined(qr, x, null, null, unit).b;
    for (let i = 0; i < p; i++) covariance.data[j * p + i] = column[i]! / x.unit[i]! / x.unit[j]!;
  }
  symmetrise(covariance);
  return covariance;
}

interface ScaledDesign {
  readonly rows: number;
  readonly columns: number;
  readonly high: Float64Array;
  readonly low: Float64Array;
  /** β = b / unit: powers of two, so that scaling itself rounds nothing. */
  readonly unit: Float64Array;
}

function scaleDesign(xHigh: ColumnMatrix, xLow: ColumnMatrix | null, rootWeights: Float64Array | null): ScaledDesign {
  const { rows: n, columns: p } = xHigh;
  const high = new Float64Array(n * p);
  const low = new Float64Array(n * p);
  const unit = new Float64Array(p);
  for (let j = 0; j < p; j++) {
    let size = 0;
    for (let i = 0; i < n; i++) {
      const at = j * n + i;
      const w = rootWeights?.[i] ?? 1;
      const [product, error] = twoProduct(xHigh.data[at]!, w);
      high[at] = product;
      low[at] = error + (xLow?.data[at] ?? 0) * w;
      size = Math.max(size, Math.abs(high[at]!));
    }
    unit[j] = size === 0 ? 1 : raise(2, Math.round(Math.log2(size)));
    for (let i = j * n; i < j * n + n; i++) {
      high[i] = high[i]! / unit[j]!;
      low[i] = low[i]! / unit[j]!;
    }
  }
  return { rows: n, columns: p, high, low, unit };
}

/**
 * Solves r + X·b = f, Xᵀ·r = g, refining until the correction no longer shrinks. With g = 0 this is least squares;
 * with f = 0 and g = −eⱼ, b is a column of (XᵀX)⁻¹.
 */
function solveRefined(
  qr: PivotedQr,
  x: ScaledDesign,
  f: Float64Array | null,
  fLow: Float64Array | null,
  g: Float64Array | null,
): { b: Float64Array; r: Float64Array; passes: number } {
  const { rows: n, columns: p } = x;
  const b = new Float64Array(p);
  const bLow = new Float64Array(p);
  const r = new Float64Array(n);
  const rLow = new Float64Array(n);
  let lastSize = Infinity;
  let passes = 0;
  for (; passes < 12; passes++) {
    const top = new Float64Array(n);
    const bottom = new Float64Array(p);
    for (let i = 0; i < n; i++) {
      const sum = new TwofoldSum(f?.[i] ?? 0).add(fLow?.[i] ?? 0).add(-r[i]!).add(-rLow[i]!);
      for (let j = 0; j < p; j++) {
        const at = j * n + i;
        sum.addProduct(-x.high[at]!, b[j]!).addProduct(-x.high[at]!, bLow[j]!).addProduct(-x.low[at]!, b[j]!);
      }
      top[i] = sum.value();
    }
    for (let j = 0; j < p; j++) {
      const sum = new TwofoldSum(g?.[j] ?? 0);
      for (let i = 0; i < n; i++) {
        const at = j * n + i;
        sum.addProduct(-x.high[at]!, r[i]!).addProduct(-x.high[at]!, rLow[i]!).addProduct(-x.low[at]!, r[i]!);
      }
      bottom[j] = sum.value();
    }
    const step = solveOnce(qr, top, bottom);
    const size = relativeSize(step.b, b, lastSize === Infinity);
    if (size > lastSize / 2) break;
    lastSize = size;
    for (let j = 0; j < p; j++) accumulate(b, bLow, j, step.b[j]!);
    for (let i = 0; i < n; i++) accumulate(r, rLow, i, step.r[i]!);
    if (size < Number.EPSILON / 8) break;
  }
  return { b, r, passes };
}

function accumulate(high: Float64Array, low: Float64Array, index: number, term: number): void {
  const sum = new TwofoldSum(high[index]!).add(low[index]!).add(term);
  high[index] = sum.value();
  low[index] = sum.remainder();
}

function relativeSize(step: Float64Array, b: Float64Array, first: boolean): number {
  if (first) return 1;
  let size = 0;
  let scale = 0;
  for (let j = 0; j < b.length; j++) {
    size = Math.max(size, Math.abs(step[j]!));
    scale = Math.max(scale, Math.abs(b[j]!));
  }
  return scale === 0 ? 0 : size / scale;
}

function solveOnce(qr: PivotedQr, f: Float64Array, g: Float64Array): { b: Float64Array; r: Float64Array } {
  const { columns: p, pivot } = qr;
  const h = new Float64Array(p);
  for (let k = 0; k < p; k++) h[k] = g[pivot[k]!]!;
  forwardSubstitute(qr, h);
  const r = Float64Array.from(f);
  applyTransposed(qr, r);
  const c = new Float64Array(p);
  for (let k = 0; k < p; k++) {
    c[k] = r[k]! - h[k]!;
    r[k] = h[k]!;
  }
  backSubstitute(qr, c);
  apply(qr, r);
  const b = new Float64Array(p);
  for (let k = 0; k < p; k++) b[pivot[k]!] = c[k]!;
  return { b, r };
}

/** Mirrors the mean of the two triangles: refinement solves each column by itself. */
function symmetrise(a: ColumnMatrix): void {
  const n = a.columns;
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < i; j++) {
      const mean = (a.data[i * n + j]! + a.data[j * n + i]!) / 2;
      a.data[i * n + j] = mean;
      a.data[j * n + i] = mean;
    }
  }
}
