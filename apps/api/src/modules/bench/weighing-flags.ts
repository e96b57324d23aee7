import { minimumMassMg, plausibilityFlags, type DiscEvidence } from '#libs/leaf-water';
import type { DiscState, Flag } from '../../generated/schema.js';
import { HOUSE_PARAMETERS, limitsOf, type Parameters } from '../protocol/protocol-parameters.js';
import { balanceTerms } from '../water/handling.js';
import type { CropExperience, WeighingSurroundings } from './bench.repository.js';

const MINUTE_MS = 60_000;

export interface NewMass {
  readonly state: DiscState;
  readonly discId: string;
  readonly massMg: number;
  readonly atMs: number;
  readonly rawLine: string | null;
  readonly stable: boolean | null;
}

/** The last standing mass of a state, or undefined. */
export const lastMassMg = (around: WeighingSurroundings, state: DiscState): number | undefined =>
  around.earlier.filter((weighing) => weighing.state === state).at(-1)?.massMg;

/** Flags that the new mass raises by the protocol's limits; older masses were asked about in their turn. */
export function flagsOf(mass: NewMass, around: WeighingSurroundings, crop: CropExperience): Flag[] {
  const parameters = around.parameters ?? HOUSE_PARAMETERS;
  const evidence = { ...massEvidence(mass, around, crop), ...lineEvidence(mass, around), ...balanceEvidence(mass, around, parameters) };
  return plausibilityFlags(evidence, limitsOf(parameters)).map(({ code, message }) => ({ code, severity: parameters.asks.includes(code) ? 'ASK' : 'WARN', message }));
}

function massEvidence({ state, massMg, atMs }: NewMass, around: WeighingSurroundings, crop: CropExperience): DiscEvidence {
  // A weighing entered late, or amended, is judged by what stood before its own moment.
  const before = around.earlier.filter((weighing) => weighing.atMs < atMs);
  const drying = [...before.filter((weighing) => weighing.state === 'DRYING').slice(-2), { massMg, atMs }];
  const fresh = state === 'FRESH' || state === 'DRYING' ? massMg : undefined;
  return {
    freshMassMg: fresh ?? (state === 'DRY' || state === 'TURGID' ? lastMassMg(around, 'FRESH') : undefined),
    turgidMassMg: state === 'TURGID' ? massMg : lastMassMg(around, 'TURGID'),
    dryMassMg: state === 'DRY' ? massMg : lastMassMg(around, 'DRY'),
    ...(state === 'DRYING' && drying.length > 1 ? { dryingMassesMg: drying.slice(-2).map((each) => each.massMg), drying } : {}),
    ...(state === 'DRY' ? { ovenMassesMg: before.filter((w) => w.state === 'DRY').slice(-1).map((w) => w.massMg).concat(massMg) } : {}),
    ...(state === 'TURGID'
      ? { hydration: [...before.filter((w) => w.state === 'TURGID').map((w) => ({ massMg: w.massMg, atMs: w.atMs })), { massMg, atMs }] }
      : {}),
    ...(state === 'TURGID' ? hydrationEvidence(atMs, around) : {}),
    ...(state === 'FRESH' && around.cutAtMs !== null ? { cutAtMs: around.cutAtMs, freshWeighedAtMs: atMs } : {}),
    ...(state === 'DRY' ? { cropTurgidDryRatios: crop.turgidDryRatios } : {}),
    ...(state === 'TURGID' && around.diameterMm !== null
      ? { areaCm2: (Math.PI * (around.diameterMm / 2) ** 2) / 100, cropTurgidMassPerAreaMgCm2: crop.turgidMassPerAreas }
      : {}),
  };
}

/** How long the disc was on water, and when it was blotted, before it was weighed turgid. One that was laid back goes on; one that dried in between begins anew. */
function hydrationEvidence(atMs: number, { hydrations, earlier, parameters }: WeighingSurroundings): DiscEvidence {
  const driedMs = Math.max(-Infinity, ...earlier.filter((weighing) => weighing.state !== 'TURGID' && weighing.atMs < atMs).map((weighing) => weighing.atMs));
  // A weighing before the end of a hydration was another one's affair.
  const ended = hydrations.filter(({ endedMs }) => endedMs <= atMs && endedMs > driedMs);
  const last = ended.at(-1);
  if (!last) return {};
  const { hydrationLeastMin, hydrationMostMin } = parameters ?? HOUSE_PARAMETERS;
  const blotted = ended.findLast((each) => each.blotted);
  return {
    hydratedForMin: ended.reduce((sum, { startedMs, endedMs }) => sum + (endedMs - startedMs) / MINUTE_MS, 0),
    hydrationWindowMin: [last.leastMin ?? hydrationLeastMin, last.mostMin ?? hydrationMostMin],
    ...(blotted ? { blottedAtMs: blotted.endedMs, turgidWeighedAtMs: atMs } : {}),
  };
}

function lineEvidence({ discId, rawLine, stable }: NewMass, { lineBefore }: WeighingSurroundings): DiscEvidence {
  return {
    ...(stable === null ? {} : { stable }),
    // The same disc twice the same is told as a repeated mass.
    ...(lineBefore && rawLine !== null && lineBefore.discId !== discId ? { lines: [lineBefore.rawLine, rawLine] as const } : {}),
  };
}

function balanceEvidence({ massMg }: NewMass, around: WeighingSurroundings, { minimumMassMg: agreed }: Parameters): DiscEvidence {
  const balance = around.balance ? balanceTerms(around.balance) : null;
  const least = agreed ?? (balance && minimumMassMg(balance));
  return {
    ...(balance ? { resolutionMg: balance.resolutionMg } : {}),
    // Only the new mass is asked about: a light dry mass was, when it came.
    ...(least !== null && massMg < least ? { minimumMassMg: least } : {}),
  };
}
