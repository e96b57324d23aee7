import { relativeWaterContent, robustSpread, type BalanceTerms } from '#libs/leaf-water';
import type { DiscState } from '../../generated/schema.js';
import { uWeighingMg, type Handling } from '../water/handling.js';

/** RWC of one fresh or drying mass before the series is computed. */
export interface LiveRwc {
  readonly rwc: number;
  readonly u: number;
  /** The dry mass is not known yet: the crop's usual turgid to dry ratio was taken. */
  readonly provisional: boolean;
}

export interface LiveMasses {
  readonly state: DiscState;
  readonly massMg: number;
  readonly turgidMassMg: number | undefined;
  readonly dryMassMg: number | undefined;
  readonly cropTurgidDryRatios: readonly number[];
  readonly balance: BalanceTerms;
  readonly handling: Handling;
}

/** From fewer discs than this nothing is expected of another. */
const RATIOS_LEAST = 3;

/** Null while there is nothing to tell it from: no turgid mass, or neither a dry mass nor other discs of the crop. */
export function liveRwc({ state, massMg, turgidMassMg, dryMassMg, cropTurgidDryRatios, balance, handling }: LiveMasses): LiveRwc | null {
  if ((state !== 'FRESH' && state !== 'DRYING') || turgidMassMg === undefined) return null;
  const dry = dryMassMg === undefined ? expectedDryMass(turgidMassMg, cropTurgidDryRatios) : { massMg: dryMassMg, u: uWeighingMg(balance, 'DRY', dryMassMg, handling) };
  if (dry === null || dry.massMg >= turgidMassMg) return null;
  const { rwc, u } = relativeWaterContent({
    freshMassMg: massMg,
    turgidMassMg,
    dryMassMg: dry.massMg,
    uFreshMg: uWeighingMg(balance, state, massMg, handling),
    uTurgidMg: uWeighingMg(balance, 'TURGID', turgidMassMg, handling),
    uDryMg: dry.u,
  });
  return { rwc, u, provisional: dryMassMg === undefined };
}

/**
 * Dry mass that the crop's ratios q = T/D let expect of one disc more: T over their median. It is as uncertain as one disc
 * more may lie off and the median itself may be: u(q)² = s²(1 + 1/n), u(D) = T/q² · u(q).
 */
function expectedDryMass(turgidMassMg: number, ratios: readonly number[]): { massMg: number; u: number } | null {
  if (ratios.length < RATIOS_LEAST) return null;
  const { median, sd } = robustSpread(ratios);
  return { massMg: turgidMassMg / median, u: (turgidMassMg / median ** 2) * sd * Math.sqrt(1 + 1 / ratios.length) };
}
