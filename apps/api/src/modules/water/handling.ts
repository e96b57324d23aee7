import { uDiscMassMg, type BalanceTerms, type HandlingTerms } from '#libs/leaf-water';
import { convertDecimal, InputError, type Unit } from '#libs/quantity';
import type { DiscState } from '../../generated/schema.js';

/**
 * What handling adds to a mass: water lost between the moment meant and the moment read, water left by blotting, water
 * left in the oven or taken up again. Common practice, no source.
 */
export const HANDLING: Handling = { evaporationMg: 0.15, blottingFraction: 0.01, residualMoistureFraction: 0.01 };

/** The handling terms of a protocol, or the house's. */
export interface Handling {
  /** Half-width, rectangular. */
  readonly evaporationMg: number;
  /** Standard uncertainties as fractions of the turgid and of the dry mass. */
  readonly blottingFraction: number;
  readonly residualMoistureFraction: number;
}

/** Of a balance nobody knows (imported data): the step its masses are written with is taken for its resolution. */
export const balanceFromDecimals = (massTexts: readonly string[], unit: Unit): BalanceTerms => {
  const places = Math.max(...massTexts.map((text) => /[.,](\d+)/.exec(text)?.[1]?.length ?? 0));
  return { resolutionMg: Number(convertDecimal(`${places === 0 ? '1' : `0.${'0'.repeat(places - 1)}1`}`, unit, 'mg')) };
};

/** The terms of a registered balance, in mg. */
export function balanceTerms(balance: { readonly unit: string; readonly resolution: string | null; readonly repeatability: string | null; readonly linearity: string | null }): BalanceTerms {
  const inMg = (text: string): number => Number(convertDecimal(text, balance.unit as Unit, 'mg'));
  if (balance.resolution === null) {
    throw new InputError('MISSING', 'balance.resolution', 'is not known', 'Choose a balance that was registered with its resolution.');
  }
  return {
    resolutionMg: inMg(balance.resolution),
    ...(balance.repeatability === null ? {} : { repeatabilityMg: inMg(balance.repeatability) }),
    ...(balance.linearity === null ? {} : { linearityMg: inMg(balance.linearity) }),
  };
}

/** Standard uncertainty of one weighing in its state, mg. */
export function uWeighingMg(balance: BalanceTerms, state: DiscState, massMg: number, handling: Handling = HANDLING): number {
  const terms: Record<DiscState, HandlingTerms> = {
    TURGID: { massMg, blottingFraction: handling.blottingFraction },
    FRESH: { massMg, evaporationMg: handling.evaporationMg },
    DRYING: { massMg, evaporationMg: handling.evaporationMg },
    DRY: { massMg, residualMoistureFraction: handling.residualMoistureFraction },
  };
  return uDiscMassMg(balance, terms[state]).u;
}
