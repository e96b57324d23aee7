import { Column, Entity } from 'typeorm';
import { KeptRow, ResultRow } from '../../platform/database/kept-row.js';
import type { AdviceDocument } from './advice-document.js';

@Entity()
export class ZoneRule extends KeptRow {
  @Column('text')
  zone!: string;

  @Column('integer')
  version!: number;

  @Column('numeric')
  latitude!: string;

  @Column('numeric')
  longitude!: string;

  @Column('integer')
  needed!: number;

  @Column('integer')
  windows!: number;

  @Column('numeric')
  hoursAroundNoon!: string;

  @Column('numeric')
  maxAgeHours!: string;

  @Column('numeric')
  silentAfterHours!: string;

  @Column('integer')
  minHealthy!: number;

  @Column('numeric')
  lockoutHours!: string;

  @Column('numeric')
  rainHoldMm!: string;

  @Column('numeric')
  rainHoldHours!: string;

  @Column('text')
  basis!: string;
}

@Entity()
export class ZoneAdvice extends ResultRow {
  @Column('text')
  zone!: string;

  @Column('uuid')
  zoneRuleId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  madeFor!: Date;

  @Column('jsonb')
  document!: AdviceDocument;
}

@Entity()
export class Rain extends KeptRow {
  @Column('text')
  zone!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('numeric')
  depthMm!: string;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class SitePlan extends KeptRow {
  @Column('text')
  site!: string;

  @Column('uuid')
  storedFileId!: string;

  @Column('numeric')
  northDeg!: string;

  @Column('numeric')
  southDeg!: string;

  @Column('numeric')
  westDeg!: string;

  @Column('numeric')
  eastDeg!: string;
}
