import { Column, Entity } from 'typeorm';
import type { LightCourse, SweepDirection, SweepPolarity } from '../../generated/schema.js';
import { KeptRow, LaterColumn, ResultRow } from '../../platform/database/kept-row.js';
import type { CurveDocument } from './curve-document.js';

@Entity()
export class DeviceLot extends KeptRow {
  @Column('text')
  label!: string;
}

@Entity()
export class DeviceUnit extends KeptRow {
  @Column('uuid')
  deviceLotId!: string;

  @Column('text')
  label!: string;
}

@Entity()
export class BiasSweep extends KeptRow {
  @Column('uuid')
  deviceUnitId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('text')
  direction!: SweepDirection;

  @Column('text')
  polarity!: SweepPolarity;

  /** Pairs of bias V and current A. */
  @Column('jsonb')
  steps!: [number, number][];

  @LaterColumn('numeric')
  temperatureC!: string | null;

  @LaterColumn('numeric')
  voltsPerS!: string | null;

  /** The instrument's own file. */
  @LaterColumn('uuid')
  storedFileId!: string | null;
}

@Entity()
export class TripTest extends KeptRow {
  @Column('uuid')
  deviceUnitId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('numeric')
  biasV!: string;

  @Column('text')
  tripPowerText!: string;

  @Column('text')
  tripPowerUnit!: string;

  @Column('numeric')
  tripPowerNw!: string;

  @Column('text')
  rawLine!: string;

  @LaterColumn('numeric')
  onCurrentA!: string | null;

  @LaterColumn('numeric')
  offCurrentA!: string | null;

  /** The record of shutter and light. */
  @LaterColumn('uuid')
  storedFileId!: string | null;

  @LaterColumn('text')
  lightCourse!: LightCourse | null;

  @LaterColumn('numeric')
  temperatureC!: string | null;
}

@Entity()
export class BiasThresholdCurve extends ResultRow {
  @Column('uuid')
  deviceUnitId!: string;

  @Column('jsonb')
  document!: CurveDocument;
}
