import { Column, Entity } from 'typeorm';
import { ResultRow } from '../../platform/database/kept-row.js';
import type { RwcDocument } from './rwc-document.js';

@Entity()
export class RwcSeries extends ResultRow {
  @Column('uuid')
  discId!: string;

  @Column('uuid', { nullable: true })
  dryingRunId!: string | null;

  @Column('jsonb')
  document!: RwcDocument;
}
