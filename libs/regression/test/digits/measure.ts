import { fewestDigits, matchingDigits, type OtherRow } from './digits.js';
import { measureLeafEffects } from './leaf-effects.js';
import { compareEiv, eivCases, fitEiv, intervalCases, invertCase } from './other-sources.js';
import { fitStrd, strdProblems } from './strd.js';

export interface StrdRow {
  readonly problem: string;
  readonly start: string;
  /** Digits the source gives, and so the most that can be reached. */
  readonly given: number;
  readonly parameters: number;
  readonly standardErrors: number;
  readonly residualSd: number;
  readonly converged: boolean;
}

/** Certified values have 15 digits for linear problems and 11 for nonlinear ones. */
const GIVEN = { linear: 15, nonlinear: 11 } as const;

export function measureStrd(): StrdRow[] {
  return strdProblems.flatMap((problem) => {
    const given = GIVEN[problem.kind];
    return (problem.starts ?? [null]).map((start, k) => {
      const fit = fitStrd(problem, start);
      return {
        problem: problem.name,
        start: start === null ? 'direct' : String(k + 1),
        given,
        parameters: fewestDigits(fit.parameters, problem.params, given),
        standardErrors: fewestDigits(fit.standardErrors, problem.se, given),
        residualSd: matchingDigits(fit.residualSd, problem.residualSd, given),
        converged: fit.convergence.converged,
      };
    });
  });
}

export function measureOthers(): OtherRow[] {
  const eiv = eivCases.map((item) => {
    const { fit, predicted } = fitEiv(item);
    const pairs = compareEiv(item.recomputed, fit, predicted);
    return {
      problem: item.name,
      digits: Math.min(...pairs.map(({ ours, source }) => matchingDigits(ours, source, 15))),
      source: item.source,
    };
  });
  const intervals = intervalCases.map((item) => {
    const { estimate, standardUncertainty, g, fieller, delta } = invertCase(item);
    return {
      problem: `Calibration interval, ${item.name}`,
      digits: fewestDigits(
        [estimate, standardUncertainty, g, ...fieller, delta.lower, delta.upper],
        [item.estimate, item.u, item.g, ...item.fieller, ...item.wald],
        15,
      ),
      source: 'Greenwell & Schubert Kabban, The R Journal 6(1) (2014) 90-100; Graybill & Iyer (1994) ch. 6',
    };
  });
  return [...eiv, ...intervals, ...measureLeafEffects()];
}
