import { Column, Entity } from 'typeorm';
import { KeptRow } from '../../platform/database/kept-row.js';

/** Something said or asked about a calibration version. */
@Entity()
export class CalibrationComment extends KeptRow {
  @Column('uuid')
  giverLabId!: string;

  @Column('uuid')
  calibrationVersionId!: string;

  /** Null for what stays within the lab. */
  @Column('uuid', { nullable: true })
  shareId!: string | null;

  @Column('boolean')
  question!: boolean;

  @Column('text')
  commentText!: string;

  @Column('uuid', { nullable: true })
  answersId!: string | null;
}
