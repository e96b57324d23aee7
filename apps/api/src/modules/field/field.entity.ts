import { Column, Entity } from 'typeorm';
import type { DecisionAction, LeafSide, OutcomeVerdict, TripSource } from '../../generated/schema.js';
import { KeptRow, LaterColumn } from '../../platform/database/kept-row.js';

@Entity()
export class Installation extends KeptRow {
  @Column('uuid')
  deviceUnitId!: string;

  @Column('uuid')
  thresholdCertificateId!: string;

  @Column('text')
  site!: string;

  @Column('text')
  zone!: string;

  @Column('text')
  plantNote!: string;

  @Column('text')
  leafSide!: LeafSide;

  @Column('numeric', { nullable: true })
  tiltDeg!: string | null;

  @Column('numeric', { nullable: true })
  latitude!: string | null;

  @Column('numeric', { nullable: true })
  longitude!: string | null;

  @Column('numeric')
  biasReadbackV!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  armedAt!: Date;

  @Column('smallint')
  armedOffsetMin!: number;

  @Column('text', { nullable: true })
  overrideReason!: string | null;

  @LaterColumn('uuid')
  plantId!: string | null;

  @LaterColumn('uuid')
  photoFileId!: string | null;
}

@Entity()
export class Trip extends KeptRow {
  @Column('uuid')
  installationId!: string;

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  trippedAt!: Date | null;

  @Column('smallint', { nullable: true })
  trippedOffsetMin!: number | null;

  @Column({ type: 'timestamptz', precision: 3 })
  seenAt!: Date;

  @Column('smallint')
  seenOffsetMin!: number;

  @Column('text')
  source!: TripSource;

  @Column('numeric', { nullable: true })
  lightPowerNw!: string | null;

  @Column('text', { nullable: true })
  note!: string | null;

  @LaterColumn('text')
  rawLine!: string | null;
}

@Entity()
export class FieldCheck extends KeptRow {
  @Column('uuid')
  installationId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('uuid', { array: true })
  discIds!: string[];

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class Decision extends KeptRow {
  @Column({ type: 'timestamptz', precision: 3 })
  decidedAt!: Date;

  @Column('smallint')
  decidedOffsetMin!: number;

  @Column('text')
  zone!: string;

  @Column('text')
  action!: DecisionAction;

  @Column('text')
  reason!: string;

  @Column('numeric', { nullable: true })
  depthMm!: string | null;

  @Column('text', { nullable: true })
  overrode!: string | null;

  @Column('uuid', { array: true })
  tripIds!: string[];

  @LaterColumn('uuid')
  zoneAdviceId!: string | null;
}

/** What is observed at an installation at a moment. */
abstract class AtInstallation extends KeptRow {
  @Column('uuid')
  installationId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;
}

@Entity()
export class FieldReport extends AtInstallation {
  @Column('boolean')
  latched!: boolean;

  @Column('text')
  source!: TripSource;

  @Column('numeric', { nullable: true })
  lightPowerNw!: string | null;

  @Column('numeric', { nullable: true })
  biasReadbackV!: string | null;

  @Column('text', { nullable: true })
  rawLine!: string | null;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class LatchReset extends AtInstallation {
  @Column('boolean')
  opened!: boolean;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class InstallationEnd extends AtInstallation {
  @Column('text')
  reason!: string;
}

@Entity()
export class DecisionOutcome extends KeptRow {
  @Column('uuid')
  decisionId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('text')
  verdict!: OutcomeVerdict;

  @Column('text')
  seen!: string;
}
