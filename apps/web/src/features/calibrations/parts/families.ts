import type { CalibrationFamily } from '../../../generated/graphql.js';

interface FamilyWords {
  readonly word: string;
  readonly formula: string;
  /** Of the residuals: the scale that was fitted. */
  readonly scale: string;
}

export const families: Readonly<Record<CalibrationFamily, FamilyWords>> = {
  LOG_LINEAR: { word: 'log-linear', formula: 'ln T = a + c·R', scale: 'ln T' },
  LINEAR: { word: 'linear', formula: 'T = a + c·R', scale: 'T' },
  EXPONENTIAL: { word: 'exponential', formula: 'T = f + a·exp(c·R)', scale: 'T' },
  POWER: { word: 'power', formula: 'ln T = a + c·ln R', scale: 'ln T' },
  LOGISTIC: { word: 'logistic', formula: 'T = f + s/(1 + exp(k·(R − m)))', scale: 'T' },
};

/** Why a version cannot be held against other leaves; null where it can. */
export function whyNotTried(family: CalibrationFamily, leafCount: number): string | null {
  if (family !== 'LOG_LINEAR' && family !== 'LINEAR') return `A curve (${families[family].word}) is fitted to all readings alike. How leaves differ is fitted to lines only, and without that nothing can be promised for other leaves. Fit a log-linear or linear version to try.`;
  return leafCount < 3 ? 'With fewer than three leaves nothing is known of how leaves differ, and nothing can be promised for other ones.' : null;
}
