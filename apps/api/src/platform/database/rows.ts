import type { EntityMetadata, EntityTarget, ObjectLiteral } from 'typeorm';
import type { KeptRow } from './kept-row.js';
import type { Tx } from './database.js';

/** A class whose instances are rows of a kept table. */
export type KeptEntity<E extends KeptRow = KeptRow> = new () => E;

export const metadataOf = (tx: Tx, entity: EntityTarget<ObjectLiteral>): EntityMetadata => tx.manager.connection.getMetadata(entity);

/** Kind of record an entity holds: its table's name, the word used in ledger, lineage and thread. */
export const kindOf = (tx: Tx, entity: KeptEntity): string => metadataOf(tx, entity).tableName;

const quoted = (name: string): string => `"${name}"`;

function columns(metadata: EntityMetadata): string {
  return metadata.columns.map((column) => `${quoted(column.databaseName)} AS ${quoted(column.propertyName)}`).join(', ');
}

/** Rows with these ids, in no order; ids of other labs are not found. One statement whatever the number. */
export async function rowsByIds<E extends KeptRow>(tx: Tx, entity: KeptEntity<E>, ids: readonly string[]): Promise<E[]> {
  const metadata = metadataOf(tx, entity);
  return tx.query<E>(`SELECT ${columns(metadata)} FROM ${quoted(metadata.tableName)} WHERE lab_id = $1 AND id = ANY($2::uuid[])`, [tx.labId, ids]);
}

export async function rowById<E extends KeptRow>(tx: Tx, entity: KeptEntity<E>, id: string): Promise<E | null> {
  return (await rowsByIds(tx, entity, [id]))[0] ?? null;
}

/** Rows whose `property` is one of `values`, ordered by `orderBy` (trusted SQL). One statement whatever the number. */
export async function rowsBy<E extends KeptRow>(
  tx: Tx,
  entity: KeptEntity<E>,
  property: keyof E & string,
  values: readonly string[],
  orderBy = 'id',
): Promise<E[]> {
  const metadata = metadataOf(tx, entity);
  const column = metadata.findColumnWithPropertyName(property);
  if (!column) throw new Error(`${metadata.name} has no property ${property}`);
  return tx.query<E>(
    `SELECT ${columns(metadata)} FROM ${quoted(metadata.tableName)}
     WHERE lab_id = $1 AND ${quoted(column.databaseName)} = ANY($2::${column.type === 'uuid' ? 'uuid' : 'text'}[]) ORDER BY ${orderBy}`,
    [tx.labId, values],
  );
}

/** All rows of a lab that meet `where` (trusted SQL; parameters from $2 on). */
export async function rowsWhere<E extends KeptRow>(
  tx: Tx,
  entity: KeptEntity<E>,
  where: string,
  parameters: readonly unknown[] = [],
  tail = 'ORDER BY id',
): Promise<E[]> {
  const metadata = metadataOf(tx, entity);
  return tx.query<E>(`SELECT ${columns(metadata)} FROM ${quoted(metadata.tableName)} WHERE lab_id = $1 AND (${where}) ${tail}`, [tx.labId, ...parameters]);
}

/** Largest page a list hands out. */
export const PAGE_CAP = 200;

export interface Page<E> {
  readonly nodes: E[];
  readonly pageInfo: { hasNextPage: boolean; endCursor: string | null };
}

export interface PageArgs {
  readonly first?: number | null;
  /** Id of the last row of the page before. */
  readonly after?: string | null;
}

/** A page of rows, newest first: UUIDv7 ids are in order of making, so the id itself is the cursor. */
export async function pageOf<E extends KeptRow>(
  tx: Tx,
  entity: KeptEntity<E>,
  { first, after }: PageArgs,
  where = 'true',
  parameters: readonly unknown[] = [],
): Promise<Page<E>> {
  const size = Math.min(Math.max(first ?? 50, 1), PAGE_CAP);
  const next = parameters.length + 2;
  const rows = await rowsWhere(
    tx,
    entity,
    `(${where}) AND ($${next}::uuid IS NULL OR id < $${next}::uuid)`,
    [...parameters, after ?? null],
    `ORDER BY id DESC LIMIT ${size + 1}`,
  );
  const nodes = rows.slice(0, size);
  return { nodes, pageInfo: { hasNextPage: rows.length > size, endCursor: nodes.at(-1)?.id ?? null } };
}
