import type { RunPageQuery } from '../../../generated/graphql.js';
import type { Kept } from '../../../offline/store.js';
import { belongsTo } from '../../../offline/writes.js';
import type { Done } from './rhythm.js';

export type Run = NonNullable<RunPageQuery['dryingRun']>;
export type Reading = Run['meterReadings'][number];

/** A moment by the server's clock: two devices at one bench may not agree, and the order of their acts must. */
const ms = (at: string, clockOffsetMs: number | null | undefined): number => Date.parse(at) + (clockOffsetMs ?? 0);
const pathKinds = { DARK: 'dark', REFERENCE: 'reference' } as const;

/** What stands in this run, what this computer has kept for it but not sent, and what was just recorded here. */
export function doneInRun(run: Run, waiting: readonly Kept[], just: readonly { readonly id: string; readonly done: Done }[] = []): readonly Done[] {
  const weighings = run.weighings.filter(({ amendedBy }) => !amendedBy).map((each): Done => ({ kind: 'weighing', atMs: ms(each.observedAt, each.clockOffsetMs), discId: each.disc.id, state: each.state }));
  const readings = run.meterReadings.filter(({ amendedBy }) => !amendedBy).map((each): Done => doneAtMeter(each.lightPath, ms(each.observedAt, each.clockOffsetMs), each.disc?.id));
  const known = new Set([...run.weighings, ...run.meterReadings].map(({ id }) => id));
  const kept = waiting.filter((each) => !each.problem && belongsTo(each) === run.id && !known.has(each.input.id)).flatMap(doneOf);
  const told = new Set([...known, ...waiting.map(({ input }) => input.id)]);
  return [...weighings, ...readings, ...kept, ...just.filter(({ id }) => !told.has(id)).map(({ done }) => done)];
}

/** What was refused is not done: the rhythm asks for it again. */
function doneOf(kept: Kept): readonly Done[] {
  if (kept.kind === 'weighing') return [{ kind: 'weighing', atMs: ms(kept.input.observedAt, kept.input.clockOffsetMs), discId: kept.input.discId, state: kept.input.state }];
  if (kept.kind === 'meterReading') return [doneAtMeter(kept.input.lightPath, ms(kept.input.observedAt, kept.input.clockOffsetMs), kept.input.discId)];
  return [];
}

function doneAtMeter(lightPath: Reading['lightPath'], atMs: number, discId: string | null | undefined): Done {
  if (lightPath === 'READING') return { kind: 'reading', atMs, discId: discId ?? '' };
  return { kind: pathKinds[lightPath], atMs };
}

export interface LiveReading {
  readonly disc: string;
  readonly at: string;
  /** (reading − dark) / (reference − dark) with the last dark and reference before it; the server interpolates between two references on release. */
  readonly value: number;
}

/** Transmittance as it can be told while the run is open; readings before the first dark and reference are left out. */
export function liveTransmittance(readings: readonly Reading[]): readonly LiveReading[] {
  let dark: number | null = null;
  let reference: number | null = null;
  const live: LiveReading[] = [];
  for (const each of [...readings].filter(({ amendedBy }) => !amendedBy).sort((a, b) => ms(a.observedAt, a.clockOffsetMs) - ms(b.observedAt, b.clockOffsetMs))) {
    const power = Number(each.powerNw);
    if (each.lightPath === 'DARK') dark = power;
    else if (each.lightPath === 'REFERENCE') reference = power;
    else if (each.disc && dark !== null && reference !== null && reference > dark) {
      live.push({ disc: each.disc.label, at: each.observedAt, value: (power - dark) / (reference - dark) });
    }
  }
  return live;
}
