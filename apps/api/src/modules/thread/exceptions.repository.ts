import type { LedgerException } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { IN_CHECK } from '../instrument/instrument.repository.js';
import type { Describer } from './describer.js';
import { describers } from './describers.js';
import { EXCEPTIONS, exceptionsOf, usedThen } from './exceptions.js';
import type { RecordKey } from './thread.repository.js';

/** FROM of a kind, with its joins and how its instruments stood. */
const rowsOf = (kind: string, told: Describer): string =>
  `${kind} r ${told.joins ?? ''}${usedThen(told) ? ` LEFT JOIN in_check standing ON standing.instrument_id = (${told.instrumentId})` : ''}`;

/** By record: the exceptions that hold for it, in the order of the list. One statement whatever the number. */
export async function exceptionsAmong(tx: Tx, records: readonly RecordKey[], lateAfterMin: number): Promise<Map<string, LedgerException[]>> {
  const kinds = [...new Set(records.map(({ kind }) => kind))].filter((kind) => describers[kind]);
  if (kinds.length === 0) return new Map();
  const arms = kinds.map((kind) => {
    const told = describers[kind]!;
    const marks = [...exceptionsOf(kind, told)].map(([exception, condition]) => `CASE WHEN ${condition} THEN '${exception}' END`);
    return `SELECT r.id, array_remove(ARRAY[${marks.join(', ')}]::text[], NULL) AS found FROM ${rowsOf(kind, told)} WHERE r.lab_id = $1 AND r.id = ANY($3::uuid[])`;
  });
  const rows = await tx.query<{ id: string; found: LedgerException[] }>(
    `WITH in_check AS (${IN_CHECK}) SELECT id, found FROM (${arms.join('\nUNION ALL ')}) marked WHERE cardinality(found) > 0 AND $2::int >= 0`,
    [tx.labId, lateAfterMin, records.map(({ id }) => id)],
  );
  return new Map(rows.map(({ id, found }) => [id, EXCEPTIONS.filter((exception) => found.includes(exception))]));
}

export interface LedgerFilter {
  readonly subjectKind?: string | null;
  /** Of an entry or of a record. */
  readonly id?: string | null;
  readonly subjectId?: string | null;
  readonly personId?: string | null;
  readonly action?: string | null;
  readonly from?: Date | null;
  readonly until?: Date | null;
  readonly exception?: LedgerException | null;
  readonly lateAfterMin: number;
}

export interface LedgerRow {
  readonly id: string;
  readonly recordedAt: Date;
  readonly recordedBy: string;
  readonly action: string;
  readonly subjectKind: string;
  readonly subjectId: string;
  readonly contentHash: Buffer;
  readonly reason: string | null;
}

/** Numbers the parameters of a statement as they are put in. */
class Parameters {
  readonly values: unknown[];

  constructor(...first: unknown[]) {
    this.values = first;
  }

  put(value: unknown): string {
    this.values.push(value);
    return `$${this.values.length}`;
  }
}

const entryColumns = `e.id, e.recorded_at AS "recordedAt", e.recorded_by AS "recordedBy", e.action, e.subject_kind AS "subjectKind",
  e.subject_id AS "subjectId", e.content_hash AS "contentHash", e.reason`;

/** Conditions on entries e. */
function narrowing(filter: LedgerFilter, parameters: Parameters): string {
  const { subjectKind, id, subjectId, personId, action, from, until } = filter;
  return [
    'e.lab_id = $1',
    ...(subjectKind ? [`e.subject_kind = ${parameters.put(subjectKind)}`] : []),
    ...(subjectId ? [`e.subject_id = ${parameters.put(subjectId)}::uuid`] : []),
    ...(id ? [((at) => `(e.id = ${at}::uuid OR e.subject_id = ${at}::uuid)`)(parameters.put(id))] : []),
    ...(personId ? [`e.recorded_by = ${parameters.put(personId)}::uuid`] : []),
    ...(action ? [`e.action = ${parameters.put(action)}`] : []),
    ...(from ? [`e.recorded_at >= ${parameters.put(from)}`] : []),
    ...(until ? [`e.recorded_at < ${parameters.put(until)}`] : []),
  ].join(' AND ');
}

/** The same on rows r of a kind, as far as a row knows it: what it was called stands in the entry alone. */
function narrowingRows({ personId, from, until }: LedgerFilter, parameters: Parameters): string {
  return [
    'r.lab_id = $1',
    ...(personId ? [`r.recorded_by = ${parameters.put(personId)}::uuid`] : []),
    ...(from ? [`r.recorded_at >= ${parameters.put(from)}`] : []),
    ...(until ? [`r.recorded_at < ${parameters.put(until)}`] : []),
  ].join(' AND ');
}

export interface LedgerPage {
  readonly nodes: LedgerRow[];
  readonly pageInfo: { hasNextPage: boolean; endCursor: string | null };
}

/** Entries, newest first. `after` is the id of the last entry of the page before. */
export async function ledgerPage(tx: Tx, filter: LedgerFilter, first: number, after: string | null): Promise<LedgerPage> {
  const size = Math.min(Math.max(first, 1), 200);
  const parameters = new Parameters(tx.labId, filter.lateAfterMin);
  const cursor = after ? parameters.put(after) : null;
  const sql = filter.exception ? exceptionalPage(filter, parameters, cursor, size) : plainPage(filter, parameters, cursor, size);
  const rows = sql ? await tx.query<LedgerRow>(sql, parameters.values) : [];
  const nodes = rows.slice(0, size);
  return { nodes, pageInfo: { hasNextPage: rows.length > size, endCursor: nodes.at(-1)?.id ?? null } };
}

const plainPage = (filter: LedgerFilter, parameters: Parameters, cursor: string | null, size: number): string => `
  SELECT ${entryColumns} FROM ledger_entry e
  WHERE ${narrowing(filter, parameters)} AND $2::int >= 0
    ${cursor ? `AND (e.recorded_at, e.id) < (SELECT recorded_at, id FROM ledger_entry WHERE lab_id = $1 AND id = ${cursor}::uuid)` : ''}
  ORDER BY e.recorded_at DESC, e.id DESC LIMIT ${size + 1}`;

/**
 * Each kind is asked for its own newest, so that no kind is read to its end; an action or an id, which rows do not know,
 * narrows afterwards and therefore keeps the arms from being cut.
 */
function exceptionalPage(filter: LedgerFilter, parameters: Parameters, cursor: string | null, size: number): string | null {
  const cut = filter.action || filter.id || filter.subjectId ? '' : `ORDER BY r.recorded_at DESC, r.id DESC LIMIT ${size + 1}`;
  const before = cursor ? `AND (r.recorded_at, r.id) < (SELECT recorded_at, subject_id FROM ledger_entry WHERE lab_id = $1 AND id = ${cursor}::uuid)` : '';
  const rows = narrowingRows(filter, parameters);
  const arms = armsOf(filter, (kind, told, condition) => `(SELECT r.id FROM ${rowsOf(kind, told)} WHERE ${rows} AND (${condition}) ${before} ${cut})`);
  if (arms.length === 0) return null;
  return `WITH in_check AS (${IN_CHECK}), found AS (${arms.join('\nUNION ALL ')})
    SELECT ${entryColumns} FROM found JOIN ledger_entry e ON e.lab_id = $1 AND e.subject_id = found.id
    WHERE ${narrowing(filter, parameters)} AND $2::int >= 0 ORDER BY e.recorded_at DESC, e.subject_id DESC LIMIT ${size + 1}`;
}

function armsOf(filter: LedgerFilter, arm: (kind: string, told: Describer, condition: string) => string): string[] {
  return Object.entries(describers).flatMap(([kind, told]) => {
    const condition = filter.exception && (!filter.subjectKind || filter.subjectKind === kind) ? exceptionsOf(kind, told).get(filter.exception) : undefined;
    return condition ? [arm(kind, told, condition)] : [];
  });
}

/** How many entries each exception has under the filter, in one reading of each kind. */
export async function countExceptions(tx: Tx, filter: LedgerFilter): Promise<Map<LedgerException, number>> {
  const parameters = new Parameters(tx.labId, filter.lateAfterMin);
  const rows = narrowingRows(filter, parameters);
  const byEntry = filter.action || filter.id || filter.subjectId
    ? `AND EXISTS (SELECT FROM ledger_entry e WHERE e.subject_id = r.id AND ${narrowing({ ...filter, subjectKind: null }, parameters)})` : '';
  const arms = Object.entries(describers).filter(([kind]) => !filter.subjectKind || filter.subjectKind === kind).map(([kind, told]) => {
    const conditions = exceptionsOf(kind, told);
    const counts = EXCEPTIONS.map((exception) => (conditions.has(exception) ? `count(*) FILTER (WHERE ${conditions.get(exception)!})` : '0'));
    return `SELECT ARRAY[${counts.join(', ')}]::bigint[] AS counts FROM ${rowsOf(kind, told)} WHERE ${rows} ${byEntry}`;
  });
  if (arms.length === 0) return new Map();
  const summed = EXCEPTIONS.map((exception, index) => `sum(counts[${index + 1}])::float8 AS "${exception}"`);
  const [counted] = await tx.query<Record<LedgerException, number>>(
    `WITH in_check AS (${IN_CHECK}) SELECT ${summed.join(', ')} FROM (${arms.join('\nUNION ALL ')}) of_kinds WHERE $2::int >= 0`, parameters.values,
  );
  return new Map(EXCEPTIONS.map((exception) => [exception, counted![exception]]));
}

/** Verbs that the lab's entries have. */
export async function ledgerActions(tx: Tx): Promise<string[]> {
  const rows = await tx.query<{ action: string }>('SELECT DISTINCT action FROM ledger_entry WHERE lab_id = $1 ORDER BY action', [tx.labId]);
  return rows.map(({ action }) => action);
}
