import type { Flag } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { remarksOf, summaryOf } from './describer.js';
import { describers } from './describers.js';

export interface RecordKey {
  readonly kind: string;
  readonly id: string;
}

/** Most records one thread hands out. */
export const THREAD_CAP = 20_000;
/** Longer chains than the domain has; stops a malformed record from running on. */
const DEEPEST = 32;

/**
 * The walk in either direction. Each row carries its depth; UNION keeps a record once a depth, the outer query once.
 * Exported so that the benchmark runs the very same text.
 */
export const WALK = {
  DOWN: walk('edge.from_id', 'edge.to_kind', 'edge.to_id'),
  UP: walk('edge.to_id', 'edge.from_kind', 'edge.from_id'),
} as const;

function walk(near: string, kind: string, id: string): string {
  return `
    WITH RECURSIVE reached(kind, id, depth) AS (
      SELECT $2::text, $3::uuid, 0
      UNION
      SELECT ${kind}, ${id}, reached.depth + 1
      FROM reached JOIN lineage_edge edge ON edge.lab_id = $1 AND ${near} = reached.id
      WHERE reached.depth < ${DEEPEST}
    )
    SELECT kind, id, min(depth)::int AS depth FROM reached GROUP BY kind, id ORDER BY min(depth), kind, id LIMIT ${THREAD_CAP + 1}`;
}

export const recordsReached = (tx: Tx, root: RecordKey, direction: keyof typeof WALK): Promise<(RecordKey & { depth: number })[]> =>
  tx.query(WALK[direction], [tx.labId, root.kind, root.id]);

export interface Edge {
  readonly fromId: string;
  readonly toId: string;
  readonly role: string;
}

/**
 * Edges between the records given. OFFSET 0 makes PostgreSQL follow them from above: a record rests on few others, but a
 * balance carries every mass of the lab.
 */
export const EDGES = `SELECT from_id AS "fromId", to_id AS "toId", role
  FROM (SELECT from_id, to_id, role FROM lineage_edge WHERE lab_id = $1 AND from_id = ANY($2::uuid[]) OFFSET 0) AS from_them
  WHERE to_id = ANY($2::uuid[])`;

export const edgesAmong = (tx: Tx, ids: readonly string[]): Promise<Edge[]> => tx.query(EDGES, [tx.labId, ids]);

export interface Description {
  readonly id: string;
  readonly label: string;
  readonly summary: string;
  readonly rawLine: string | null;
  readonly observedAt: Date | null;
  readonly offsetMin: number | null;
  readonly instrumentId: string | null;
  readonly remarks: Flag[];
  readonly recordedAt: Date;
  readonly recordedBy: string;
  readonly contentHash: Buffer;
}

/** The statement that tells records of one kind. */
export function describing(kind: string): string {
  const told = describers[kind];
  if (!told) throw new Error(`The Thread cannot tell a ${kind}: add it to the describers of its module.`);
  return `SELECT r.id, ${told.label} AS label, ${summaryOf(told)} AS summary, ${told.rawLine ?? 'NULL'} AS "rawLine",
      ${told.observedAt ?? 'NULL::timestamptz'} AS "observedAt", ${told.offsetMin ?? 'NULL::smallint'} AS "offsetMin",
      ${told.instrumentId ?? 'NULL::uuid'} AS "instrumentId", ${remarksOf(told)} AS remarks,
      r.recorded_at AS "recordedAt", r.recorded_by AS "recordedBy", r.content_hash AS "contentHash"
    FROM ${kind} r ${told.joins ?? ''} WHERE r.lab_id = $1 AND r.id = ANY($2::uuid[])`;
}

/** One statement a kind, however many records. */
export async function describe(tx: Tx, records: readonly RecordKey[]): Promise<Map<string, Description>> {
  const byKind = new Map<string, string[]>();
  for (const { kind, id } of records) {
    if (!describers[kind]) continue;
    const ids = byKind.get(kind);
    if (ids) ids.push(id);
    else byKind.set(kind, [id]);
  }
  const told = new Map<string, Description>();
  for (const [kind, ids] of byKind) {
    for (const row of await tx.query<Description>(describing(kind), [tx.labId, ids])) told.set(row.id, row);
  }
  return told;
}

export async function labelsOf(tx: Tx, records: readonly RecordKey[]): Promise<Map<string, string>> {
  return new Map([...(await describe(tx, records))].map(([id, { label }]) => [id, label]));
}

/** Every write has its ledger entry: the ledger knows the kind of any id. */
export async function kindOfRecord(tx: Tx, id: string): Promise<string | null> {
  const rows = await tx.query<{ kind: string }>('SELECT subject_kind AS kind FROM ledger_entry WHERE lab_id = $1 AND subject_id = $2 LIMIT 1', [tx.labId, id]);
  return rows[0]?.kind ?? null;
}

/** Names of the access tokens that records came through, by record; those from a signed-in hand are not among them. */
export async function tokensOf(tx: Tx, recordIds: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.query<{ id: string; label: string }>(
    `SELECT e.subject_id AS id, token.label FROM ledger_entry e JOIN access_token token ON token.lab_id = $1 AND token.id = e.token_id
     WHERE e.lab_id = $1 AND e.subject_id = ANY($2::uuid[]) AND e.token_id IS NOT NULL`, [tx.labId, recordIds],
  );
  return new Map(rows.map(({ id, label }) => [id, label]));
}
