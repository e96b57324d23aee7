import { Column, PrimaryColumn } from 'typeorm';

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
