import { createHash } from 'node:crypto';
import type { EntityMetadata } from 'typeorm';
import { canonicalize } from '#libs/ledger';
import { InputError } from '#libs/quantity';
import { v7 as uuidv7 } from 'uuid';
import { isLater, type KeptRow } from '../database/kept-row.js';
import { kindOf, metadataOf, rowById, type KeptEntity } from '../database/rows.js';
import type { Tx } from '../database/database.js';
import { ProblemError } from '../errors/problem.js';
import type { Actor } from '../identity/actor.js';

/** What a record rests on, and how. */
export interface Use {
  readonly kind: string;
  readonly id: string;
  readonly role: string;
}

/** The columns of a record beside its bookkeeping. */
export type Content<E extends KeptRow> = Omit<E, 'labId' | 'recordedAt' | 'recordedBy' | 'contentHash'>;

/** What the server adds to what was given, once the use case has checked it. */
export interface Completion<E extends KeptRow> {
  /** Columns the server derives. */
  readonly derived?: Partial<Content<E>>;
  readonly uses: readonly Use[];
  /** Verb of the ledger entry. */
  readonly action?: string;
  readonly reason?: string | null;
}

export interface Written<E> {
  readonly row: E;
  /** True when the same record had been written before: nothing was written now. */
  readonly replayed: boolean;
}

/**
 * The document that a record's content hash is taken of: kind, lab, person, every column the use case filled in, and what
 * it rests on, as canonical JSON (RFC 8785). Moments are UTC with milliseconds, exact decimals their text, absent values
 * null, uses in order of id and role. recordedAt is the server's own and stands in the ledger entry instead. A column
 * called like a member that every document has carries its record's name before it: an instrument's kind is instrumentKind.
 * A later column is absent while it is null.
 */
export function contentDocument(
  { tableName: kind, target }: Pick<EntityMetadata, 'tableName' | 'target'>, labId: string, recordedBy: string, content: object, uses: readonly Use[],
): Record<string, unknown> {
  const document: Record<string, unknown> = { kind, labId, recordedBy, uses: inOrder(uses) };
  for (const [name, value] of Object.entries(content)) {
    if (isLater(target, name) && (value ?? null) === null) continue;
    document[memberOf(kind, name)] = value instanceof Date ? value.toISOString() : (value ?? null);
  }
  return document;
}

/** Name of a column in the documents of a kind. */
export const memberOf = (kind: string, column: string): string =>
  EVERY_DOCUMENT.includes(column)
    ? `${kind.replace(/_(.)/g, (_, letter: string) => letter.toUpperCase())}${column[0]!.toUpperCase()}${column.slice(1)}`
    : column;

const EVERY_DOCUMENT: readonly string[] = ['kind', 'labId', 'recordedBy', 'uses'];

export const hashOf = (document: Record<string, unknown>): Buffer =>
  createHash('sha256').update(canonicalize(document)).digest();

export interface InsertPlan {
  readonly sql: string;
  readonly columns: readonly { readonly property: string; readonly json: boolean }[];
}

const plans = new WeakMap<object, InsertPlan>();

/** Columns of every kept row that are no content of its own. */
export const BOOKKEEPING: readonly string[] = ['labId', 'id', 'recordedAt', 'recordedBy', 'contentHash'];

/**
 * One statement writes fact, ledger entry and lineage edges: they stand or fall together, in one round trip.
 * Exported so that the benchmark runs the very same text.
 */
export function insertPlan(metadata: EntityMetadata): InsertPlan {
  const known = plans.get(metadata);
  if (known) return known;
  const own = metadata.columns.filter((column) => !BOOKKEEPING.includes(column.propertyName));
  const columns = own.map((column) => ({ property: column.propertyName, json: column.type === 'jsonb' }));
  const values = columns.map(({ json }, index) => `$${index + 12}${json ? '::jsonb' : ''}`);
  const sql = `
    WITH kept AS (
      INSERT INTO "${metadata.tableName}" (lab_id, id, recorded_at, recorded_by, content_hash${own.map((column) => `, "${column.databaseName}"`).join('')})
      VALUES ($1, $2, now(), $3, $4${values.map((value) => `, ${value}`).join('')})
      ON CONFLICT (lab_id, id) DO NOTHING RETURNING recorded_at
    ), entered AS (
      INSERT INTO ledger_entry (lab_id, id, recorded_at, recorded_by, action, subject_kind, subject_id, content_hash, reason, token_id)
      SELECT $1, $5, recorded_at, $3, $6, '${metadata.tableName}', $2, $4, $7, $11::uuid FROM kept
    ), edged AS (
      INSERT INTO lineage_edge (lab_id, from_kind, from_id, to_kind, to_id, role)
      SELECT $1, '${metadata.tableName}', $2, used.kind, used.id, used.role
      FROM kept, unnest($8::text[], $9::uuid[], $10::text[]) AS used(kind, id, role)
    )
    SELECT recorded_at AS "recordedAt" FROM kept`;
  const plan = { sql, columns };
  plans.set(metadata, plan);
  return plan;
}

/** Told of every write after it is made; bound to the transaction's outcome by its owner. */
export type WriteListener = (tx: Tx, kind: string, row: KeptRow) => void;

/** Writes facts and results: the only way into the record. */
export class Recorder {
  private readonly listeners: WriteListener[] = [];

  onWrite(listener: WriteListener): void {
    this.listeners.push(listener);
  }

  /**
   * Inserts a record with its ledger entry and edges, once: the same id given again with the same content by the same
   * person is the same write, with other content it is refused. A replay is recognised even when the record could not
   * be made any more (its run is closed by now), because a client that lost our answer sends it again.
   *
   * @param given    what the person sent, by column
   * @param complete checks it and derives the rest; throws a ProblemError or InputError to refuse it
   */
  async record<E extends KeptRow>(
    tx: Tx,
    actor: Actor,
    entity: KeptEntity<E>,
    given: { readonly id: string } & Partial<Content<E>>,
    complete: () => Promise<Completion<E>> | Completion<E>,
  ): Promise<Written<E>> {
    let completion: Completion<E>;
    try {
      completion = await complete();
    } catch (error) {
      const refused = error instanceof ProblemError || error instanceof InputError;
      const earlier = refused ? await rowById<E>(tx, entity, given.id) : null;
      if (!earlier) throw error;
      return { row: this.sameAs<E>(tx, actor, entity, earlier, given), replayed: true };
    }
    const kind = kindOf(tx, entity);
    const metadata = metadataOf(tx, entity);
    const plan = insertPlan(metadata);
    const content: Record<string, unknown> = { ...given, ...completion.derived };
    const hashed: Record<string, unknown> = { id: given.id };
    for (const { property } of plan.columns) hashed[property] = content[property] ?? null;
    const uses = uniqueUses(completion.uses);
    const contentHash = hashOf(contentDocument(metadata, tx.labId, actor.accountId, hashed, uses));
    const [inserted] = await tx.prepared<{ recordedAt: Date }>(plan.sql, [
      tx.labId,
      given.id,
      actor.accountId,
      contentHash,
      uuidv7(),
      completion.action ?? 'record',
      completion.reason ?? null,
      uses.map((use) => use.kind),
      uses.map((use) => use.id),
      uses.map((use) => use.role),
      actor.token?.id ?? null,
      ...plan.columns.map(({ property, json }) => {
        const value = content[property] ?? null;
        // Absent is absent: a JSON null would be another value, which a backup does not tell apart.
        return json && value !== null ? JSON.stringify(value) : value;
      }),
    ]);
    if (!inserted) {
      const earlier = await rowById<E>(tx, entity, given.id);
      if (!earlier) throw new Error(`${kind} ${given.id} is neither new nor there`);
      return { row: this.sameAs<E>(tx, actor, entity, earlier, given), replayed: true };
    }
    const row = { ...hashed, labId: tx.labId, recordedAt: inserted.recordedAt, recordedBy: actor.accountId, contentHash } as unknown as E;
    for (const listener of this.listeners) listener(tx, kind, row);
    return { row, replayed: false };
  }

  private sameAs<E extends KeptRow>(tx: Tx, actor: Actor, entity: KeptEntity<E>, earlier: E, given: Partial<Content<E>>): E {
    const differs = Object.entries(given).find(
      ([property, value]) => comparable(value) !== comparable((earlier as unknown as Record<string, unknown>)[property]),
    );
    if (earlier.recordedBy === actor.accountId && !differs) return earlier;
    const kind = kindOf(tx, entity).replaceAll('_', ' ');
    throw new ProblemError(
      'REPLAY_MISMATCH',
      differs?.[0] ?? 'id',
      `The id ${earlier.id} was used before for a ${kind} ${differs ? 'with other content' : 'by another person'}.`,
      'Nothing was changed. Look at the earlier record; if this one is new, send it with an id of its own.',
    );
  }
}

const comparable = (value: unknown): string => canonicalize(value instanceof Date ? value.toISOString() : (value ?? null));

const inOrder = (uses: readonly Use[]): Use[] =>
  uses.map(({ kind, id, role }) => ({ kind, id, role })).sort((a, b) => (a.id + a.role < b.id + b.role ? -1 : 1));

function uniqueUses(uses: readonly Use[]): Use[] {
  return [...new Map(uses.map((use) => [`${use.id} ${use.role}`, use])).values()];
}
