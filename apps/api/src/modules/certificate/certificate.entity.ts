import { Column, Entity } from 'typeorm';
import type { LightBasis } from '../../generated/schema.js';
import { KeptRow, ResultRow } from '../../platform/database/kept-row.js';
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
}
