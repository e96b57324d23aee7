import { InputError, requirePositive } from '#libs/quantity';
import { families, type FittedCurve } from '../families/fit-family.js';
import { directionOver, type ErrorScale, type FamilyName, type Range } from '../families/family.js';
import { preparePoints, type CalibrationPoint, type Response } from '../families/points.js';
import { fitErrorsInVariables, type EivFit } from './fit-errors-in-variables.js';
import { familyModel } from './model.js';

export interface FamilyEivOptions {
  /** Default `transmittance`. */
  readonly response?: Response;
  /** Default: the family's own. */
  readonly errorScale?: ErrorScale;
  /**
   * Covariance of the RWC of all points given (excluded ones too), n × n: see {@link sharedMassCovariance}. Default:
   * independent, from each point's `uRwc`.
   */
  readonly rwcCovariance?: readonly (readonly number[])[];
  /** Default: from the lowest to the highest RWC that takes part. */
  readonly range?: Range;
}

/** A calibration fitted with uncertain RWC; as a {@link FittedCurve} it can be read backwards by inversePredict. */
export interface FamilyEivFit extends Omit<EivFit, 'parameters' | 'covariance' | 'degreesOfFreedom' | 'convergence'>, FittedCurve {
  readonly convergence: EivFit['convergence'];
  /** Place of each adjusted point in the list given. */
  readonly index: readonly number[];
  readonly warnings: readonly string[];
}

/**
 * Fits transmittance against RWC where both are uncertain and the RWC of one disc are correlated through its turgid and
 * dry masses. Treating such points as independent gives the slope a wrong uncertainty: too small by the part of each point's
 * own, too large by the whole.
 *
 * The covariance of the parameters comes from the stated uncertainties and is not rescaled; χ² says whether they hold.
 *
 * @throws InputError NOT_FINITE (a missing uncertainty), OUT_OF_BOUNDS, NOT_MONOTONIC, and those of fitErrorsInVariables
 * @example
 * const points = [[1, 0.15], [0.8, 0.182], [0.6, 0.225], [0.5, 0.248]].map(([rwc, transmittance]) => ({ rwc, transmittance, uRwc: 0.01, uTransmittance: 0.001 }));
 * fitFamilyWithErrorsInBoth('log-linear', points).consistent // => true
 */
export function fitFamilyWithErrorsInBoth(
  family: FamilyName,
  points: readonly CalibrationPoint[],
  options: FamilyEivOptions = {},
): FamilyEivFit {
  const shape = families[family];
  const errorScale = options.errorScale ?? shape.errorScale;
  const response = options.response ?? 'transmittance';
  const prepared = preparePoints(points, {
    predictor: 'rwc',
    response,
    errorScale,
    weighting: 'stated',
    needsPositivePredictor: family === 'power',
  });
  const { index } = prepared;
  const fit = fitErrorsInVariables(familyModel(shape, errorScale), {
    x: prepared.x,
    y: errorScale === 'relative' ? prepared.ratio.map(Math.log) : prepared.ratio,
    uY: prepared.weights!.map((w) => 1 / Math.sqrt(w)),
    ...(options.rwcCovariance === undefined
      ? { uX: index.map((i) => requirePositive(`points[${i}].uRwc`, points[i]!.uRwc ?? NaN)) }
      : { covarianceX: rowsOf(options.rwcCovariance, index, points.length) }),
  });
  fit.parameters.forEach((value, k) => {
    if (value >= shape.lower[k]! && value <= shape.upper[k]!) return;
    throw new InputError('OUT_OF_BOUNDS', shape.parameterNames[k]!, `the fit would need ${value.toPrecision(3)}, outside [${shape.lower[k]}, ${shape.upper[k]}]`, 'Fit a family with fewer parameters.');
  });
  const range = options.range ?? { from: Math.min(...prepared.x), to: Math.max(...prepared.x) };
  const warnings: string[] = [];
  if (!fit.consistent) {
    warnings.push(`χ² is ${fit.chiSquared.toPrecision(3)}, above its 95 % limit ${fit.chiSquaredLimit.toPrecision(3)}: the curve or the stated uncertainties do not fit these points, and the limits given are too narrow.`);
  }
  if (!fit.convergence.converged) warnings.push('The fit did not come to rest: do not use these parameters.');
  return {
    ...fit,
    family,
    predictor: 'rwc',
    response,
    errorScale,
    covarianceBasis: 'stated',
    residualSd: Math.sqrt(fit.chiSquared / fit.degreesOfFreedom),
    range,
    direction: directionOver(shape, fit.parameters, range),
    index,
    warnings,
  };
}

function rowsOf(covariance: readonly (readonly number[])[], index: readonly number[], n: number): number[][] {
  if (covariance.length !== n || covariance.some((row) => row.length !== n)) {
    throw new InputError('SHAPE', 'rwcCovariance', `not ${n} rows of ${n}`, 'Give one row and one column a point, excluded ones too.');
  }
  return index.map((i) => index.map((j) => covariance[i]![j]!));
}
