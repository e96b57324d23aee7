import { Column, Entity } from 'typeorm';
import type { Flag, LightBasis, LightSpreadCause, ProblemCode } from '../../generated/schema.js';
import { KeptRow, LaterColumn, ResultRow } from '../../platform/database/kept-row.js';
import type { CertificateDocument } from './certificate-document.js';

@Entity()
export class LightReference extends KeptRow {
  @Column('text')
  label!: string;

  @Column('text')
  site!: string;

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

  @Column('numeric')
  relativeSd!: string;

  @Column('text')
  basis!: LightBasis;

  @Column('text', { nullable: true })
  note!: string | null;

  /** Readings in the order taken: moment with its offset, and power as entered. */
  @LaterColumn('jsonb')
  series!: { at: string; powerText: string; powerUnit: string }[] | null;

  /** Days that power and spread were told from; null where they were stated. */
  @LaterColumn('integer')
  days!: number | null;

  @LaterColumn('smallint')
  armedFromMin!: number | null;

  @LaterColumn('smallint')
  armedUntilMin!: number | null;

  @LaterColumn('numeric')
  latitude!: string | null;

  @LaterColumn('numeric')
  longitude!: string | null;

  @LaterColumn('numeric')
  bandCentreNm!: string | null;

  @LaterColumn('numeric')
  bandWidthNm!: string | null;

  @LaterColumn('numeric')
  tiltDeg!: string | null;

  @LaterColumn('text')
  diffuser!: string | null;

  @LaterColumn('uuid')
  meterId!: string | null;

  @LaterColumn('jsonb')
  spreadParts!: { cause: LightSpreadCause; relativeSd: number; reason: string }[] | null;
}

@Entity()
export class ThresholdCertificate extends ResultRow {
  @Column('uuid')
  deviceUnitId!: string;

  @Column('uuid')
  calibrationVersionId!: string;

  @Column('uuid')
  biasThresholdCurveId!: string;

  @Column('uuid')
  lightReferenceId!: string;

  @Column('double precision')
  targetRwc!: number;

  @Column('text')
  targetBasis!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  validUntil!: Date;

  @Column('text', { nullable: true })
  overrideReason!: string | null;

  @Column('jsonb')
  document!: CertificateDocument;

  @LaterColumn('double precision')
  falseTripRwc!: number | null;

  @LaterColumn('double precision')
  missedTripRwc!: number | null;

  @LaterColumn('uuid')
  biasSourceId!: string | null;

  @LaterColumn('uuid')
  certificateBatchId!: string | null;
}

/** Certificates asked for several units at once. */
@Entity()
export class CertificateBatch extends KeptRow {
  @Column('uuid', { array: true })
  deviceUnitIds!: string[];

  @Column('uuid')
  calibrationVersionId!: string;

  @Column('uuid')
  lightReferenceId!: string;

  @Column('uuid', { nullable: true })
  biasSourceId!: string | null;

  @Column('double precision')
  targetRwc!: number;

  @Column('text')
  targetBasis!: string;

  @Column('double precision', { nullable: true })
  falseTripRwc!: number | null;

  @Column('double precision', { nullable: true })
  missedTripRwc!: number | null;

  @Column('double precision')
  biasStepV!: number;

  @Column({ type: 'timestamptz', precision: 3 })
  validUntil!: Date;

  @Column('text', { nullable: true })
  overrideReason!: string | null;
}

/** Why a unit of a batch got no certificate. */
@Entity()
export class CertificateRefusal extends KeptRow {
  @Column('uuid')
  certificateBatchId!: string;

  @Column('uuid')
  deviceUnitId!: string;

  @Column('text')
  code!: ProblemCode;

  @Column('text')
  message!: string;

  @Column('text')
  remedy!: string;

  @Column('jsonb')
  objections!: Flag[];
}
