import { Column, Entity } from 'typeorm';
import { KeptRow, LaterColumn } from '../../platform/database/kept-row.js';

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

  @LaterColumn('integer')
  trayRows!: number | null;

  @LaterColumn('integer')
  trayColumns!: number | null;

  @LaterColumn('jsonb')
  trayMap!: readonly TrayPlace[] | null;

  /** Key of CONSTANT_MASS_RULES in libs/leaf-water; null stands for the house's own. */
  @LaterColumn('text')
  constantMassRule!: string | null;
}

/** Rows and columns count from 1. */
export interface TrayPlace {
  readonly discId: string;
  readonly row: number;
  readonly column: number;
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

  /** Discs scanned as they came out; null when they were not scanned. */
  @LaterColumn('uuid', { array: true })
  scannedDiscIds!: string[] | null;
}

@Entity()
export class OvenTemperature extends KeptRow {
  @Column('uuid')
  ovenCycleId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('numeric')
  temperatureC!: string;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class OvenCooling extends KeptRow {
  @Column('uuid')
  ovenCycleId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  takenOutAt!: Date;

  @Column('smallint')
  takenOutOffsetMin!: number;

  @Column('integer')
  coolingMin!: number;

  /** Where they cool. */
  @Column('text', { nullable: true })
  vessel!: string | null;
}
