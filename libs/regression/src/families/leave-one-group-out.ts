import { InputError } from '#libs/quantity';
import type { ErrorScale, FamilyName } from './family.js';
import { families, solveFamily, type FamilyFitOptions } from './fit-family.js';
import { preparePoints, type CalibrationPoint } from './points.js';

export interface LeaveOneGroupOut {
  /** Root mean square of (RWC read back − RWC weighed), in RWC points (per cent RWC). */
  readonly rmseRwcPoints: number;
  /** Mean of the same differences: a bias that every new leaf shares. */
  readonly biasRwcPoints: number;
  readonly groups: number;
  readonly pointsPredicted: number;
  /** Points whose transmittance the curve of the other groups never takes, or whose curve found no rest; in no figure above. */
  readonly pointsWithoutAnswer: number;
}

/**
 * Fits all groups but one, reads that group's transmittances back to RWC, and so on in turn: the error to expect of a leaf
 * the calibration has not seen. Against water thickness, an error in µm is turned to RWC by the point's own thickness when
 * turgid, EWT/RWC.
 *
 * @param groupBy which name on the points makes a group; default the leaf, the unit of statistics
 * @throws InputError MISSING (a point without a group), TOO_FEW_GROUPS (below 2), and those of fitFamily for each refit
 * @example
 * const leaf = (leafId, clearness) => [1, 0.8, 0.6].map((rwc) => ({ rwc, leafId, transmittance: clearness * Math.exp(-0.9 - rwc) }));
 * leaveOneGroupOut('log-linear', [...leaf('one', 1), ...leaf('two', Math.exp(0.05))]).rmseRwcPoints // => 5
 */
export function leaveOneGroupOut(
  family: FamilyName,
  points: readonly CalibrationPoint[],
  options: FamilyFitOptions = {},
  groupBy: 'leafId' | 'plantId' | 'day' = 'leafId',
): LeaveOneGroupOut {
  const shape = families[family];
  const errorScale: ErrorScale = options.errorScale ?? shape.errorScale;
  const predictor = options.predictor ?? 'rwc';
  const prepared = preparePoints(points, {
    predictor,
    response: options.response ?? 'transmittance',
    errorScale,
    weighting: options.weighting ?? 'equal',
    needsPositivePredictor: family === 'power',
  });
  const keys = prepared.index.map((i) => {
    const key = points[i]![groupBy];
    if (key !== undefined) return key;
    throw new InputError('MISSING', `points[${i}].${groupBy}`, 'the point belongs to no group, so it cannot be left out with one', `Give ${groupBy} for every point.`);
  });
  const groups = [...new Set(keys)];
  if (groups.length < 2) {
    throw new InputError('TOO_FEW_GROUPS', groupBy, `${groups.length} group cannot be left out and predicted`, 'Measure at least two leaves.');
  }
  const errors: number[] = [];
  let pointsWithoutAnswer = 0;
  for (const group of groups) {
    const kept = keys.flatMap((key, i) => (key === group ? [] : [i]));
    const fit = solveFamily(shape, errorScale, {
      x: kept.map((i) => prepared.x[i]!),
      ratio: kept.map((i) => prepared.ratio[i]!),
      weights: prepared.weights === null ? null : kept.map((i) => prepared.weights![i]!),
    });
    keys.forEach((key, i) => {
      if (key !== group) return;
      const readBack = fit.convergence.converged ? shape.inverse(fit.parameters, prepared.ratio[i]!) : null;
      const point = points[prepared.index[i]!]!;
      const toRwc = predictor === 'rwc' ? 1 : point.rwc / prepared.x[i]!;
      const error = readBack === null ? NaN : (readBack - prepared.x[i]!) * toRwc;
      if (Number.isFinite(error)) errors.push(error);
      else pointsWithoutAnswer++;
    });
  }
  const mean = (values: readonly number[]) => values.reduce((sum, v) => sum + v, 0) / values.length;
  return {
    rmseRwcPoints: 100 * Math.sqrt(mean(errors.map((e) => e * e))),
    biasRwcPoints: 100 * mean(errors),
    groups: groups.length,
    pointsPredicted: errors.length,
    pointsWithoutAnswer,
  };
}
