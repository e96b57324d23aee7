import { InputError } from '#libs/quantity';
import type { FamilyName } from './family.js';
import { families, fitFamily, type FamilyFit, type FamilyFitOptions } from './fit-family.js';
import { leaveOneGroupOut, type LeaveOneGroupOut } from './leave-one-group-out.js';
import type { CalibrationPoint } from './points.js';

/** One way of fitting, with its options; families may appear more than once, e.g. plain and leaf-normalised. */
export interface Candidate {
  readonly family: FamilyName;
  readonly options?: FamilyFitOptions;
}

export type Comparison =
  | {
      readonly kind: 'fitted';
      readonly candidate: Candidate;
      readonly fit: FamilyFit;
      /** AICc above the best of all; null where AICc is not defined. */
      readonly deltaAicc: number | null;
      /** exp(−Δ/2) over its sum: the share of support among these candidates. */
      readonly akaikeWeight: number | null;
      readonly leaveOneLeafOut: LeaveOneGroupOut | { readonly reason: string };
    }
  | { readonly kind: 'refused'; readonly candidate: Candidate; readonly code: string; readonly sentence: string };

/**
 * Fits each candidate to the same points and sets them side by side: by AICc (likelihoods are of the transmittances, so
 * scales and leaf-normalised forms compare) and by the error on leaves left out. A candidate that cannot be fitted is
 * listed as refused. Candidates stand in the order given: which to take is a person's choice.
 *
 * Where points share leaves, AICc treats them as independent and flatters rich families: prefer the leave-one-leaf-out error.
 *
 * @example
 * const points = [1, 0.9, 0.8, 0.7, 0.6].map((rwc, i) => ({ rwc, transmittance: Math.exp(-0.9 - rwc + 0.001 * (i % 2)) }));
 * compareFamilies(points, [{ family: 'linear' }, { family: 'log-linear' }]).map((row) => row.deltaAicc > 0) // => [true, false]
 */
export function compareFamilies(
  points: readonly CalibrationPoint[],
  candidates: readonly Candidate[] = (Object.keys(families) as FamilyName[]).map((family) => ({ family })),
): Comparison[] {
  const attempts = candidates.map((candidate) => ({ candidate, attempt: attemptOf(() => fitFamily(candidate.family, points, candidate.options)) }));
  const usable = attempts.flatMap(({ attempt }) =>
    'value' in attempt && attempt.value.aicc !== null && attempt.value.convergence.converged ? [attempt.value.aicc] : [],
  );
  const best = Math.min(...usable);
  const total = usable.reduce((sum, aicc) => sum + Math.exp((best - aicc) / 2), 0);
  return attempts.map(({ candidate, attempt }) => {
    if ('error' in attempt) return { kind: 'refused', candidate, code: attempt.error.code, sentence: attempt.error.message };
    const fit = attempt.value;
    const counts = fit.aicc !== null && fit.convergence.converged;
    const left = attemptOf(() => leaveOneGroupOut(candidate.family, points, candidate.options));
    return {
      kind: 'fitted',
      candidate,
      fit,
      deltaAicc: counts ? fit.aicc! - best : null,
      akaikeWeight: counts ? Math.exp((best - fit.aicc!) / 2) / total : null,
      leaveOneLeafOut: 'value' in left ? left.value : { reason: left.error.message },
    };
  });
}

function attemptOf<T>(work: () => T): { readonly value: T } | { readonly error: InputError } {
  try {
    return { value: work() };
  } catch (error) {
    if (error instanceof InputError) return { error };
    throw error;
  }
}
