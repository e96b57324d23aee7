import { Injectable } from '@nestjs/common';
import type { AmendmentReason } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { heldOn } from '../notice/holders.repository.js';
import { Notices } from '../notice/notices.service.js';
import { restateShares } from '../share/share.repository.js';
import { labelsOf } from '../thread/thread.repository.js';
import { Amendment } from './amendment.entity.js';
import { exists, holdComputationsBack, markStale, RESULT_KINDS } from './amendment.repository.js';

/** Facts that may be corrected or taken out of use. Results are not amended: they are computed anew. */
const AMENDABLE = new Set([
  'weighing', 'meter_reading', 'instrument_check', 'instrument_calibration', 'oven_unloading', 'bias_sweep', 'trip_test', 'light_reference', 'trip', 'field_report', 'latch_reset', 'rain', 'field_check',
  'absorption_band', 'chopped_run', 'reset_pulse', 'temperature_run', 'cycle_count', 'unit_retirement', 'lot_acceptance',
  'sample_loss', 'custody', 'hydration', 'hydration_end', 'oven_temperature', 'oven_cooling', 'spectrum',
]);

export interface AmendmentOrder {
  readonly id: string;
  readonly targetKind: string;
  readonly targetId: string;
  readonly replacementId: string | null;
  readonly reasonCode: AmendmentReason;
  readonly reason: string;
}

/** Corrects and retracts facts: a new fact that says so, and stale marks on everything computed from the old one. */
@Injectable()
export class AmendmentService {
  constructor(
    private readonly recorder: Recorder,
    private readonly notices: Notices,
  ) {}

  async amend(tx: Tx, actor: Actor, order: AmendmentOrder): Promise<Written<Amendment>> {
    const { replacementId, ...rest } = order;
    const given = { ...rest, replacementId, reason: requireText('reason', order.reason) };
    await holdComputationsBack(tx);
    const written = await this.recorder.record(tx, actor, Amendment, given, async () => {
      if (!AMENDABLE.has(order.targetKind)) {
        throw new ProblemError('INPUT', 'targetKind', `A ${order.targetKind.replaceAll('_', ' ')} cannot be amended.`, 'Results are computed anew from amended facts.');
      }
      if (!(await exists(tx, order.targetKind, order.targetId))) throw notFound('targetId', `The ${order.targetKind.replaceAll('_', ' ')}`);
      return {
        uses: [{ kind: order.targetKind, id: order.targetId, role: 'amends' }],
        action: replacementId ? 'amend' : 'retract',
        reason: given.reason,
      };
    });
    if (!written.replayed) {
      await markStale(tx, order.targetId, written.row.id);
      await this.tellHolders(tx, actor, written.row);
      await restateShares(tx, given.reason);
    }
    return written;
  }

  /** Whoever made or signed a result that is stale now, or installed a unit on the strength of one, learns it: one notice a person. */
  private async tellHolders(tx: Tx, actor: Actor, { targetKind, targetId, replacementId, reason }: Amendment): Promise<void> {
    const held = await heldOn(tx, { kind: targetKind, id: targetId }, STALE_OR_PLACED);
    const labels = await labelsOf(tx, [{ kind: targetKind, id: targetId }, ...held]);
    const byPerson = new Map<string, string[]>();
    for (const { id, holderIds } of held) {
      for (const person of holderIds) byPerson.set(person, [...(byPerson.get(person) ?? []), labels.get(id) ?? id]);
    }
    byPerson.delete(actor.accountId);
    const what = labels.get(targetId) ?? targetKind.replaceAll('_', ' ');
    for (const [person, theirs] of byPerson) {
      await this.notices.tell(tx, {
        kind: 'RESULT_STALE',
        text: `${actor.displayName} ${replacementId ? 'amended' : 'retracted'} the ${what}: “${reason}”. On it rests what you made or signed: ${listed(theirs)}. Stale results must be computed anew and reviewed again.`,
        subjectKind: targetKind,
        subjectId: targetId,
        accountIds: [person],
      });
    }
  }
}

/** Kinds that an amendment reaches and that somebody answers for: results, and units in the field. */
const STALE_OR_PLACED: readonly string[] = [...RESULT_KINDS, 'installation'];

/** So many are named; the Thread shows them all. */
const NAMED_MOST = 6;

/** The furthest up first: a certificate says more than the series under it. */
function listed(labels: readonly string[]): string {
  const named = [...labels].reverse().slice(0, NAMED_MOST);
  return `${named.join(', ')}${labels.length > named.length ? ` and ${labels.length - named.length} more` : ''}`;
}
