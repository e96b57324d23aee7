import {
  appendLeaf, entryLeaf, formatVerifierKey, frontierRoot, leafHash, parseCheckpoint, readFrontier, rootAt, sameHash, signCheckpoint, signKeyChange,
  type Frontier, type SigningKey, type TreeNode,
} from '#libs/ledger';
import type { Tx } from '../database/database.js';
import { ENTRY_COLUMNS, entryOf, insertNodes, ledgerKeys, ledgerSize, newestCheckpoint, nodeReader, sha256, type EntryRow } from './ledger-store.js';
import { originOf, type Signer } from './signer.js';

/** Two keys of one advisory lock space: this one, and the lab. */
const SEQUENCE_LOCK = 4_180_003;
/** Entries placed in one transaction: enough to keep up, few enough that a crash repeats little. */
export const BATCH_MOST = 2_000;

/** Takes the lab's ledger for this transaction; false when another sequencer holds it. */
export async function holdLedger(tx: Tx): Promise<boolean> {
  const [row] = await tx.query<{ held: boolean }>('SELECT pg_try_advisory_xact_lock($1, hashtext($2)) AS held', [SEQUENCE_LOCK, tx.labId]);
  return row!.held;
}

/**
 * Gives the lab's waiting entries their places, after all that have one. The caller holds the ledger.
 *
 * What waits is what was committed when this statement looks, so that an entry never stands before one whose commit it
 * could have seen: commits later than the look come in a later batch, and within a batch the entries stand in the order
 * in which they were written. Places, nodes and the emptied queue are one transaction: a crash leaves either placed
 * entries or waiting ones.
 *
 * @returns number of entries placed now
 */
export async function placeWaiting(tx: Tx): Promise<number> {
  const waiting = await tx.query<EntryRow & { turn: string }>(
    `SELECT pending.turn, ${ENTRY_COLUMNS} FROM ledger_pending pending
     JOIN ledger_entry e ON e.lab_id = pending.lab_id AND e.id = pending.entry_id
     WHERE pending.lab_id = $1 ORDER BY pending.turn LIMIT ${BATCH_MOST}`, [tx.labId],
  );
  if (waiting.length === 0) return 0;
  const size = await ledgerSize(tx);
  let frontier: Frontier = await readFrontier(nodeReader(tx), size);
  const nodes: TreeNode[] = [];
  for (const row of waiting) {
    const step = appendLeaf(frontier, leafHash(entryLeaf(entryOf(tx.labId, row)), sha256), sha256);
    nodes.push(...step.nodes);
    frontier = step.frontier;
  }
  await tx.query(
    `INSERT INTO ledger_place (lab_id, place, entry_id)
     SELECT $1, $2::bigint + nth - 1, entry_id FROM unnest($3::uuid[]) WITH ORDINALITY AS placed(entry_id, nth)`,
    [tx.labId, size, waiting.map(({ id }) => id)],
  );
  await insertNodes(tx, nodes);
  await tx.query('DELETE FROM ledger_pending WHERE lab_id = $1 AND turn = ANY($2::bigint[])', [tx.labId, waiting.map(({ turn }) => turn)]);
  return waiting.length;
}

/** Puts into the queue what was committed without being there: entries older than the ledger's tables, or a lost queue. */
export async function queueForgotten(tx: Tx): Promise<void> {
  await tx.query(
    `INSERT INTO ledger_pending (lab_id, entry_id)
     SELECT e.lab_id, e.id FROM ledger_entry e
     WHERE e.lab_id = $1
       AND NOT EXISTS (SELECT FROM ledger_place place WHERE place.lab_id = e.lab_id AND place.entry_id = e.id)
       AND NOT EXISTS (SELECT FROM ledger_pending pending WHERE pending.lab_id = e.lab_id AND pending.entry_id = e.id)
     ORDER BY e.recorded_at, e.id`, [tx.labId],
  );
}

export type Signing = 'signed' | 'nothing new' | 'foreign key' | 'history differs';

/**
 * Signs a checkpoint over all placed entries, unless the newest one covers them already. The caller holds the ledger.
 *
 * Never signs a tree that does not begin with what was signed before: `history differs` then, and nothing is written.
 * `foreign key`: the lab's ledger is signed with another key than this server has.
 */
export async function signNewest(tx: Tx, signer: Signer): Promise<Signing> {
  const size = await ledgerSize(tx);
  const last = await newestCheckpoint(tx);
  if (size === 0 || last?.size === size) return 'nothing new';
  const read = nodeReader(tx);
  if (last) {
    const signedBefore = parseCheckpoint(last.note).root;
    if (last.size > size || !sameHash(signedBefore, await rootAt(read, last.size, sha256))) return 'history differs';
  }
  const key = signer.keyOf(tx.labId);
  if (!(await takesOver(tx, signer, key, size))) return 'foreign key';
  const root = frontierRoot(await readFrontier(read, size), sha256);
  const note = signCheckpoint({ origin: originOf(tx.labId), size, root }, key);
  await tx.query('INSERT INTO ledger_checkpoint (lab_id, size, note) VALUES ($1, $2, $3)', [tx.labId, size, note]);
  return 'signed';
}

/** True when the lab's ledger is signed with this key from now on, be it as before, as its first, or handed over. */
async function takesOver(tx: Tx, signer: Signer, key: SigningKey, size: number): Promise<boolean> {
  const keys = await ledgerKeys(tx);
  const own = formatVerifierKey(key);
  const inUse = keys.at(-1);
  if (inUse && formatVerifierKey(inUse.key) === own) return true;
  let change: string | null = null;
  if (inUse) {
    const earlier = signer.earlierKeyOf(tx.labId);
    if (!earlier || formatVerifierKey(earlier) !== formatVerifierKey(inUse.key)) return false;
    change = signKeyChange({ origin: originOf(tx.labId), next: key, firstSize: size }, earlier);
  }
  await tx.query('INSERT INTO ledger_key (lab_id, number, key, first_size, change) VALUES ($1, $2, $3, $4, $5)',
    [tx.labId, keys.length + 1, own, inUse ? size : 0, change]);
  return true;
}
