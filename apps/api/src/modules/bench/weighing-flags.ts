import { minimumMassMg, plausibilityFlags, robustSpread, type DiscEvidence } from '#libs/leaf-water';
import type { DiscState, Flag } from '../../generated/schema.js';
import { balanceTerms } from '../water/handling.js';
import type { WeighingSurroundings } from './bench.repository.js';

export interface NewMass {
  readonly state: DiscState;
  readonly massMg: number;
  readonly atMs: number;
}

/** The last standing mass of a state, or undefined. */
export const lastMassMg = (around: WeighingSurroundings, state: DiscState): number | undefined =>
  around.earlier.filter((weighing) => weighing.state === state).at(-1)?.massMg;

/** Flags that the new mass raises by the rules of the leaf-water library; older masses were asked about in their turn. */
export function flagsOf(mass: NewMass, around: WeighingSurroundings, cropTurgidDryRatios: readonly number[]): Flag[] {
  const { state, massMg, atMs } = mass;
  // A weighing entered late, or amended, is judged by what stood before its own moment.
  const before = around.earlier.filter((weighing) => weighing.atMs < atMs);
  const lastDrying = before.filter((weighing) => weighing.state === 'DRYING').at(-1)?.massMg;
  const fresh = state === 'FRESH' || state === 'DRYING' ? massMg : undefined;
  const balance = around.balance ? balanceTerms(around.balance) : null;
  const evidence: DiscEvidence = {
    freshMassMg: fresh ?? (state === 'DRY' || state === 'TURGID' ? lastMassMg(around, 'FRESH') : undefined),
    turgidMassMg: state === 'TURGID' ? massMg : lastMassMg(around, 'TURGID'),
    dryMassMg: state === 'DRY' ? massMg : lastMassMg(around, 'DRY'),
    ...(state === 'DRYING' && lastDrying !== undefined ? { dryingMassesMg: [lastDrying, massMg] } : {}),
    ...(state === 'DRY' ? { ovenMassesMg: before.filter((w) => w.state === 'DRY').slice(-1).map((w) => w.massMg).concat(massMg) } : {}),
    ...(state === 'TURGID'
      ? { hydration: [...before.filter((w) => w.state === 'TURGID').map((w) => ({ massMg: w.massMg, atMs: w.atMs })), { massMg, atMs }] }
      : {}),
    ...(state === 'FRESH' && around.cutAtMs !== null ? { cutAtMs: around.cutAtMs, freshWeighedAtMs: atMs } : {}),
    ...(state === 'DRY' ? { cropTurgidDryRatios } : {}),
    ...(balance ? { resolutionMg: balance.resolutionMg } : {}),
    // Only the new mass is asked about: a light dry mass was, when it came.
    ...(balance && massMg < minimumMassMg(balance) ? { minimumMassMg: minimumMassMg(balance) } : {}),
  };
  return plausibilityFlags(evidence).map(({ code, severity, message }) => ({ code, severity: severity === 'ask' ? 'ASK' : 'WARN', message }));
}

/** Dry mass that the crop's usual turgid to dry ratio lets expect, or null while the crop has none to go by. */
export function expectedDryMassMg(turgidMassMg: number, cropTurgidDryRatios: readonly number[]): number | null {
  return cropTurgidDryRatios.length < 3 ? null : turgidMassMg / robustSpread(cropTurgidDryRatios).median;
}
