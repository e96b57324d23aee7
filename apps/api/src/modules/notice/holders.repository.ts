import type { Tx } from '../../platform/database/database.js';

/** A record and the people who answer for it. */
export interface Held {
  readonly kind: string;
  readonly id: string;
  /** Who recorded it and who signed it. */
  readonly holderIds: string[];
}

/** The record given and everything that rests on it, however far up, as far as it is of these kinds, with who holds each. */
export async function heldOn(tx: Tx, root: { readonly kind: string; readonly id: string }, kinds: readonly string[]): Promise<Held[]> {
  return tx.query(
    `WITH RECURSIVE up(kind, id) AS (
       SELECT $2::text, $3::uuid
       UNION
       SELECT edge.from_kind, edge.from_id FROM up JOIN lineage_edge edge ON edge.lab_id = $1 AND edge.to_id = up.id
     )
     SELECT up.kind, up.id, array_agg(DISTINCT holder.id) AS "holderIds"
     FROM up CROSS JOIN LATERAL (
       SELECT recorded_by AS id FROM ledger_entry WHERE lab_id = $1 AND subject_id = up.id
       UNION SELECT recorded_by FROM signature WHERE lab_id = $1 AND subject_id = up.id) holder
     WHERE up.kind = ANY($4::text[]) GROUP BY up.kind, up.id ORDER BY array_position($4::text[], up.kind), up.id`,
    [tx.labId, root.kind, root.id, kinds],
  );
}
