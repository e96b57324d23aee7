import { Column, Entity } from 'typeorm';
import type { DiscState, EntryMode, Flag, LightPath } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

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
}
