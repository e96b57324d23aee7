import type { CalibrationFamily, LeafEffects } from '../../../generated/graphql.js';

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

/** What the formulas call the parameters that have a name. */
const LETTERS: Readonly<Record<string, string>> = { floor: 'f', amplitude: 'a', rate: 'c', span: 's', steepness: 'k', midpoint: 'm' };

/** A parameter as the formula writes it, with its name where it has one. */
export const parameterWord = (name: string): string => `Parameter ${LETTERS[name] ? `${LETTERS[name]}, ${name}` : name}`;

type EffectChoice = { readonly value: LeafEffects; readonly label: string };

const HEIGHT_OR_SLOPE: readonly EffectChoice[] = [
  { value: 'AUTO', label: 'Height, and slope where AIC says so' },
  { value: 'HEIGHT', label: 'Height alone' },
  { value: 'HEIGHT_AND_SLOPE', label: 'Height and slope' },
];
const HEIGHT: readonly EffectChoice[] = [{ value: 'AUTO', label: 'Height alone' }];

/** In what a family lets leaves differ, and why in no more. */
export function effectsOffered(family: CalibrationFamily): { readonly choices: readonly EffectChoice[]; readonly hint: string | null } {
  if (family === 'EXPONENTIAL' || family === 'LOGISTIC') {
    return { choices: HEIGHT, hint: 'In a curve that bends by itself the few readings of one leaf do not tell a slope of its own from its height.' };
  }
  return { choices: HEIGHT_OR_SLOPE, hint: family === 'POWER' ? 'A slope is meant against ln R, where the curve is straight.' : null };
}

/** Why a version cannot be held against other leaves; null where it can. */
export function whyNotTried({ hasLeafEffects, leafCount }: { readonly hasLeafEffects: boolean; readonly leafCount: number }): string | null {
  if (hasLeafEffects) return null;
  return leafCount < 3
    ? 'With fewer than three leaves nothing is known of how leaves differ, and nothing can be promised for other ones.'
    : 'This curve was fitted to all readings alike, before leaves of a curve were let differ: nothing can be promised for other leaves. Fit its readings anew as a version to try that.';
}
