import { InputError } from '#libs/quantity';
import { checkLedger, keysThatFollow, parseCheckpoint, toHex, type LedgerEntry, type LedgerFlaw, type LedgerKey } from '#libs/ledger';
import type { KeptRow } from '../database/kept-row.js';
import { metadataOf, rowsWhere, type KeptEntity } from '../database/rows.js';
import type { Tx } from '../database/database.js';
import { ENTRY_COLUMNS, checkpointsSince, entryOf, ledgerKeys, nodeReader, sha256, type EntryRow } from './ledger-store.js';
import { checkStoredBytes } from './check-stored-bytes.js';
import { BOOKKEEPING, contentDocument, hashOf, type Use } from './recorder.js';
import { originOf } from './signer.js';

/** What the check of one lab's whole record found: nothing wrong, when `flaws` is empty. */
export interface RecordCheck {
  /** Entries with a place. */
  readonly size: number;
  /** Root of the tree over them, hex, from the entries alone. */
  readonly root: string;
  /** Entries covered by the newest signed checkpoint. */
  readonly signed: number;
  /** Committed entries that wait for a place. */
  readonly waiting: number;
  readonly records: number;
  readonly checkpoints: number;
  readonly flaws: readonly LedgerFlaw[];
}

const PAGE = 2_000;
const EVERY_CHECKPOINT = 1_000_000_000;
/** Kinds that an amendment marks stale. */
type ResultKinds = readonly string[];

/**
 * Recomputes everything that proves a lab's record from the rows themselves, in the transaction's snapshot: the content
 * hash of each fact and result with its lineage, its entry, the entry's place, the tree, its nodes, keys, checkpoints,
 * the stale marks that the amendments must have left, and the bytes of every stored file.
 *
 * It does not trust a stored hash: each is compared with the one that follows from what it hashes.
 *
 * @param kept texts of checkpoints kept outside of the database, which must agree too
 */
export async function checkRecord(
  tx: Tx, entities: readonly KeptEntity[], resultKinds: ResultKinds, kept: readonly string[] = [],
): Promise<RecordCheck> {
  const flaws: LedgerFlaw[] = [];
  const { keys, flaws: keyFlaws } = await checkKeys(tx);
  const checkpoints = await checkpointsSince(tx, -1, EVERY_CHECKPOINT);
  const tree = await checkLedger({
    labId: tx.labId,
    origin: originOf(tx.labId),
    entries: placedEntries(tx, flaws),
    checkpoints: [...checkpoints.map(({ note }) => note), ...kept],
    keys,
    read: nodeReader(tx),
  }, sha256);
  flaws.push(...keyFlaws, ...tree.flaws, ...checkpoints.flatMap(checkSize), ...(await checkNodeCount(tx, tree.size)));
  const waiting = await checkWaiting(tx, flaws);
  let records = 0;
  for (const entity of entities) records += await checkKind(tx, entity, flaws);
  await checkOrphans(tx, entities.map((entity) => metadataOf(tx, entity).tableName), flaws);
  await checkStaleMarks(tx, resultKinds, flaws);
  flaws.push(...(await checkStoredBytes(tx)));
  return {
    size: tree.size, root: toHex(tree.root), signed: checkpoints.at(-1)?.size ?? 0, waiting, records, checkpoints: checkpoints.length, flaws,
  };
}

async function checkKeys(tx: Tx): Promise<{ keys: LedgerKey[]; flaws: LedgerFlaw[] }> {
  const flaw = (says: string) => ({ about: 'keys of the ledger', says });
  try {
    const keys = await ledgerKeys(tx);
    const [first] = keys;
    const numbers = await tx.query<{ number: number }>('SELECT number FROM ledger_key WHERE lab_id = $1 ORDER BY number', [tx.labId]);
    const flaws = [
      ...(first && first.firstSize !== 0 ? [flaw('The first key does not sign from the first entry on.')] : []),
      ...(first?.change !== undefined ? [flaw('The first key has a key before it that is not there.')] : []),
      ...(numbers.some(({ number }, i) => number !== i + 1) ? [flaw('The keys are not numbered from 1 on.')] : []),
      ...(first && keysThatFollow(originOf(tx.labId), [first], keys).length < keys.length ? [flaw('A key was not named by the key before it.')] : []),
    ];
    return { keys, flaws };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { keys: [], flaws: [flaw(`A key cannot be read. ${error.message}`)] };
  }
}

/** Entries by place; a place without an entry, or one left out, ends the walk with a flaw. */
async function* placedEntries(tx: Tx, flaws: LedgerFlaw[]): AsyncIterable<LedgerEntry> {
  for (let next = 0; ;) {
    const rows = await tx.query<EntryRow & { place: number; found: boolean }>(
      `SELECT place.place::float8 AS place, e.id IS NOT NULL AS found, ${ENTRY_COLUMNS} FROM ledger_place place
       LEFT JOIN ledger_entry e ON e.lab_id = place.lab_id AND e.id = place.entry_id
       WHERE place.lab_id = $1 AND place.place >= $2 ORDER BY place.place LIMIT ${PAGE}`, [tx.labId, next],
    );
    for (const row of rows) {
      if (row.place !== next || !row.found) {
        flaws.push({ about: `place ${next}`, says: row.place === next ? 'Its entry is missing.' : 'Nothing stands there, though later places are taken.' });
        return;
      }
      yield entryOf(tx.labId, row);
      next += 1;
    }
    if (rows.length < PAGE) return;
  }
}

function checkSize({ size, note }: { size: number; note: string }): LedgerFlaw[] {
  const about = `checkpoint over ${size} entries`;
  try {
    return parseCheckpoint(note).size === size ? [] : [{ about, says: 'Its note is over another number of entries.' }];
  } catch {
    return []; // The tree's check has told that it cannot be read.
  }
}

/** A tree of n leaves has 2n nodes less the number of 1 bits of n; more would be somebody's addition. */
async function checkNodeCount(tx: Tx, size: number): Promise<LedgerFlaw[]> {
  const [row] = await tx.query<{ stored: number }>('SELECT count(*)::float8 AS stored FROM ledger_node WHERE lab_id = $1', [tx.labId]);
  const ones = [...size.toString(2)].filter((bit) => bit === '1').length;
  const expected = 2 * size - ones;
  return row!.stored === expected ? [] : [{ about: 'nodes of the tree', says: `${row!.stored} are stored where ${size} entries make ${expected}.` }];
}

async function checkWaiting(tx: Tx, flaws: LedgerFlaw[]): Promise<number> {
  const rows = await tx.query<{ id: string; queued: boolean }>(
    `SELECT e.id, EXISTS (SELECT FROM ledger_pending pending WHERE pending.lab_id = e.lab_id AND pending.entry_id = e.id) AS queued
     FROM ledger_entry e WHERE e.lab_id = $1
       AND NOT EXISTS (SELECT FROM ledger_place place WHERE place.lab_id = e.lab_id AND place.entry_id = e.id)`, [tx.labId],
  );
  flaws.push(...rows.filter(({ queued }) => !queued).map(({ id }) => ({ about: `entry ${id}`, says: 'It has no place and does not wait for one.' })));
  return rows.length;
}

/** Compares every row of one kind with its hash, its lineage and its entry. */
async function checkKind(tx: Tx, entity: KeptEntity, flaws: LedgerFlaw[]): Promise<number> {
  const metadata = metadataOf(tx, entity);
  const kind = metadata.tableName;
  const members = metadata.columns.map(({ propertyName }) => propertyName).filter((name) => name === 'id' || !BOOKKEEPING.includes(name));
  let checked = 0;
  for (let after = '00000000-0000-0000-0000-000000000000'; ;) {
    const rows = await rowsWhere<KeptRow>(tx, entity, 'id > $2', [after], `ORDER BY id LIMIT ${PAGE}`);
    if (rows.length === 0) return checked;
    const ids = rows.map(({ id }) => id);
    const uses = await usesOf(tx, ids);
    const entries = await entriesOf(tx, ids);
    for (const row of rows) {
      const about = `${kind} ${row.id}`;
      const tell = (says: string): void => { flaws.push({ about, says }); };
      const content = Object.fromEntries(members.map((name) => [name, (row as unknown as Record<string, unknown>)[name]]));
      const own = uses.get(row.id) ?? [];
      if (own.some(({ fromKind }) => fromKind !== kind)) tell('Its lineage stands under another kind of record.');
      const hash = hashOf(contentDocument(metadata, tx.labId, row.recordedBy, content, own.map(({ kind: used, id, role }) => ({ kind: used, id, role }))));
      if (!hash.equals(row.contentHash)) tell('Its content or lineage is not what was hashed when it was recorded.');
      const [entry, ...more] = entries.get(row.id) ?? [];
      if (!entry) tell('The ledger has no entry for it.');
      else if (more.length > 0) tell('The ledger has more than one entry for it.');
      else tellDifferences(kind, row, entry, hash, tell);
    }
    checked += rows.length;
    after = ids.at(-1)!;
  }
}

function tellDifferences(kind: string, row: KeptRow, entry: EntryRow, hash: Buffer, tell: (says: string) => void): void {
  if (entry.subjectKind !== kind) tell('The ledger entered it as another kind of record.');
  if (!entry.contentHash.equals(hash)) tell('Its content is not what the ledger entered.');
  if (entry.recordedBy !== row.recordedBy) tell('The ledger names somebody else as its author.');
  if (entry.recordedAt.getTime() !== row.recordedAt.getTime()) tell('The ledger entered it at another moment.');
}

async function usesOf(tx: Tx, ids: readonly string[]): Promise<Map<string, (Use & { fromKind: string })[]>> {
  const rows = await tx.query<Use & { fromId: string; fromKind: string }>(
    `SELECT from_id AS "fromId", from_kind AS "fromKind", to_kind AS kind, to_id AS id, role FROM lineage_edge
     WHERE lab_id = $1 AND from_id = ANY($2::uuid[])`, [tx.labId, ids],
  );
  return grouped(rows, ({ fromId }) => fromId);
}

async function entriesOf(tx: Tx, subjectIds: readonly string[]): Promise<Map<string, EntryRow[]>> {
  const rows = await tx.query<EntryRow>(`SELECT ${ENTRY_COLUMNS} FROM ledger_entry e WHERE e.lab_id = $1 AND e.subject_id = ANY($2::uuid[])`, [tx.labId, subjectIds]);
  return grouped(rows, ({ subjectId }) => subjectId);
}

/** Entries whose record is gone, and lineage that starts from nothing. */
async function checkOrphans(tx: Tx, kinds: readonly string[], flaws: LedgerFlaw[]): Promise<void> {
  const strange = await tx.query<{ kind: string }>('SELECT DISTINCT subject_kind AS kind FROM ledger_entry WHERE lab_id = $1 AND subject_kind <> ALL($2::text[])', [tx.labId, kinds]);
  flaws.push(...strange.map(({ kind }) => ({ about: kind, says: 'The ledger names this kind of record, which does not exist.' })));
  const standing = kinds.map((kind) => `SELECT '${kind}' AS kind, id FROM "${kind}" WHERE lab_id = $1`).join(' UNION ALL ');
  const gone = await tx.query<{ kind: string; id: string }>(
    `SELECT e.subject_kind AS kind, e.subject_id AS id FROM ledger_entry e WHERE e.lab_id = $1 AND e.subject_kind = ANY($2::text[])
     EXCEPT (${standing})`, [tx.labId, kinds],
  );
  flaws.push(...gone.map(({ kind, id }) => ({ about: `${kind} ${id}`, says: 'The ledger entered it, but it is gone.' })));
  const loose = await tx.query<{ kind: string; id: string }>(
    `SELECT DISTINCT from_kind AS kind, from_id AS id FROM lineage_edge edge WHERE lab_id = $1
       AND NOT EXISTS (SELECT FROM ledger_entry e WHERE e.lab_id = $1 AND e.subject_id = edge.from_id)`, [tx.labId],
  );
  flaws.push(...loose.map(({ kind, id }) => ({ about: `${kind} ${id}`, says: 'There is lineage from it, but the ledger does not know it.' })));
}

/**
 * A stale mark follows from an amendment and the lineage: the results that rested on the amended fact when the amendment
 * was entered. They are not hashed, so they are derived again and compared.
 */
async function checkStaleMarks(tx: Tx, resultKinds: ResultKinds, flaws: LedgerFlaw[]): Promise<void> {
  const differing = await tx.query<{ kind: string; id: string; marked: boolean }>(
    `WITH RECURSIVE entered AS (
       SELECT e.subject_id AS id, coalesce(place.place, 1::bigint << 60) AS place, pending.turn
       FROM ledger_entry e
       LEFT JOIN ledger_place place ON place.lab_id = e.lab_id AND place.entry_id = e.id
       LEFT JOIN ledger_pending pending ON pending.lab_id = e.lab_id AND pending.entry_id = e.id
       WHERE e.lab_id = $1
     ), up(amendment_id, kind, id) AS (
       SELECT a.id, edge.from_kind, edge.from_id FROM amendment a JOIN lineage_edge edge ON edge.lab_id = $1 AND edge.to_id = a.target_id WHERE a.lab_id = $1
       UNION
       SELECT up.amendment_id, edge.from_kind, edge.from_id FROM up JOIN lineage_edge edge ON edge.lab_id = $1 AND edge.to_id = up.id
     ), expected AS (
       SELECT up.kind, up.id, up.amendment_id FROM up
       JOIN entered result ON result.id = up.id JOIN entered amended ON amended.id = up.amendment_id
       WHERE up.kind = ANY($2::text[]) AND (result.place, coalesce(result.turn, 0)) < (amended.place, coalesce(amended.turn, 0))
     ), marked AS (
       SELECT result_kind AS kind, result_id AS id, amendment_id FROM stale_mark WHERE lab_id = $1
     )
     SELECT kind, id, true AS marked FROM (SELECT * FROM marked EXCEPT SELECT * FROM expected) surplus
     UNION ALL
     SELECT kind, id, false FROM (SELECT * FROM expected EXCEPT SELECT * FROM marked) missing`, [tx.labId, resultKinds],
  );
  flaws.push(...differing.map(({ kind, id, marked }) => ({
    about: `${kind} ${id}`,
    says: marked ? 'It is marked stale by an amendment that it does not rest on.' : 'It rests on an amended fact, but its stale mark is missing.',
  })));
}

function grouped<Row>(rows: readonly Row[], keyOf: (row: Row) => string): Map<string, Row[]> {
  const groups = new Map<string, Row[]>();
  for (const row of rows) {
    const group = groups.get(keyOf(row));
    if (group) group.push(row);
    else groups.set(keyOf(row), [row]);
  }
  return groups;
}
