import { Column, Entity } from 'typeorm';
import type { AdoptionSource, ShareAudience, ShareDepth, SharePermission } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';
import type { Statement } from './statement.js';

/** A calibration version as its lab states it for others. */
@Entity()
export class CalibrationShare extends KeptRow {
  @Column('uuid')
  calibrationVersionId!: string;

  @Column('text')
  depth!: ShareDepth;

  @Column('text')
  permits!: SharePermission;

  @Column('text')
  licence!: string;

  @Column('text')
  citation!: string;

  @Column('jsonb')
  document!: Statement;
}

@Entity()
export class ShareGrant extends KeptRow {
  @Column('uuid')
  shareId!: string;

  @Column('text')
  audience!: ShareAudience;

  /** Empty where the audience is every lab. */
  @Column('uuid', { array: true })
  labIds!: string[];

  @Column({ type: 'timestamptz', precision: 3, nullable: true })
  until!: Date | null;
}

@Entity()
export class ShareGrantWithdrawal extends KeptRow {
  @Column('uuid')
  grantId!: string;

  /** For whom the grant was: they are told by this record. */
  @Column('text')
  audience!: ShareAudience;

  @Column('uuid', { array: true })
  labIds!: string[];

  @Column('text')
  reason!: string;
}

/** A version of another lab taken over: where it comes from, and what was proven of it then. */
@Entity()
export class CalibrationAdoption extends KeptRow {
  /** The sealed pack, byte for byte. */
  @Column('uuid')
  storedFileId!: string;

  @Column('text')
  source!: AdoptionSource;

  @Column('uuid')
  shareId!: string;

  @Column('uuid')
  originLabId!: string;

  @Column('text')
  originLab!: string;

  @Column('text')
  originLedger!: string;

  @Column('text', { array: true })
  originKeys!: string[];

  @Column('uuid')
  originVersionId!: string;

  @Column('text')
  originContentHash!: string;

  @Column('text')
  checkpoint!: string;

  @Column('text')
  depth!: ShareDepth;

  @Column('text')
  licence!: string;

  @Column('text')
  citation!: string;

  /** What the lab stated, as in the pack. */
  @Column('jsonb')
  document!: Statement;

  @Column('text', { nullable: true })
  keyComparedWith!: string | null;

  @Column('text')
  reason!: string;
}
