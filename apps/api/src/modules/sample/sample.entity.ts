import { Column, Entity } from 'typeorm';
import { KeptRow } from '../../platform/database/kept-row.js';

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
}
