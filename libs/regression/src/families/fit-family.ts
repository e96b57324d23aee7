import { InputError, requireFinite } from '#libs/quantity';
import { fitLinear } from '../least-squares/linear.js';
import { fitNonlinear } from '../least-squares/nonlinear.js';
import type { ResponseModel } from '../least-squares/problem.js';
import type { CovarianceBasis, LeastSquaresConvergence, LeastSquaresFit } from '../least-squares/fit-result.js';
import { exponential, logistic } from './curve-families.js';
import { directionOver, type Direction, type ErrorScale, type Family, type FamilyName, type Range } from './family.js';
import { flagPoints, fitWarnings, type FitWarning, type PointFlag } from './flags.js';
import { lackOfFit, type LackOfFit } from './lack-of-fit.js';
import { linear, logLinear, power } from './line-families.js';
import { preparePoints, type CalibrationPoint, type PreparedPoints, type Predictor, type Response } from './points.js';

export const families: Readonly<Record<FamilyName, Family>> = {
  'log-linear': logLinear,
  linear,
  exponential,
  power,
  logistic,
};

export interface FamilyFitOptions {
  /** Default `rwc`. */
  readonly predictor?: Predictor;
  /** Default `transmittance`. */
  readonly response?: Response;
  /** Default: the family's own. */
  readonly errorScale?: ErrorScale;
  /** `stated` weights each point by 1/u² of its `uTransmittance`. Default `equal`. */
  readonly weighting?: 'equal' | 'stated';
  /** Default `residuals`; `stated` takes the stated uncertainties as they are (needs `weighting: 'stated'`). */
  readonly covarianceBasis?: CovarianceBasis;
  /** Over which the curve must be monotonic. Default: from the lowest to the highest predictor that takes part. */
  readonly range?: Range;
}

/** What a fitted curve must carry for prediction and inverse prediction: plain data, fit to be stored. */
export interface FittedCurve {
  readonly family: FamilyName;
  readonly predictor: Predictor;
  readonly response: Response;
  readonly errorScale: ErrorScale;
  readonly parameters: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  readonly covarianceBasis: CovarianceBasis;
  /** On the error scale: a share of T where that is relative. Of a reading of weight one where weighting is stated. */
  readonly residualSd: number;
  readonly degreesOfFreedom: number;
  readonly range: Range;
  readonly direction: Direction;
  readonly convergence: { readonly converged: boolean };
}

/** One point of the fit. Residuals are on the error scale; null marks what is not defined for this point. */
export interface FittedPoint {
  /** Place in the list given to {@link fitFamily}. */
  readonly index: number;
  readonly predictor: number;
  readonly observed: number;
  readonly fitted: number;
  readonly residual: number;
  readonly leverage: number;
  readonly standardisedResidual: number | null;
  readonly deletedResidual: number | null;
  readonly cooksDistance: number | null;
  readonly flags: readonly PointFlag[];
}

export interface ExcludedPoint {
  readonly index: number;
  readonly reason: string;
}

export interface FamilyFit extends FittedCurve, Omit<LeastSquaresFit, keyof FittedCurve | 'fitted' | 'residuals' | 'leverage' | 'standardisedResiduals' | 'deletedResiduals' | 'cooksDistance'> {
  readonly convergence: LeastSquaresConvergence;
  readonly formula: string;
  readonly weighting: 'equal' | 'stated';
  readonly pointCount: number;
  readonly points: readonly FittedPoint[];
  readonly excluded: readonly ExcludedPoint[];
  /** Of the readings as transmittances, so that families, scales and leaf-normalised forms compare. */
  readonly logLikelihood: number;
  /** Small-sample Akaike criterion (Hurvich & Tsai, Biometrika 76 (1989) 297-307); null where n ≤ parameters + 2. */
  readonly aicc: number | null;
  readonly lackOfFit: LackOfFit;
  readonly warnings: readonly FitWarning[];
}

/**
 * Fits transmittance against water content.
 *
 * Excluded points take no part and are listed with their reasons. Points flagged as outliers take part: leaving one out
 * is a person's decision with a reason. The curve must be monotonic over the range, or it is refused.
 *
 * @param family which shape; see {@link families}
 * @param points RWC as a fraction, transmittance as a ratio
 * @throws InputError TOO_FEW_POINTS, NOT_FINITE, NOT_POSITIVE, MISSING, ZERO_VARIANCE, SINGULAR_DESIGN, RANGE, NOT_MONOTONIC
 * @example
 * const fit = fitFamily('log-linear', [
 *   { rwc: 1, transmittance: 0.150 }, { rwc: 0.8, transmittance: 0.183 }, { rwc: 0.6, transmittance: 0.226 },
 * ]);
 * fit.parameters[1].toFixed(3) // => '-1.025'
 */
export function fitFamily(
  family: FamilyName,
  points: readonly CalibrationPoint[],
  options: FamilyFitOptions = {},
): FamilyFit {
  const shape = families[family];
  const errorScale = options.errorScale ?? shape.errorScale;
  const weighting = options.weighting ?? 'equal';
  const predictor = options.predictor ?? 'rwc';
  const response = options.response ?? 'transmittance';
  const prepared = preparePoints(points, { predictor, response, errorScale, weighting, needsPositivePredictor: family === 'power' });
  requireVariety(prepared, shape);
  const covarianceBasis = options.covarianceBasis ?? 'residuals';
  const solution = solveFamily(shape, errorScale, prepared, covarianceBasis);
  const range = options.range === undefined ? { from: Math.min(...prepared.x), to: Math.max(...prepared.x) } : requireRange(options.range);
  const direction = directionOver(shape, solution.parameters, range);
  const { fitted: _, residuals, leverage, standardisedResiduals, deletedResiduals, cooksDistance, ...rest } = solution;
  const flags = flagPoints(solution);
  const lack = lackOfFit(prepared, errorScale, solution);
  return {
    ...rest,
    family,
    formula: shape.formula,
    predictor,
    response,
    errorScale,
    weighting,
    range,
    direction,
    pointCount: prepared.x.length,
    points: prepared.index.map((index, i) => ({
      index,
      predictor: prepared.x[i]!,
      observed: prepared.ratio[i]!,
      fitted: shape.predict(solution.parameters, prepared.x[i]!),
      residual: residuals[i]!,
      leverage: leverage[i]!,
      standardisedResidual: standardisedResiduals[i]!,
      deletedResidual: deletedResiduals[i]!,
      cooksDistance: cooksDistance[i]!,
      flags: flags[i]!,
    })),
    excluded: points.flatMap((point, index) => (point.excludedBecause === undefined ? [] : [{ index, reason: point.excludedBecause }])),
    ...informationOf(solution, prepared),
    lackOfFit: lack,
    warnings: fitWarnings({ family: shape, fit: solution, direction, points, prepared, predictor, flags, lackOfFit: lack }),
  };
}

function requireRange({ from, to }: Range): Range {
  requireFinite('range.from', from);
  requireFinite('range.to', to);
  if (from < to) return { from, to };
  throw new InputError('RANGE', 'range', `from ${from} is not below to ${to}`, 'Give the lower end first.');
}

function requireVariety(prepared: PreparedPoints, family: Family): void {
  const needed = family.parameterNames.length + 1;
  if (prepared.x.length < needed) {
    throw new InputError(
      'TOO_FEW_POINTS',
      'points',
      `${prepared.x.length} points take part, and the ${family.name} family has ${family.parameterNames.length} parameters`,
      `Measure at least ${needed} points, or fit a family with fewer parameters.`,
    );
  }
  for (const [field, values, remedy] of [
    ['points[*].predictor', prepared.x, 'Read the leaf at several water contents.'],
    ['points[*].transmittance', prepared.ratio, 'Check that the meter was reading the disc.'],
  ] as const) {
    if (values.every((value) => value === values[0])) {
      throw new InputError('ZERO_VARIANCE', field, `all ${values.length} values are ${values[0]}`, remedy);
    }
  }
}

/** Calibration curves come to rest in some ten steps or never: a curve with more parameters than the points can tell. */
const MOST_STEPS = 500;

/** Fits prepared points: by the direct method where the family is a straight line on this error scale, else by search. */
export function solveFamily(
  family: Family,
  errorScale: ErrorScale,
  prepared: Pick<PreparedPoints, 'x' | 'ratio' | 'weights'>,
  covarianceBasis: CovarianceBasis = 'residuals',
): LeastSquaresFit {
  const common = { parameterNames: family.parameterNames, weights: prepared.weights ?? undefined, covarianceBasis };
  const { line } = family;
  if (line !== null && line.errorScale === errorScale) {
    return fitLinear(prepared.x.map((x) => [1, line.predictor(x)]), prepared.ratio.map((ratio) => line.response(ratio)), common);
  }
  const onScale = errorScale === 'relative' ? prepared.ratio.map(Math.log) : prepared.ratio;
  return fitNonlinear(modelOf(family, errorScale, prepared.x), onScale, {
    ...common,
    start: startFor(family, errorScale, prepared),
    maxIterations: MOST_STEPS,
    lower: family.lower,
    upper: family.upper,
  });
}

/** A start that the search can leave on this error scale. */
export function startFor(family: Family, errorScale: ErrorScale, prepared: Pick<PreparedPoints, 'x' | 'ratio'>): number[] {
  const start = family.initial(prepared.x, prepared.ratio);
  if (errorScale === 'absolute' || prepared.x.every((x) => family.predict(start, x) > 0)) return start;
  // A start on the relative scale must be positive everywhere: the flat line at the geometric mean always is.
  const level = Math.exp(prepared.ratio.reduce((sum, ratio) => sum + Math.log(ratio), 0) / prepared.ratio.length);
  return family.parameterNames.map((_, k) => (k === 0 ? level : 0));
}

/** The family as the solver sees it: at the points of a fit, on its error scale. */
export function modelOf(family: Family, errorScale: ErrorScale, x: ArrayLike<number>): ResponseModel {
  const parameterCount = family.parameterNames.length;
  if (errorScale === 'absolute') {
    return {
      parameterCount,
      evaluate: (parameters, index, gradient) => family.evaluate(parameters, x[index]!, gradient),
      evaluateAll: (parameters, values, derivatives) => family.evaluateAll(parameters, x, values, derivatives),
    };
  }
  return {
    parameterCount,
    evaluate(parameters, index, gradient) {
      const value = family.evaluate(parameters, x[index]!, gradient);
      if (gradient !== null) for (let k = 0; k < parameterCount; k++) gradient[k] = gradient[k]! / value;
      return Math.log(value);
    },
  };
}

function informationOf(fit: LeastSquaresFit, prepared: PreparedPoints): { logLikelihood: number; aicc: number | null } {
  const n = prepared.x.length;
  const logWeights = prepared.weights?.reduce((sum, w) => sum + Math.log(w), 0) ?? 0;
  const scatterIsFitted = fit.covarianceBasis === 'residuals';
  const variance = scatterIsFitted ? fit.residualSumOfSquares / n : 1;
  const logLikelihood =
    -0.5 * (n * Math.log(2 * Math.PI * variance) + fit.residualSumOfSquares / variance - logWeights) + prepared.logJacobian;
  const k = fit.parameters.length + (scatterIsFitted ? 1 : 0);
  if (n - k - 1 <= 0 || !Number.isFinite(logLikelihood)) return { logLikelihood, aicc: null };
  return { logLikelihood, aicc: -2 * logLikelihood + 2 * k + (2 * k * (k + 1)) / (n - k - 1) };
}
