import { readFileSync } from 'node:fs';
import {
  families,
  familyModel,
  fitErrorsInVariables,
  fitFamily,
  inversePredict,
  offsetPowerModel,
  polynomialModel,
  predictFrom,
  type EivFit,
  type EivModel,
  type PredictedValues,
  type UncertainPairs,
  type UncertainValue,
} from '#libs/regression';

interface EivNumbers {
  readonly parameters?: readonly number[];
  readonly standardErrors?: readonly number[];
  readonly covariance01?: number;
  readonly chiSquared?: number;
  readonly chiSquaredLimit?: number;
  readonly greatestWeightedDeviation?: number;
  readonly predicted?: readonly number[];
  readonly uPredicted?: readonly number[];
  readonly covariancePredicted12?: number;
}

export interface EivCase extends UncertainPairs {
  readonly name: string;
  readonly source: string;
  readonly model: 'straight line' | 'quadratic' | 'offset power' | 'exponential';
  readonly at?: readonly UncertainValue[];
  readonly printed: EivNumbers;
  readonly recomputed: EivNumbers;
}

export interface IntervalCase {
  readonly name: string;
  readonly x: readonly number[];
  readonly y: readonly number[];
  readonly readings: readonly number[];
  readonly level: number;
  readonly exact: boolean;
  readonly printed: { readonly estimate?: number; readonly fieller?: readonly number[]; readonly wald?: readonly number[]; readonly se?: number } | null;
  readonly g: number;
  readonly estimate: number;
  readonly u: number;
  readonly fieller: readonly number[];
  readonly wald: readonly number[];
}

const read = (name: string) => JSON.parse(readFileSync(new URL(`../fixtures/${name}`, import.meta.url), 'utf8')) as unknown;

export const eivCases = read('errors-in-variables.json') as readonly EivCase[];
export const intervalCases = (read('calibration-intervals.json') as { cases: readonly IntervalCase[] }).cases;

export function modelOf(item: EivCase): EivModel {
  if (item.model === 'offset power') return offsetPowerModel;
  if (item.model === 'exponential') return familyModel(families.exponential, 'absolute');
  return polynomialModel(item.model === 'straight line' ? 1 : 2);
}

/** ISO 6143's exponential has a negative offset, which a calibration family would not start from. */
const EXPONENTIAL_START = [-40, 40, 2.5e-5];

export function fitEiv(item: EivCase): { fit: EivFit; predicted: PredictedValues | null } {
  const model = modelOf(item);
  const fit = fitErrorsInVariables(model, item, item.model === 'exponential' ? { start: EXPONENTIAL_START } : {});
  return { fit, predicted: item.at === undefined ? null : predictFrom(model, fit, item.at) };
}

/** All that a case states, as flat lists in one order: what the source says, what we say. */
export function compareEiv(stated: EivNumbers, fit: EivFit, predicted: PredictedValues | null): { name: string; source: number; ours: number }[] {
  const pairs: { name: string; source: number; ours: number }[] = [];
  const add = (name: string, source: number | readonly number[] | undefined, ours: number | readonly number[] | undefined) => {
    if (source === undefined) return;
    const theirs = typeof source === 'number' ? [source] : source;
    const mine = typeof ours === 'number' ? [ours] : (ours ?? []);
    theirs.forEach((value, i) => pairs.push({ name: `${name}[${i}]`, source: value, ours: mine[i] ?? NaN }));
  };
  add('parameters', stated.parameters, fit.parameters);
  add('standardErrors', stated.standardErrors, fit.standardErrors);
  add('covariance01', stated.covariance01, fit.covariance[0]![1]!);
  add('chiSquared', stated.chiSquared, fit.chiSquared);
  add('chiSquaredLimit', stated.chiSquaredLimit, fit.chiSquaredLimit);
  add('greatestWeightedDeviation', stated.greatestWeightedDeviation, fit.greatestWeightedDeviation);
  add('predicted', stated.predicted, predicted?.values);
  add('uPredicted', stated.uPredicted, predicted?.standardUncertainties);
  add('covariancePredicted12', stated.covariancePredicted12, predicted?.covariance[0]?.[1]);
  return pairs;
}

export function invertCase(item: IntervalCase) {
  const fit = fitFamily('linear', item.x.map((rwc, i) => ({ rwc, transmittance: item.y[i]! })));
  const answer = inversePredict(fit, {
    transmittance: item.readings,
    level: item.level,
    poolScatter: true,
    readingUncertainty: item.exact ? 'exact' : 'as-calibration',
  });
  if (answer.verdict === 'refused' || answer.accepted.kind !== 'interval') throw new Error(`${item.name} was refused`);
  return { ...answer, fieller: [answer.accepted.lower, answer.accepted.upper] };
}
