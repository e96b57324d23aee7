import { Injectable } from '@nestjs/common';
import type { AmendmentReason } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { Amendment } from './amendment.entity.js';
import { exists, holdComputationsBack, markStale } from './amendment.repository.js';

/** Facts that may be corrected or taken out of use. Results are not amended: they are computed anew. */
const AMENDABLE = new Set([
  'weighing', 'meter_reading', 'instrument_check', 'oven_unloading', 'bias_sweep', 'trip_test', 'light_reference', 'trip', 'field_report', 'latch_reset', 'rain', 'field_check',
  'absorption_band', 'chopped_run', 'reset_pulse', 'temperature_run', 'cycle_count', 'unit_retirement', 'lot_acceptance',
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
  constructor(private readonly recorder: Recorder) {}

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
    if (!written.replayed) await markStale(tx, order.targetId, written.row.id);
    return written;
  }
}
