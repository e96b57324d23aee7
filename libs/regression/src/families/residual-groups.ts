import { fSurvival, studentTSurvival } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import type { FamilyFit } from './fit-family.js';
import type { CalibrationPoint } from './points.js';

export interface ResidualGroup {
  readonly key: string;
  readonly count: number;
  /** On the scale of the fit: a share of T where that is relative. */
  readonly meanResidual: number;
  /** Null for a group of one. */
  readonly standardDeviation: number | null;
}

export interface GroupedResiduals {
  readonly by: 'leafId' | 'plantId' | 'day' | 'operator';
  readonly groups: readonly ResidualGroup[];
  /**
   * One-way analysis of variance of the residuals; a small p says the groups differ by more than scatter. Approximate:
   * residuals have lost the degrees of freedom of the curve. Null where no group has two points, or only one group.
   */
  readonly test: { readonly f: number; readonly betweenDf: number; readonly withinDf: number; readonly pValue: number } | null;
}

/**
 * Residuals by leaf, plant, day or operator, with a test whether the groups differ.
 *
 * @throws InputError MISSING for a point without the name
 * @example
 * const points = [1, 0.9, 0.8, 0.7].map((rwc, i) => ({ rwc, transmittance: Math.exp(-0.9 - rwc + 0.01 * (i % 2)), operator: i % 2 ? 'A' : 'B' }));
 * const { groups } = residualsBy(fitFamily('log-linear', points), points, 'operator');
 * groups.map((group) => group.count) // => [2, 2]
 */
export function residualsBy(fit: FamilyFit, points: readonly CalibrationPoint[], by: GroupedResiduals['by']): GroupedResiduals {
  const members = new Map<string, number[]>();
  for (const { index, residual } of fit.points) {
    const key = points[index]?.[by];
    if (key === undefined) {
      throw new InputError('MISSING', `points[${index}].${by}`, 'the point has no such name, so its residual belongs to no group', `Give ${by} for every point.`);
    }
    members.set(key, [...(members.get(key) ?? []), residual]);
  }
  const groups = [...members].map(([key, residuals]) => ({ key, count: residuals.length, ...spread(residuals) }));
  return { by, groups, test: analysisOfVariance([...members.values()]) };
}

function spread(residuals: readonly number[]): { meanResidual: number; standardDeviation: number | null } {
  const n = residuals.length;
  const meanResidual = residuals.reduce((sum, r) => sum + r, 0) / n;
  const sum = residuals.reduce((total, r) => total + (r - meanResidual) ** 2, 0);
  return { meanResidual, standardDeviation: n > 1 ? Math.sqrt(sum / (n - 1)) : null };
}

function analysisOfVariance(groups: readonly (readonly number[])[]): GroupedResiduals['test'] {
  const n = groups.reduce((sum, group) => sum + group.length, 0);
  const betweenDf = groups.length - 1;
  const withinDf = n - groups.length;
  if (betweenDf === 0 || withinDf === 0) return null;
  const grand = groups.flat().reduce((sum, r) => sum + r, 0) / n;
  let between = 0;
  let within = 0;
  for (const group of groups) {
    const { meanResidual } = spread(group);
    between += group.length * (meanResidual - grand) ** 2;
    within += group.reduce((sum, r) => sum + (r - meanResidual) ** 2, 0);
  }
  if (within === 0) return null;
  const f = between / betweenDf / (within / withinDf);
  return { f, betweenDf, withinDf, pValue: fSurvival(f, betweenDf, withinDf) };
}

export interface ResidualsInOrder {
  /** Σ(eᵢ − eᵢ₋₁)²/Σeᵢ²: near 2 for independent residuals, below for drift (Durbin & Watson, Biometrika 37 (1950) 409). */
  readonly durbinWatson: number;
  /** Slope of the residual against the place in the order, per place, and its two-sided p. */
  readonly slope: number;
  readonly pValue: number;
}

/**
 * Residuals in the order of measuring: `order` where the points have it, else the place in the list.
 *
 * @throws InputError TOO_FEW_POINTS below three, ZERO_VARIANCE for an exact fit
 * @example
 * const points = [1, 0.9, 0.8, 0.7, 0.6].map((rwc, i) => ({ rwc, transmittance: Math.exp(-0.9 - rwc + 0.01 * (i % 2)) }));
 * residualsInOrder(fitFamily('log-linear', points), points).durbinWatson > 3 // => true
 */
export function residualsInOrder(fit: FamilyFit, points: readonly CalibrationPoint[]): ResidualsInOrder {
  const inOrder = [...fit.points]
    .map(({ index, residual }) => ({ at: points[index]?.order ?? index, residual }))
    .sort((a, b) => a.at - b.at)
    .map(({ residual }) => residual);
  const n = inOrder.length;
  if (n < 3) throw new InputError('TOO_FEW_POINTS', 'points', `${n} residuals have no trend to speak of`, 'Measure at least three points.');
  const sum = inOrder.reduce((total, e) => total + e * e, 0);
  if (sum === 0) throw new InputError('ZERO_VARIANCE', 'points', 'the curve goes through every point, so there are no residuals', 'Check that the points are measured, not computed.');
  const steps = inOrder.slice(1).reduce((total, e, i) => total + (e - inOrder[i]!) ** 2, 0);
  const meanPlace = (n - 1) / 2;
  const mean = inOrder.reduce((total, e) => total + e, 0) / n;
  const sxx = (n * (n * n - 1)) / 12;
  const slope = inOrder.reduce((total, e, i) => total + (i - meanPlace) * (e - mean), 0) / sxx;
  const rest = inOrder.reduce((total, e, i) => total + (e - mean - slope * (i - meanPlace)) ** 2, 0);
  const t = rest === 0 ? Infinity : Math.abs(slope) / Math.sqrt(rest / (n - 2) / sxx);
  return { durbinWatson: steps / sum, slope, pValue: 2 * studentTSurvival(t, n - 2) };
}
