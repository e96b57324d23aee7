import type { Tx } from '../../platform/database/database.js';
import { rowsByIds, rowsWhere, type KeptEntity } from '../../platform/database/rows.js';
import type { KeptRow } from '../../platform/database/kept-row.js';
import { MeterReading } from '../bench/bench.entity.js';

export interface UsedRecord {
  readonly kind: string;
  readonly id: string;
  readonly role: string;
}

/** What a result rests on. */
export const usedBy = (tx: Tx, resultId: string): Promise<UsedRecord[]> =>
  tx.query('SELECT to_kind AS kind, to_id AS id, role FROM lineage_edge WHERE lab_id = $1 AND from_id = $2', [tx.labId, resultId]);

/** Facts with a moment of observation, in the order in which computations take them. */
export async function observedFacts<E extends KeptRow & { observedAt: Date }>(tx: Tx, entity: KeptEntity<E>, ids: readonly string[]): Promise<E[]> {
  const rows = await rowsByIds(tx, entity, ids);
  return rows.sort((a, b) => a.observedAt.getTime() - b.observedAt.getTime() || (a.id < b.id ? -1 : 1));
}

/** Meter readings of a run that stood at a moment: recorded by then, and not yet amended. */
export const readingsThen = (tx: Tx, dryingRunId: string, at: Date): Promise<MeterReading[]> =>
  rowsWhere(
    tx, MeterReading,
    `drying_run_id = $2 AND recorded_at <= $3 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = meter_reading.id AND a.recorded_at < $3)`,
    [dryingRunId, at], 'ORDER BY observed_at, id',
  );
