import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { handlingOf } from '../protocol/protocol-parameters.js';
import { parametersOf } from '../protocol/protocol.repository.js';
import { balanceTerms } from '../water/handling.js';
import { cropExperience, lastMasses, type LastMass } from './bench.repository.js';
import { liveRwc } from './live-rwc.js';

export interface RwcNowView {
  readonly discId: string;
  readonly weighingId: string;
  readonly observedAt: string;
  readonly massMg: number;
  readonly rwc: number | null;
  readonly uRwc: number | null;
  readonly provisional: boolean;
}

/** What the last mass of each disc of a run means now. A statement for the run, one for each crop in it. */
export async function rwcNow(tx: Tx, run: { readonly id: string; readonly discIds: readonly string[]; readonly balanceId: string; readonly protocolId: string | null }): Promise<RwcNowView[]> {
  const last = await lastMasses(tx, run.id);
  const experience = new Map<string, readonly number[]>();
  for (const cropId of new Set(last.map((each) => each.cropId))) experience.set(cropId, (await cropExperience(tx, cropId, run.discIds)).turgidDryRatios);
  const balance = balanceTerms((await rowById(tx, Instrument, run.balanceId))!);
  const handling = handlingOf(await parametersOf(tx, run.protocolId));
  return run.discIds.flatMap((discId) => {
    const own = (state: LastMass['state']): LastMass | undefined => last.find((each) => each.discId === discId && each.state === state);
    const now = own('DRYING') ?? own('FRESH');
    if (!now) return [];
    const live = liveRwc({
      state: now.state, massMg: now.massMg, turgidMassMg: own('TURGID')?.massMg, dryMassMg: own('DRY')?.massMg,
      cropTurgidDryRatios: experience.get(now.cropId) ?? [], balance, handling,
    });
    return [{
      discId, weighingId: now.id, observedAt: formatMoment(now.observedAt, now.observedOffsetMin), massMg: now.massMg,
      rwc: live?.rwc ?? null, uRwc: live?.u ?? null, provisional: live?.provisional ?? false,
    }];
  });
}
