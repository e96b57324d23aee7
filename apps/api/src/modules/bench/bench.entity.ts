import { Column, Entity } from 'typeorm';
import type { CheckStatus, DiscState, EntryMode, Flag, LightPath, PreflightPoint } from '../../generated/schema.js';
import { KeptRow, LaterColumn } from '../../platform/database/kept-row.js';

@Entity()
export class DryingRun extends KeptRow {
  @Column('text')
  label!: string;

  @Column('uuid')
  rigId!: string;

  @Column('uuid')
  balanceId!: string;

  @Column('uuid', { array: true })
  discIds!: string[];

  @Column('integer')
  rhythmMin!: number;

  @Column({ type: 'timestamptz', precision: 3 })
  openedAt!: Date;

  @Column('smallint')
  openedOffsetMin!: number;

  @LaterColumn('uuid')
  protocolId!: string | null;
}

export interface SkippedPoint {
  readonly point: PreflightPoint;
  readonly reason: string;
}

/** What was looked at before the first reading of a run. */
@Entity()
export class Preflight extends KeptRow {
  @Column('uuid')
  dryingRunId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('text')
  balanceStatus!: CheckStatus;

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  balanceCheckedAt!: Date | null;

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  lampOnSince!: Date | null;

  @Column('smallint', { nullable: true })
  lampOnOffsetMin!: number | null;

  @Column('uuid', { nullable: true })
  darkId!: string | null;

  @Column('uuid', { nullable: true })
  referenceId!: string | null;

  /** How far the device's clock was behind the server's. */
  @Column('integer', { nullable: true })
  clockOffsetMs!: number | null;

  @Column('integer', { nullable: true })
  clockRoundTripMs!: number | null;

  @Column('jsonb', { default: [] })
  skipped!: SkippedPoint[];
}

@Entity()
export class DryingRunStep extends KeptRow {
  @Column('uuid')
  dryingRunId!: string;

  @Column('text')
  step!: 'CLOSED' | 'RELEASED';

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class Weighing extends KeptRow {
  @Column('uuid')
  discId!: string;

  @Column('text')
  state!: DiscState;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('text')
  massText!: string;

  @Column('text')
  massUnit!: string;

  @Column('numeric')
  massMg!: string;

  @Column('uuid', { nullable: true })
  balanceId!: string | null;

  @Column('uuid', { nullable: true })
  dryingRunId!: string | null;

  @Column('uuid', { nullable: true })
  ovenCycleId!: string | null;

  @Column('uuid', { nullable: true })
  dryingImportId!: string | null;

  @Column('text')
  entryMode!: EntryMode;

  @Column('text')
  rawLine!: string;

  @Column('jsonb', { default: [] })
  flags!: Flag[];

  @Column('text', { nullable: true })
  flagAnswer!: string | null;

  /** How far the clock that gave observedAt was behind the server's. */
  @LaterColumn('integer')
  clockOffsetMs!: number | null;

  /** The balance's own word that the value had settled. */
  @LaterColumn('boolean')
  stable!: boolean | null;

  /** The label of the disc as it was scanned. */
  @LaterColumn('text')
  scannedText!: string | null;

  /** Why a balance that was not in check was used all the same. */
  @LaterColumn('text')
  overrideReason!: string | null;
}

@Entity()
export class MeterReading extends KeptRow {
  @Column('text')
  lightPath!: LightPath;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('text')
  powerText!: string;

  @Column('text')
  powerUnit!: string;

  @Column('numeric')
  powerNw!: string;

  @Column('uuid', { nullable: true })
  discId!: string | null;

  @Column('uuid')
  dryingRunId!: string;

  @Column('text')
  entryMode!: EntryMode;

  @Column('text')
  rawLine!: string;

  @LaterColumn('integer')
  clockOffsetMs!: number | null;

  /** Why a meter that was not in check was used all the same. */
  @LaterColumn('text')
  overrideReason!: string | null;
}
