import { createHash } from 'node:crypto';
import { parseVerifierKey, type LedgerEntry, type LedgerKey, type NodePlace, type ReadNodes, type Sha256, type TreeNode } from '#libs/ledger';
import type { Tx } from '../database/database.js';

/** Node's own SHA-256: the same bytes as the portable one in less time. */
export const sha256: Sha256 = (bytes) => createHash('sha256').update(bytes).digest();

export interface EntryRow {
  readonly id: string;
  readonly recordedAt: Date;
  readonly recordedBy: string;
  readonly action: string;
  readonly subjectKind: string;
  readonly subjectId: string;
  readonly contentHash: Buffer;
  readonly reason: string | null;
  readonly tokenId: string | null;
}

/** Columns of an {@link EntryRow}, of the ledger entry called `e`. */
export const ENTRY_COLUMNS = `e.id, e.recorded_at AS "recordedAt", e.recorded_by AS "recordedBy", e.action, e.subject_kind AS "subjectKind",
  e.subject_id AS "subjectId", e.content_hash AS "contentHash", e.reason, e.token_id AS "tokenId"`;

/** The entry whose canonical JSON is the leaf: see PACK.md, ledger/entries.jsonl. */
export function entryOf(labId: string, row: EntryRow): LedgerEntry {
  return {
    version: row.tokenId === null ? 1 : 2,
    labId,
    id: row.id,
    actorId: row.recordedBy,
    ...(row.tokenId !== null && { tokenId: row.tokenId }),
    action: row.action,
    subjectKind: row.subjectKind,
    subjectId: row.subjectId,
    contentHash: row.contentHash.toString('hex'),
    ...(row.reason !== null && { reason: row.reason }),
    recordedAt: row.recordedAt.toISOString(),
  };
}

/** Number of entries that have a place. */
export async function ledgerSize(tx: Tx): Promise<number> {
  const [row] = await tx.query<{ size: number }>('SELECT coalesce(max(place) + 1, 0)::float8 AS size FROM ledger_place WHERE lab_id = $1', [tx.labId]);
  return row!.size;
}

/** Reads stored nodes of the transaction's lab; one statement a call. A node that is missing is an empty hash. */
export function nodeReader(tx: Tx): ReadNodes {
  return async (places: readonly NodePlace[]) => {
    const rows = await tx.query<{ hash: Buffer | null }>(
      `SELECT node.hash FROM unnest($2::smallint[], $3::bigint[]) WITH ORDINALITY AS wanted(level, index, nth)
       LEFT JOIN ledger_node node ON node.lab_id = $1 AND node.level = wanted.level AND node.index = wanted.index ORDER BY wanted.nth`,
      [tx.labId, places.map(({ level }) => level), places.map(({ index }) => index)],
    );
    return rows.map(({ hash }) => hash ?? new Uint8Array(0));
  };
}

/** The same for many proofs at once: what is asked for in one turn of the event loop is one statement. */
export function batchingNodeReader(tx: Tx): ReadNodes {
  const read = nodeReader(tx);
  let asked: { places: readonly NodePlace[]; resolve: (hashes: readonly Uint8Array[]) => void; reject: (error: unknown) => void }[] = [];
  const answer = async (): Promise<void> => {
    const batch = asked;
    asked = [];
    try {
      const hashes = await read(batch.flatMap(({ places }) => places));
      let next = 0;
      for (const { places, resolve } of batch) {
        resolve(hashes.slice(next, next + places.length));
        next += places.length;
      }
    } catch (error) {
      for (const { reject } of batch) reject(error);
    }
  };
  return (places) => new Promise((resolve, reject) => {
    if (asked.length === 0) queueMicrotask(() => void answer());
    asked.push({ places, resolve, reject });
  });
}

export async function insertNodes(tx: Tx, nodes: readonly TreeNode[]): Promise<void> {
  await tx.query(
    `INSERT INTO ledger_node (lab_id, level, index, hash)
     SELECT $1, level, index, hash FROM unnest($2::smallint[], $3::bigint[], $4::bytea[]) AS node(level, index, hash)`,
    [tx.labId, nodes.map(({ level }) => level), nodes.map(({ index }) => index), nodes.map(({ hash }) => Buffer.from(hash))],
  );
}

export interface StoredCheckpoint {
  readonly size: number;
  readonly note: string;
}

/** The newest signed checkpoint, or null while none is signed. */
export async function newestCheckpoint(tx: Tx): Promise<StoredCheckpoint | null> {
  const [row] = await tx.query<StoredCheckpoint>(
    'SELECT size::float8 AS size, note FROM ledger_checkpoint WHERE lab_id = $1 ORDER BY ledger_checkpoint.size DESC LIMIT 1', [tx.labId],
  );
  return row ?? null;
}

/** Checkpoints over more than `since` entries, the smallest first. */
export const checkpointsSince = (tx: Tx, since: number, most: number): Promise<StoredCheckpoint[]> =>
  tx.query('SELECT size::float8 AS size, note FROM ledger_checkpoint WHERE lab_id = $1 AND size > $2 ORDER BY ledger_checkpoint.size LIMIT $3', [tx.labId, since, most]);

/** Sizes of the newest checkpoints, the largest first. */
export async function newestSizes(tx: Tx, most: number): Promise<number[]> {
  const rows = await tx.query<{ size: number }>(
    'SELECT size::float8 AS size FROM ledger_checkpoint WHERE lab_id = $1 ORDER BY ledger_checkpoint.size DESC LIMIT $2', [tx.labId, most],
  );
  return rows.map(({ size }) => size);
}

/** The lab's keys in the order of use, each valid until the next one begins. */
export async function ledgerKeys(tx: Tx): Promise<LedgerKey[]> {
  const rows = await tx.query<{ key: string; firstSize: number; change: string | null }>(
    'SELECT key, first_size::float8 AS "firstSize", change FROM ledger_key WHERE lab_id = $1 ORDER BY number', [tx.labId],
  );
  return rows.map(({ key, firstSize, change }, i) => ({
    key: parseVerifierKey(key),
    firstSize,
    lastSize: rows[i + 1]?.firstSize ?? null,
    ...(change !== null && { change }),
  }));
}
