import { fQuantile, studentTQuantile } from '#libs/numeric';
import type { LeastSquaresFit } from '../least-squares/fit-result.js';
import type { Direction, Family } from './family.js';
import type { LackOfFit } from './lack-of-fit.js';
import type { CalibrationPoint, Predictor, PreparedPoints } from './points.js';

/** A flag names its rule, so that a reader can repeat it. It asks for a look; it removes nothing. */
export interface PointFlag {
  readonly kind: 'outlier' | 'influential' | 'high-leverage';
  readonly rule: string;
  readonly value: number;
  readonly limit: number;
}

export interface FitWarning {
  readonly code:
    | 'NOT_CONVERGED'
    | 'PARAMETER_AT_BOUND'
    | 'RISING'
    | 'RWC_OUT_OF_RANGE'
    | 'TRANSMITTANCE_OUT_OF_RANGE'
    | 'POINTS_SHARE_LEAVES'
    | 'POINTS_FLAGGED'
    | 'LACK_OF_FIT'
    | 'ILL_CONDITIONED';
  readonly sentence: string;
}

/** One list of flags a point, in the order of the fit. */
export function flagPoints(fit: LeastSquaresFit): PointFlag[][] {
  const n = fit.residuals.length;
  const p = fit.parameters.length;
  const df = fit.degreesOfFreedom;
  const outlierLimit = df > 1 ? studentTQuantile(1 - 0.025 / n, df - 1) : Infinity;
  const cookLimit = fQuantile(0.5, p, df);
  const leverageLimit = (3 * p) / n;
  return fit.residuals.map((_, i) => {
    const flags: PointFlag[] = [];
    const deleted = fit.deletedResiduals[i] ?? null;
    const cook = fit.cooksDistance[i] ?? null;
    if (deleted !== null && Math.abs(deleted) > outlierLimit) {
      flags.push({ kind: 'outlier', rule: 'deleted residual beyond the 5 % Bonferroni limit of Student t', value: deleted, limit: outlierLimit });
    }
    if (cook !== null && cook > cookLimit) {
      flags.push({ kind: 'influential', rule: "Cook's distance above the median of F(p, n − p)", value: cook, limit: cookLimit });
    }
    if (fit.leverage[i]! > leverageLimit) {
      flags.push({ kind: 'high-leverage', rule: 'leverage above 3p/n', value: fit.leverage[i]!, limit: leverageLimit });
    }
    return flags;
  });
}

export function fitWarnings(about: {
  readonly family: Family;
  readonly fit: LeastSquaresFit;
  readonly direction: Direction;
  readonly points: readonly CalibrationPoint[];
  readonly prepared: PreparedPoints;
  readonly predictor: Predictor;
  readonly flags: readonly (readonly PointFlag[])[];
  readonly lackOfFit: LackOfFit;
}): FitWarning[] {
  const { family, fit, prepared, points } = about;
  const warnings: FitWarning[] = [];
  const warn = (code: FitWarning['code'], sentence: string) => warnings.push({ code, sentence });
  if (!fit.convergence.converged) {
    warn('NOT_CONVERGED', `The search stopped (${fit.convergence.reason}) after ${fit.convergence.iterations} steps without coming to rest: do not use these parameters.`);
  }
  for (const k of fit.parametersAtBound) {
    warn('PARAMETER_AT_BOUND', `${family.parameterNames[k]} rests on its bound ${fit.parameters[k]}: the data do not call for it, and its standard error is not known.`);
  }
  if (about.direction === 'rising') {
    warn('RISING', 'Transmittance rises with water content, against the absorption of water: check sample order and band.');
  }
  if (about.predictor === 'rwc') {
    const outside = prepared.x.filter((rwc) => rwc < 0 || rwc > 1).length;
    if (outside > 0) warn('RWC_OUT_OF_RANGE', `${outside} points have an RWC outside 0 to 1: check their turgid and dry masses.`);
  }
  const impossible = prepared.index.filter((i) => points[i]!.transmittance <= 0 || points[i]!.transmittance > 1).length;
  if (impossible > 0) {
    warn('TRANSMITTANCE_OUT_OF_RANGE', `${impossible} points have a transmittance that is not above 0 and at most 1: check dark and reference, and that it is a fraction, not per cent.`);
  }
  const leaves = prepared.index.map((i) => points[i]!.leafId).filter((leaf) => leaf !== undefined);
  const leafCount = new Set(leaves).size;
  if (leafCount > 0 && leafCount < leaves.length) {
    warn('POINTS_SHARE_LEAVES', `${leaves.length} points come from ${leafCount} leaves and are not independent: these intervals are too narrow for a new leaf. Use the mixed model for that.`);
  }
  const flagged = about.flags.filter((flags) => flags.length > 0).length;
  if (flagged > 0) warn('POINTS_FLAGGED', `${flagged} points are flagged; they take part until someone excludes them with a reason.`);
  if (about.lackOfFit.kind === 'tested' && about.lackOfFit.pValue < 0.05) {
    warn('LACK_OF_FIT', `Replicates scatter less than the curve misses them (p = ${about.lackOfFit.pValue.toPrecision(2)}): try another family.`);
  }
  if (fit.conditionNumber > 1e6) {
    warn('ILL_CONDITIONED', `The parameters are hardly told apart by these points (condition number ${fit.conditionNumber.toPrecision(2)}): add points over a wider range, or fit fewer parameters.`);
  }
  return warnings;
}
