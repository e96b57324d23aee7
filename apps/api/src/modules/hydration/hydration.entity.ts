import { Column, Entity } from 'typeorm';
import { KeptRow } from '../../platform/database/kept-row.js';

@Entity()
export class Hydration extends KeptRow {
  @Column('text')
  label!: string;

  @Column('uuid', { array: true })
  discIds!: string[];

  @Column('uuid', { nullable: true })
  protocolId!: string | null;

  @Column({ type: 'timestamptz', precision: 3 })
  startedAt!: Date;

  @Column('smallint')
  startedOffsetMin!: number;

  @Column('numeric', { nullable: true })
  waterC!: string | null;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class HydrationEnd extends KeptRow {
  @Column('uuid')
  hydrationId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  takenOutAt!: Date;

  @Column('smallint')
  takenOutOffsetMin!: number;

  @Column('numeric', { nullable: true })
  waterC!: string | null;

  @Column('boolean')
  blotted!: boolean;

  @Column('text', { nullable: true })
  overrideReason!: string | null;
}
