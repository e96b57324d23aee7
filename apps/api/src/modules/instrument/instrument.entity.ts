import { Column, Entity } from 'typeorm';
import type { InstrumentKind } from '../../generated/schema.js';
import { KeptRow, LaterColumn } from '../../platform/database/kept-row.js';

@Entity()
export class Instrument extends KeptRow {
  @Column('text')
  kind!: InstrumentKind;

  @Column('text')
  label!: string;

  @Column('text', { nullable: true })
  serialNumber!: string | null;

  @Column('text', { nullable: true })
  location!: string | null;

  @Column('numeric', { nullable: true })
  resolution!: string | null;

  @Column('numeric', { nullable: true })
  repeatability!: string | null;

  @Column('text')
  unit!: string;

  @Column('integer')
  checkEveryHours!: number;

  /** Largest error of the scale left after adjustment: half-width, in its unit. */
  @LaterColumn('numeric')
  linearity!: string | null;

  /** Largest change in a year: half-width, in its unit. */
  @LaterColumn('numeric')
  driftPerYear!: string | null;
}

@Entity()
export class InstrumentCalibration extends KeptRow {
  @Column('uuid')
  instrumentId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  calibratedAt!: Date;

  @Column('smallint')
  calibratedOffsetMin!: number;

  @Column({ type: 'timestamptz', precision: 3 })
  dueAt!: Date;

  @Column('smallint')
  dueOffsetMin!: number;

  @Column('text')
  calibratedBy!: string;

  @Column('text', { nullable: true })
  certificateNumber!: string | null;

  @Column('uuid', { nullable: true })
  certificateFileId!: string | null;

  @Column('numeric', { nullable: true })
  largestError!: string | null;

  @Column('numeric', { nullable: true })
  expandedUncertainty!: string | null;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class InstrumentCheck extends KeptRow {
  @Column('uuid')
  instrumentId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('numeric')
  nominal!: string;

  @Column('numeric')
  shown!: string;

  @Column('numeric')
  tolerance!: string;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class Rig extends KeptRow {
  @Column('text')
  label!: string;

  @Column('integer')
  version!: number;

  @Column('text')
  source!: string;

  @Column('numeric')
  bandCentreNm!: string;

  @Column('numeric')
  bandWidthNm!: string;

  @Column('text', { nullable: true })
  diffuser!: string | null;

  @Column('numeric', { nullable: true })
  diffuserTransmittance!: string | null;

  @Column('numeric', { nullable: true })
  uDiffuserTransmittance!: string | null;

  @Column('numeric', { nullable: true })
  apertureMm!: string | null;

  @Column('uuid')
  meterId!: string;
}
