import { fSurvival } from '#libs/numeric';
import type { LeastSquaresFit } from '../least-squares/fit-result.js';
import type { ErrorScale } from './family.js';
import type { PreparedPoints } from './points.js';

/**
 * Whether the curve misses the means of replicates by more than the replicates scatter (F test against pure error;
 * Draper & Smith, Applied Regression Analysis, sec. 2.1, from memory). Replicates are points of the very same predictor.
 */
export type LackOfFit =
  | {
      readonly kind: 'tested';
      readonly pureErrorSum: number;
      readonly pureErrorDf: number;
      readonly lackOfFitSum: number;
      readonly lackOfFitDf: number;
      readonly f: number;
      readonly pValue: number;
    }
  | { readonly kind: 'not-testable'; readonly reason: string };

export function lackOfFit(prepared: PreparedPoints, errorScale: ErrorScale, fit: LeastSquaresFit): LackOfFit {
  const groups = new Map<number, number[]>();
  prepared.x.forEach((x, i) => groups.set(x, [...(groups.get(x) ?? []), i]));
  const pureErrorDf = prepared.x.length - groups.size;
  const lackOfFitDf = groups.size - fit.parameters.length + fit.parametersAtBound.length;
  if (pureErrorDf === 0) return { kind: 'not-testable', reason: 'No two points have the same water content.' };
  if (lackOfFitDf <= 0) return { kind: 'not-testable', reason: 'There are no more distinct water contents than parameters.' };
  let pureErrorSum = 0;
  for (const members of groups.values()) pureErrorSum += weightedScatter(members, prepared, errorScale);
  const lackOfFitSum = Math.max(fit.residualSumOfSquares - pureErrorSum, 0);
  if (pureErrorSum === 0) return { kind: 'not-testable', reason: 'Replicates agree to the last digit, so there is no pure error to test against.' };
  const f = lackOfFitSum / lackOfFitDf / (pureErrorSum / pureErrorDf);
  return { kind: 'tested', pureErrorSum, pureErrorDf, lackOfFitSum, lackOfFitDf, f, pValue: fSurvival(f, lackOfFitDf, pureErrorDf) };
}

function weightedScatter(members: readonly number[], prepared: PreparedPoints, errorScale: ErrorScale): number {
  const weight = (i: number) => prepared.weights?.[i] ?? 1;
  const level = (i: number) => (errorScale === 'relative' ? Math.log(prepared.ratio[i]!) : prepared.ratio[i]!);
  const total = members.reduce((sum, i) => sum + weight(i), 0);
  const mean = members.reduce((sum, i) => sum + weight(i) * level(i), 0) / total;
  return members.reduce((sum, i) => sum + weight(i) * (level(i) - mean) ** 2, 0);
}
