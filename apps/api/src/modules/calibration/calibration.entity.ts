import { Column, Entity } from 'typeorm';
import type { CalibrationFamily } from '../../generated/schema.js';
import { KeptRow, LaterColumn, ResultRow } from '../../platform/database/kept-row.js';
import type { CalibrationDocument } from './calibration-document.js';

@Entity()
export class Calibration extends KeptRow {
  @Column('text')
  label!: string;

  @Column('uuid')
  cropId!: string;
}

@Entity()
export class CalibrationVersion extends ResultRow {
  @Column('uuid')
  calibrationId!: string;

  @Column('integer')
  version!: number;

  @Column('text')
  family!: CalibrationFamily;

  @Column('uuid')
  rigId!: string;

  @Column('jsonb')
  document!: CalibrationDocument;

  /** Set where it was taken over from another lab instead of fitted here. */
  @LaterColumn('uuid')
  calibrationAdoptionId!: string | null;
}
