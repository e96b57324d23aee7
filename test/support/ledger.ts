import type pg from 'pg';
import { checkLedger, parseVerifierKey, type LedgerCheck, type LedgerEntry, type LedgerKey } from '#libs/ledger';

/**
 * A lab's ledger as its tables hold it, read here with SQL of our own and checked by the pure library: nothing is shared
 * with the server that wrote it.
 */
export async function checkTree(owner: pg.Client, labId: string): Promise<LedgerCheck & { readonly checkpoints: number }> {
  const read = async (sql: string): Promise<any[]> => (await owner.query(sql, [labId])).rows;
  const rows = await read('SELECT p.place::int AS place, e.* FROM ledger_place p JOIN ledger_entry e ON e.lab_id = p.lab_id AND e.id = p.entry_id WHERE p.lab_id = $1 ORDER BY p.place');
  const entries = rows.map((row): LedgerEntry => ({
    version: 1, labId: row.lab_id, id: row.id, actorId: row.recorded_by, action: row.action, subjectKind: row.subject_kind, subjectId: row.subject_id,
    contentHash: row.content_hash.toString('hex'), recordedAt: row.recorded_at.toISOString(), ...(row.reason !== null && { reason: row.reason }),
  }));
  const kept = await read('SELECT key, first_size::int AS first_size, change FROM ledger_key WHERE lab_id = $1 ORDER BY number');
  const keys = kept.map((row, i): LedgerKey => ({
    key: parseVerifierKey(row.key), firstSize: row.first_size, lastSize: kept[i + 1]?.first_size ?? null, ...(row.change && { change: row.change }),
  }));
  const checkpoints: string[] = (await read('SELECT note FROM ledger_checkpoint WHERE lab_id = $1 ORDER BY size')).map(({ note }) => note);
  const nodes = new Map<string, Buffer>((await read('SELECT level, index, hash FROM ledger_node WHERE lab_id = $1')).map(({ level, index, hash }) => [`${level} ${index}`, hash]));
  const check = await checkLedger({
    labId, origin: `threadleaf/ledger/${labId}`, entries, checkpoints, keys,
    read: async (places) => places.map(({ level, index }) => nodes.get(`${level} ${index}`) as Uint8Array),
  });
  return { ...check, checkpoints: checkpoints.length };
}
