import { Column, Entity } from 'typeorm';
import type { AmendmentReason } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class Amendment extends KeptRow {
  @Column('text')
  targetKind!: string;

  @Column('uuid')
  targetId!: string;

  @Column('uuid', { nullable: true })
  replacementId!: string | null;

  @Column('text')
  reasonCode!: AmendmentReason;

  @Column('text')
  reason!: string;
}
