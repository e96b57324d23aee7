import type { Tx } from '../../platform/database/database.js';

/** Kinds of result: what is computed from facts and goes stale when one of them is amended. */
export const RESULT_KINDS = ['rwc_series', 'calibration_version', 'transfer_study', 'bias_threshold_curve', 'threshold_certificate', 'zone_advice'] as const;
export type ResultKind = (typeof RESULT_KINDS)[number];

/** Two keys of one advisory lock space: this one, and the lab. */
const RECORD_LOCK = 4_180_003;

/**
 * Keeps amendments of this lab out until the transaction ends, so that no result is computed from a fact that is being
 * amended at the same moment and then misses its stale mark. Computations do not hinder each other.
 */
export async function holdFactsStill(tx: Tx): Promise<void> {
  await tx.query('SELECT pg_advisory_xact_lock_shared($1, hashtext($2))', [RECORD_LOCK, tx.labId]);
}

/** Waits for running computations of this lab and keeps new ones out until the transaction ends. */
export async function holdComputationsBack(tx: Tx): Promise<void> {
  await tx.query('SELECT pg_advisory_xact_lock($1, hashtext($2))', [RECORD_LOCK, tx.labId]);
}

/** Marks every result that rests on the target, however far up. */
export async function markStale(tx: Tx, targetId: string, amendmentId: string): Promise<void> {
  await tx.query(
    `WITH RECURSIVE up(kind, id) AS (
       SELECT from_kind, from_id FROM lineage_edge WHERE lab_id = $1 AND to_id = $2
       UNION
       SELECT edge.from_kind, edge.from_id FROM up JOIN lineage_edge edge ON edge.lab_id = $1 AND edge.to_id = up.id
     )
     INSERT INTO stale_mark (lab_id, result_kind, result_id, amendment_id)
     SELECT $1, kind, id, $3 FROM up WHERE kind = ANY($4::text[]) ON CONFLICT DO NOTHING`,
    [tx.labId, targetId, amendmentId, RESULT_KINDS],
  );
}

export async function exists(tx: Tx, table: string, id: string): Promise<boolean> {
  return (await tx.query(`SELECT 1 FROM "${table}" WHERE lab_id = $1 AND id = $2`, [tx.labId, id])).length > 0;
}

/** For each id, whether a stale mark stands on it. */
export async function staleAmong(tx: Tx, ids: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ id: string }>(
    'SELECT DISTINCT result_id AS id FROM stale_mark WHERE lab_id = $1 AND result_id = ANY($2::uuid[])', [tx.labId, ids],
  );
  return new Set(rows.map(({ id }) => id));
}

/** For each id, whether an amendment took it out of use. */
export async function amendedAmong(tx: Tx, ids: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ id: string }>(
    'SELECT target_id AS id FROM amendment WHERE lab_id = $1 AND target_id = ANY($2::uuid[])', [tx.labId, ids],
  );
  return new Set(rows.map(({ id }) => id));
}

export async function staleResultsOf(tx: Tx, amendmentIds: readonly string[]): Promise<{ amendmentId: string; kind: string; id: string }[]> {
  return tx.query(
    `SELECT amendment_id AS "amendmentId", result_kind AS kind, result_id AS id
     FROM stale_mark WHERE lab_id = $1 AND amendment_id = ANY($2::uuid[]) ORDER BY result_id`,
    [tx.labId, amendmentIds],
  );
}
