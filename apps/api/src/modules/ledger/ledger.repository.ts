import type { LineageEdge } from '#libs/ledger';
import type { Tx } from '../../platform/database/database.js';
import { ENTRY_COLUMNS, type EntryRow } from '../../platform/ledger/ledger-store.js';

export interface PlacedEntry extends EntryRow {
  readonly place: number;
}

/** Placed entries of records, in the order of the ledger. One statement whatever the number. */
export const placedEntriesOf = (tx: Tx, subjectIds: readonly string[]): Promise<PlacedEntry[]> =>
  tx.query(
    `SELECT ${ENTRY_COLUMNS}, place.place::float8 AS place FROM ledger_entry e
     JOIN ledger_place place ON place.lab_id = e.lab_id AND place.entry_id = e.id
     WHERE e.lab_id = $1 AND e.subject_id = ANY($2::uuid[]) ORDER BY place.place`, [tx.labId, subjectIds],
  );

/** A placed entry by its own id, or null. */
export async function placedEntry(tx: Tx, entryId: string): Promise<PlacedEntry | null> {
  const rows = await tx.query<PlacedEntry>(
    `SELECT ${ENTRY_COLUMNS}, place.place::float8 AS place FROM ledger_entry e
     JOIN ledger_place place ON place.lab_id = e.lab_id AND place.entry_id = e.id
     WHERE e.lab_id = $1 AND e.id = $2`, [tx.labId, entryId],
  );
  return rows[0] ?? null;
}

/** By entry id; entries that wait are not among them. */
export async function placesOf(tx: Tx, entryIds: readonly string[]): Promise<Map<string, number>> {
  const rows = await tx.query<{ id: string; place: number }>(
    'SELECT entry_id AS id, place::float8 AS place FROM ledger_place WHERE lab_id = $1 AND entry_id = ANY($2::uuid[])', [tx.labId, entryIds],
  );
  return new Map(rows.map(({ id, place }) => [id, place]));
}

/** Everything that these records rest on, one edge a use. */
export const edgesFrom = (tx: Tx, ids: readonly string[]): Promise<LineageEdge[]> =>
  tx.query(
    `SELECT from_kind AS "fromKind", from_id AS "fromId", to_kind AS "toKind", to_id AS "toId", role FROM lineage_edge
     WHERE lab_id = $1 AND from_id = ANY($2::uuid[])`, [tx.labId, ids],
  );

/** Signatures on these records, and amendments of them. */
export const wordsUpon = (tx: Tx, ids: readonly string[]): Promise<{ kind: string; id: string }[]> =>
  tx.query(
    `SELECT 'signature' AS kind, id FROM signature WHERE lab_id = $1 AND subject_id = ANY($2::uuid[])
     UNION ALL SELECT 'amendment', id FROM amendment WHERE lab_id = $1 AND target_id = ANY($2::uuid[])
     UNION ALL SELECT 'sample_amendment', id FROM sample_amendment WHERE lab_id = $1 AND subject_id = ANY($2::uuid[])
     UNION ALL SELECT 'sample_loss', id FROM sample_loss WHERE lab_id = $1 AND subject_id = ANY($2::uuid[])`, [tx.labId, ids],
  );

export async function labName(tx: Tx): Promise<string> {
  const [lab] = await tx.query<{ name: string }>('SELECT name FROM lab WHERE id = $1', [tx.labId]);
  return lab?.name ?? '';
}

/** Names of the access tokens that entries came through, by entry. */
export async function tokensOfEntries(tx: Tx, entryIds: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.query<{ id: string; label: string }>(
    `SELECT e.id, token.label FROM ledger_entry e JOIN access_token token ON token.lab_id = $1 AND token.id = e.token_id
     WHERE e.lab_id = $1 AND e.id = ANY($2::uuid[])`, [tx.labId, entryIds],
  );
  return new Map(rows.map(({ id, label }) => [id, label]));
}
