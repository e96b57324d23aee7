import { Column, Entity } from 'typeorm';
import { KeptRow } from '../../platform/database/kept-row.js';
import type { DryingImportMappingInput } from '../../generated/schema.js';

@Entity()
export class DryingImport extends KeptRow {
  @Column('text')
  fileName!: string;

  @Column('text')
  fileHash!: string;

  @Column('jsonb')
  mapping!: DryingImportMappingInput;

  @Column('uuid')
  cropId!: string;

  @Column('integer')
  rowCount!: number;
}
