import { Column, Entity } from 'typeorm';
import type { LabelStock } from '#libs/label';
import type { LabelSymbology } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class LabelPrint extends KeptRow {
  @Column('text')
  subjectKind!: 'plant' | 'leaf' | 'disc' | 'place' | 'device_unit';

  @Column('uuid', { array: true })
  subjectIds!: string[];

  @Column('text')
  symbology!: LabelSymbology;

  @Column('jsonb')
  stock!: LabelStock;

  /** Place of the first label on the first sheet, from 0. */
  @Column('integer')
  firstPlace!: number;

  @Column('text', { nullable: true })
  reason!: string | null;
}
