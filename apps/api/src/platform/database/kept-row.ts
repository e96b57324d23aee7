import { Column, PrimaryColumn, type ColumnOptions, type ColumnType } from 'typeorm';

/** Columns of every fact and result. Rows are inserted once and never changed: see migrations, threadleaf_keep(). */
export abstract class KeptRow {
  @PrimaryColumn('uuid')
  labId!: string;

  @PrimaryColumn('uuid')
  id!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  recordedAt!: Date;

  @Column('uuid')
  recordedBy!: string;

  @Column('bytea')
  contentHash!: Buffer;
}

/** A kept row that was computed, with the name of the code that computed it. */
export abstract class ResultRow extends KeptRow {
  @Column('text')
  codeVersion!: string;
}

const later = new WeakMap<object, Set<string>>();

/**
 * A nullable column that was added to a kind of record after records of it had been written. While it is null it is left
 * out of the document that the content hash is taken of, so that what was recorded before keeps its hash.
 */
export function LaterColumn(type: ColumnType, options: ColumnOptions = {}): PropertyDecorator {
  return (target, property) => {
    later.set(target.constructor, (later.get(target.constructor) ?? new Set()).add(String(property)));
    Column({ ...options, type, nullable: true })(target, property);
  };
}

/** Whether a property of an entity class is a {@link LaterColumn}. */
export const isLater = (entity: unknown, property: string): boolean => later.get(entity as object)?.has(property) ?? false;
