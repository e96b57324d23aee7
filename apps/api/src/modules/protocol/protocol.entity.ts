import { Column, Entity } from 'typeorm';
import { KeptRow } from '../../platform/database/kept-row.js';
import type { Parameters } from './protocol-parameters.js';

/** One version of a named protocol. */
@Entity()
export class Protocol extends KeptRow {
  @Column('text')
  name!: string;

  @Column('integer')
  version!: number;

  @Column('text', { nullable: true })
  changedBecause!: string | null;

  @Column('jsonb')
  parameters!: Parameters;
}
