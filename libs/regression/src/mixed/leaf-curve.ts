import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { directionOver, type Family, type FamilyName } from '../families/family.js';
import { families, startFor } from '../families/fit-family.js';
import type { LeastSquaresFit } from '../least-squares/fit-result.js';
import { fitNonlinear } from '../least-squares/nonlinear.js';
import type { ResponseModel } from '../least-squares/problem.js';
import { fitMixedModel } from './fit.js';
import { besideTerms, leavesCounted, responseOf, rwcRangeOf, type LeafEffect, type LeafReading } from './leaf-line.js';
import type { MixedFit } from './mixed-fit.js';
import { interceptTerm, type MixedMethod, type ModelTerm } from './model.js';

/** Families that are not straight in RWC itself. */
export type CurveFamily = Exclude<FamilyName, 'log-linear' | 'linear'>;

export interface LeafCurveOptions {
  readonly method: MixedMethod;
  /** One of {@link leafEffectsOf} the family. */
  readonly leafEffect: LeafEffect;
}

/** A calibration curve with leaf effects: response = g(RWC; parameters) + what the leaf adds. Plain data, fit to be stored. */
export interface LeafCurve {
  readonly family: CurveFamily;
  /** The scale is the family's own: where its scatter is even, and where a leaf's height is added. */
  readonly options: Required<LeafCurveOptions> & { readonly responseScale: 'ln-transmittance' | 'transmittance' };
  /** In the order of the family's `parameterNames`. */
  readonly parameters: readonly number[];
  /** All leaves, those beside included. */
  readonly leafCount: number;
  /** Of the curve's own readings. */
  readonly rwcRange: { readonly from: number; readonly to: number };
  /** Its fixed effects are the parameters, then the height of each group of readings beside. */
  readonly fit: MixedFit;
}

/**
 * In what leaves may be let differ, by family. A height is added on the scale of the fit, so that its likelihood is exact for any curve.
 * A slope of a leaf's own is a sum too where the family is a straight line in some predictor; in the others it would stand inside the
 * exponential, where the likelihood has no closed form, and some ten readings of a leaf do not tell it from height.
 *
 * @example
 * leafEffectsOf('exponential') // => ['intercept']
 */
export function leafEffectsOf(family: FamilyName): readonly LeafEffect[] {
  if (family === 'log-linear' || family === 'linear') return ['intercept', 'independent-intercept-and-slope', 'intercept-and-slope'];
  return family === 'power' ? ['intercept', 'intercept-and-slope'] : ['intercept'];
}

/**
 * Fits one curve through the readings of many leaves, each leaf free to lie higher or lower.
 *
 * y = g(x; θ) + z'u + e on the family's own scale, u of each leaf normal. Since u enters as a sum, the marginal likelihood is exact: given θ
 * the model is a linear mixed model in the tangent of g, which gives the variances; given the variances θ is a least-squares search over
 * readings freed of what their leaf shares. The two take turns until neither moves, which for ML is where the likelihood is greatest. REML
 * holds ln|JᵀV⁻¹J| at the tangent J found, as nlme does. A power curve is straight in ln x, so that one turn does. A variance whose best
 * value is zero is exactly zero. Degrees of freedom and intervals are those of the tangent: first order in θ.
 *
 * Shapes and units: RWC and transmittance as fractions. Domain: three leaves or more with replicates, x > 0 for `power`; the curve must be
 * monotonic over the readings. Leaves within plants and discs within leaves are not told apart here: give leaves that stand for themselves.
 * Errors: `NO_READINGS`, `NOT_FINITE`, `NOT_POSITIVE`, `LEAF_EFFECT`, `NESTED_CURVE`, `NOT_MONOTONIC`, those of `fitMixedModel` and `fitNonlinear`.
 * Source: M. J. Lindstrom and D. M. Bates, Biometrics 46 (1990) 673, exact here; Pinheiro & Bates (2000), ch. 7. Checked against nlme.
 *
 * @param start parameters near the answer, for refits of nearly the same readings
 *
 * @example
 * const readings = ['a', 'b', 'c', 'd'].flatMap((leafId, i) => [1, 0.9, 0.8, 0.7, 0.6, 0.5].map((rwc, k) =>
 *   ({ leafId, rwc, transmittance: 0.05 + 0.6 * Math.exp(-2 * rwc) + 0.01 * (i % 3) + 0.001 * ((i + k) % 2) })));
 * const curve = fitLeafCurve('exponential', readings, { method: 'REML', leafEffect: 'intercept' });
 * [curve.leafCount, curve.parameters[2].toFixed(1), curve.fit.levels[0].sd[0].toFixed(3)] // => [4, '-2.0', '0.010']
 */
export function fitLeafCurve(family: CurveFamily, readings: readonly LeafReading[], options: LeafCurveOptions, start?: readonly number[]): LeafCurve {
  const shape = families[family];
  const problem = problemOf(shape, readings, options);
  const { parameters, fit } = shape.line === null ? inTurns(shape, problem, options.method, start) : straight(shape, problem, options.method);
  const rwcRange = rwcRangeOf(readings);
  directionOver(shape, parameters, rwcRange);
  return {
    family, options: { method: options.method, leafEffect: options.leafEffect, responseScale: problem.responseScale },
    parameters, leafCount: leavesCounted(fit), rwcRange, fit,
  };
}

interface LeafProblem {
  readonly responseScale: LeafCurve['options']['responseScale'];
  readonly x: readonly number[];
  readonly y: readonly number[];
  readonly ratio: readonly number[];
  readonly leaves: readonly string[];
  readonly beside: readonly ModelTerm[];
  readonly leafTerms: readonly ModelTerm[];
}

function problemOf(shape: Family, readings: readonly LeafReading[], { leafEffect }: LeafCurveOptions): LeafProblem {
  if (readings.length === 0) throw new InputError('NO_READINGS', 'readings', 'there is none', 'Give the readings of three leaves or more.');
  if (!leafEffectsOf(shape.name).includes(leafEffect)) {
    throw new InputError('LEAF_EFFECT', 'leafEffect', `leaves of ${shape.name === 'exponential' ? 'an' : 'a'} ${shape.name} curve are not let differ so`, shape.line === null ? 'Let them differ in height.' : 'Let them differ in height, or in height and slope.');
  }
  readings.forEach(({ plantId, discId }, i) => {
    if (plantId === undefined && discId === undefined) return;
    throw new InputError('NESTED_CURVE', `readings[${i}].${plantId === undefined ? 'discId' : 'plantId'}`, 'a curve takes leaves that stand for themselves', 'Leave plant and disc out, or fit a line.');
  });
  const responseScale = shape.errorScale === 'relative' ? 'ln-transmittance' : 'transmittance';
  const x = readings.map(({ rwc }, i) => (shape.name === 'power' ? requirePositive : requireFinite)(`readings[${i}].rwc`, rwc));
  const one = interceptTerm(readings.length);
  return {
    responseScale, x,
    y: readings.map(({ transmittance }, i) => responseOf(responseScale, transmittance, `readings[${i}].transmittance`)),
    ratio: readings.map(({ transmittance }) => transmittance),
    leaves: readings.map(({ leafId }) => leafId),
    beside: besideTerms(readings),
    leafTerms: leafEffect === 'intercept' ? [one] : [one, { name: 'slope', values: x.map((value) => shape.line!.predictor(value)) }],
  };
}

interface Found {
  readonly parameters: readonly number[];
  readonly fit: MixedFit;
}

const mixedOf = ({ leaves, leafTerms, beside }: LeafProblem, response: readonly number[], fixed: readonly ModelTerm[], method: MixedMethod): MixedFit =>
  fitMixedModel({ response, fixed: [...fixed, ...beside], levels: [{ name: 'leaf', groups: leaves, terms: leafTerms, covariance: 'full' }], method });

/** A family that is a line in some predictor is a linear mixed model as it stands. */
function straight({ line, parameterNames }: Family, problem: LeafProblem, method: MixedMethod): Found {
  const [intercept, slope] = parameterNames;
  const fixed = [{ ...interceptTerm(problem.x.length), name: intercept! }, { name: slope!, values: problem.x.map((x) => line!.predictor(x)) }];
  const fit = mixedOf(problem, problem.y, fixed, method);
  return { parameters: fit.fixed.slice(0, 2).map(({ estimate }) => estimate), fit };
}

const MOST_TURNS = 100;
/** A curve that came to no rest in so many turns has more parameters than the readings can tell: it will in none. */
const MOST_RESTLESS = 3;
/** Of the relative SD between leaves: below it a turn moves nothing that shows. */
const STILL = 1e-11;

/** Curve and variances in turn, from all readings taken alike. */
function inTurns(shape: Family, problem: LeafProblem, method: MixedMethod, start?: readonly number[]): Found {
  const heights = problem.beside.map(() => 0);
  let from = [...(start ?? startFor(shape, shape.errorScale, problem)), ...heights];
  let ratio = 0;
  let evaluations = 0;
  let restless = 0;
  for (let turn = 1; ; turn += 1) {
    const curve = curveGiven(shape, problem, ratio, from);
    const { fixed, working } = tangentOf(shape, problem, curve);
    const fit = mixedOf(problem, working, fixed, method);
    evaluations += fit.convergence.evaluations;
    const next = fit.levels[0]!.relativeFactor[0]![0]! ** 2;
    const settled = Math.abs(next - ratio) <= STILL * (next + STILL);
    restless += Number(!curve.convergence.converged);
    if (settled || turn === MOST_TURNS || restless === MOST_RESTLESS) return foundOf(shape, problem, curve, fit, { settled, turns: turn, evaluations });
    ratio = next;
    from = [...curve.parameters];
  }
}

/** Least squares of the readings freed of what their leaf shares: (I + λJ)^(−½) takes a share of the leaf's mean off each. */
function curveGiven(shape: Family, problem: LeafProblem, ratio: number, start: readonly number[]): LeastSquaresFit {
  const { x, y, beside } = problem;
  const [n, p] = [x.length, shape.parameterNames.length];
  const whiten = whitener(problem.leaves, ratio);
  const model: ResponseModel = {
    parameterCount: p + beside.length,
    evaluate: () => { throw new Error('asked for all readings at once only'); },
    evaluateAll(parameters, values, derivatives) {
      // A family that is no line is fitted in T itself.
      shape.evaluateAll(parameters.subarray(0, p), x, values, derivatives.subarray(0, p * n));
      beside.forEach((term, g) => term.values.forEach((one, i) => {
        values[i]! += one * parameters[p + g]!;
        derivatives[(p + g) * n + i] = one;
      }));
      whiten(values);
      for (let k = 0; k < p + beside.length; k += 1) whiten(derivatives.subarray(k * n, (k + 1) * n));
    },
  };
  const response = Float64Array.from(y);
  whiten(response);
  const open = (bound: number): number[] => beside.map(() => bound);
  return fitNonlinear(model, [...response], {
    start, maxIterations: 500, parameterNames: [...shape.parameterNames, ...beside.map(({ name }) => name)],
    // A leaf's height is added to the floor: held at zero, the floor would leave what all leaves share to the spread between them.
    lower: [-Infinity, ...shape.lower.slice(1), ...open(-Infinity)], upper: [...shape.upper, ...open(Infinity)],
  });
}

function whitener(leaves: readonly string[], ratio: number): (column: Float64Array) => void {
  const places = new Map([...new Set(leaves)].map((leaf, i) => [leaf, i]));
  const group = Int32Array.from(leaves, (leaf) => places.get(leaf)!);
  const counts = new Float64Array(places.size);
  for (const g of group) counts[g]! += 1;
  const share = counts.map((m) => (1 - 1 / Math.sqrt(1 + m * ratio)) / m);
  const sums = new Float64Array(places.size);
  return (column) => {
    if (ratio === 0) return;
    sums.fill(0);
    for (let i = 0; i < group.length; i += 1) sums[group[i]!]! += column[i]!;
    for (let i = 0; i < group.length; i += 1) column[i]! -= share[group[i]!]! * sums[group[i]!]!;
  };
}

/** Columns of the tangent, and the response that is linear in the parameters: y − g + J·θ. */
function tangentOf(shape: Family, { x, y }: LeafProblem, curve: LeastSquaresFit): { fixed: ModelTerm[]; working: number[] } {
  const { parameters } = curve;
  const [n, p] = [x.length, shape.parameterNames.length];
  const values = new Float64Array(n);
  const derivatives = new Float64Array(n * p);
  shape.evaluateAll(parameters.slice(0, p), x, values, derivatives);
  const working = y.map((value, i) => value - values[i]!);
  const fixed = shape.parameterNames.map((name, k): ModelTerm => {
    const column = [...derivatives.subarray(k * n, (k + 1) * n)];
    column.forEach((slope, i) => (working[i]! += slope * parameters[k]!));
    return { name, values: column };
  });
  return { fixed, working };
}

function foundOf(shape: Family, { y }: LeafProblem, curve: LeastSquaresFit, fit: MixedFit, { settled, turns, evaluations }: { settled: boolean; turns: number; evaluations: number }): Found {
  const parameters = curve.parameters.slice(0, shape.parameterNames.length);
  const converged = settled && curve.convergence.converged && fit.convergence.converged;
  const reason = settled ? (curve.convergence.converged ? fit.convergence.reason : curve.convergence.reason) : `curve and variances still moved after ${turns} turns`;
  return {
    parameters,
    fit: {
      ...fit,
      // Of the readings, not of the response that is linear in the parameters.
      fitted: fit.residuals.map((residual, i) => y[i]! - residual),
      convergence: { ...fit.convergence, converged, reason, iterations: turns, evaluations },
      notes: [
        ...fit.notes,
        ...(parameters[0]! < 0 ? ['The floor is estimated below zero, which no light is: within the readings the curve serves, but they show no light that never meets water. A family with fewer parameters may say as much.'] : []),
        ...(converged || !fit.convergence.converged ? [] : ['The search for the curve did not converge: do not use this fit.']),
      ],
    },
  };
}
