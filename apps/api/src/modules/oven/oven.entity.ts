import { Column, Entity } from 'typeorm';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class OvenCycle extends KeptRow {
  @Column('text')
  label!: string;

  @Column('uuid')
  ovenId!: string;

  @Column('numeric')
  setTemperatureC!: string;

  @Column('uuid', { array: true })
  discIds!: string[];

  @Column({ type: 'timestamptz', precision: 3 })
  startedAt!: Date;

  @Column('smallint')
  startedOffsetMin!: number;
}

@Entity()
export class OvenUnloading extends KeptRow {
  @Column('uuid')
  ovenCycleId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  unloadedAt!: Date;

  @Column('smallint')
  unloadedOffsetMin!: number;

  @Column('text', { nullable: true })
  reason!: string | null;
}
