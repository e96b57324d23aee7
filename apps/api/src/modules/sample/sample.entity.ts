import { Column, Entity } from 'typeorm';
import type { DiscLeafSide, SampleLossOutcome } from '../../generated/schema.js';
import { KeptRow, LaterColumn } from '../../platform/database/kept-row.js';

@Entity()
export class Crop extends KeptRow {
  @Column('text')
  name!: string;

  @Column('text', { nullable: true })
  scientificName!: string | null;
}

@Entity()
export class Plant extends KeptRow {
  @Column('uuid')
  cropId!: string;

  @Column('text')
  label!: string;

  @Column('text', { nullable: true })
  cultivar!: string | null;

  @Column('text', { nullable: true })
  treatment!: string | null;

  /** The plant it was taken from: as a cutting, seed or graft. */
  @LaterColumn('uuid')
  motherId!: string | null;
}

@Entity()
export class Leaf extends KeptRow {
  @Column('uuid')
  plantId!: string;

  @Column('text')
  label!: string;

  @Column('text', { nullable: true })
  position!: string | null;

  @Column('text', { nullable: true })
  growthStage!: string | null;

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  cutAt!: Date | null;

  @Column('smallint', { nullable: true })
  cutOffsetMin!: number | null;

  @LaterColumn('uuid')
  photoId!: string | null;
}

@Entity()
export class Disc extends KeptRow {
  @Column('uuid')
  leafId!: string;

  @Column('text')
  label!: string;

  @Column('numeric', { nullable: true })
  diameterMm!: string | null;

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  punchedAt!: Date | null;

  @Column('smallint', { nullable: true })
  punchedOffsetMin!: number | null;

  /** Where on the leaf it was punched. */
  @LaterColumn('text')
  position!: string | null;

  /** Which side faces up, to the light of the rig. */
  @LaterColumn('text')
  leafSide!: DiscLeafSide | null;
}

/** Kinds of sample, as their tables are called. */
export type SampleTable = 'plant' | 'leaf' | 'disc';

/** Corrects the description of a sample; members of `was` and `becomes` are names of its entity's columns. */
@Entity()
export class SampleAmendment extends KeptRow {
  @Column('text')
  subjectKind!: SampleTable;

  @Column('uuid')
  subjectId!: string;

  @Column('jsonb')
  was!: Readonly<Record<string, string | null>>;

  @Column('jsonb')
  becomes!: Readonly<Record<string, string | null>>;

  @Column('text')
  reason!: string;
}

/** Tells that a sample is not there any more. Retracted when it is found again. */
@Entity()
export class SampleLoss extends KeptRow {
  @Column('text')
  subjectKind!: SampleTable;

  @Column('uuid')
  subjectId!: string;

  @Column('text')
  outcome!: SampleLossOutcome;

  @Column({ type: 'timestamptz', precision: 3 })
  noticedAt!: Date;

  @Column('smallint')
  noticedOffsetMin!: number;

  @Column('text')
  reason!: string;
}
