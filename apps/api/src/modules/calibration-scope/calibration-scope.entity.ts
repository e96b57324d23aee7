import { Column, Entity } from 'typeorm';
import type { LeafSide, ScopeEnd } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class CalibrationScope extends KeptRow {
  @Column('uuid')
  calibrationVersionId!: string;

  @Column('text', { array: true })
  cultivars!: string[];

  @Column('text', { array: true })
  growthStages!: string[];

  @Column('text', { nullable: true })
  leafSide!: LeafSide | null;

  @Column('numeric', { nullable: true })
  bandFromNm!: string | null;

  @Column('numeric', { nullable: true })
  bandToNm!: string | null;

  @Column('double precision')
  rwcMin!: number;

  @Column('double precision')
  rwcMax!: number;

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  validUntil!: Date | null;

  @Column('text', { array: true })
  endsOn!: ScopeEnd[];

  @Column('text', { nullable: true })
  note!: string | null;
}
