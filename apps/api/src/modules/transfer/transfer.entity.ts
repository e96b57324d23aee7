import { Column, Entity } from 'typeorm';
import type { TransferBasis } from '../../generated/schema.js';
import { ResultRow } from '../../platform/database/kept-row.js';
import type { TransferDocument } from './transfer-document.js';

/** A calibration version held against other leaves. */
@Entity()
export class TransferStudy extends ResultRow {
  @Column('uuid', { nullable: true })
  calibrationVersionId!: string | null;

  @Column('uuid')
  cropId!: string;

  @Column('text')
  basis!: TransferBasis;

  @Column('jsonb')
  document!: TransferDocument;
}
