import { Column, Entity } from 'typeorm';
import type { DecimalMark, LineParity, LineTerminator } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class LineFormat extends KeptRow {
  @Column('uuid')
  instrumentId!: string;

  @Column('text')
  pattern!: string;

  @Column('text', { array: true })
  stableMarks!: string[];

  @Column('text', { array: true })
  movingMarks!: string[];

  @Column('text', { array: true })
  netMarks!: string[];

  @Column('text', { array: true })
  grossMarks!: string[];

  @Column('text')
  decimalMark!: DecimalMark;

  @Column('text')
  unit!: string;

  @Column('jsonb')
  unitWords!: { readonly written: string; readonly unit: string }[];

  @Column('boolean')
  unitOnlyWhenStable!: boolean;

  @Column('integer')
  baudRate!: number;

  @Column('smallint')
  dataBits!: number;

  @Column('text')
  parity!: LineParity;

  @Column('smallint')
  stopBits!: number;

  @Column('text')
  terminator!: LineTerminator;
}
