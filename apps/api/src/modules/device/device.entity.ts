import { Column, Entity } from 'typeorm';
import type { SweepDirection, SweepPolarity } from '../../generated/schema.js';
import { KeptRow, ResultRow } from '../../platform/database/kept-row.js';
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
}

@Entity()
export class BiasThresholdCurve extends ResultRow {
  @Column('uuid')
  deviceUnitId!: string;

  @Column('jsonb')
  document!: CurveDocument;
}
