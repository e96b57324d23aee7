import { Column, Entity } from 'typeorm';
import type { PlaceKind } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class Place extends KeptRow {
  @Column('text')
  placeKind!: PlaceKind;

  @Column('text')
  label!: string;

  /** What it was made in; where it is now is told by the newest custody. */
  @Column('uuid', { nullable: true })
  insideId!: string | null;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class Custody extends KeptRow {
  @Column('text')
  subjectKind!: 'plant' | 'leaf' | 'disc' | 'place';

  @Column('uuid')
  subjectId!: string;

  /** Null: the person who recorded it took it along. */
  @Column('uuid', { nullable: true })
  placeId!: string | null;

  @Column({ type: 'timestamptz', precision: 3 })
  movedAt!: Date;

  @Column('smallint')
  movedOffsetMin!: number;

  @Column('text', { nullable: true })
  note!: string | null;
}
