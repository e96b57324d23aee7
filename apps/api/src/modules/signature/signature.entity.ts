import { Column, Entity } from 'typeorm';
import type { SignatureConfirmation, SignatureMeaning } from '../../generated/schema.js';
import { KeptRow, LaterColumn } from '../../platform/database/kept-row.js';

@Entity()
export class Signature extends KeptRow {
  @Column('text')
  subjectKind!: string;

  @Column('uuid')
  subjectId!: string;

  @Column('text')
  subjectHash!: string;

  @Column('text')
  meaning!: SignatureMeaning;

  @Column('text', { nullable: true })
  statement!: string | null;

  @LaterColumn('text')
  confirmedBy!: SignatureConfirmation | null;
}
