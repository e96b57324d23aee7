import { Column, Entity } from 'typeorm';
import type { RetirementCause, Switching } from '../../generated/schema.js';
import { KeptRow, LaterColumn } from '../../platform/database/kept-row.js';

/** A fact that was observed on one unit at a moment. */
export abstract class UnitFact extends KeptRow {
  @Column('uuid')
  deviceUnitId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;
}

/** Of one unit, or of a lot as measured on a witness of it. */
@Entity()
export class AbsorptionBand extends KeptRow {
  @Column('uuid', { nullable: true })
  deviceUnitId!: string | null;

  @LaterColumn('uuid')
  deviceLotId!: string | null;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('numeric')
  centreNm!: string;

  @Column('numeric')
  widthNm!: string;

  @Column('numeric', { nullable: true })
  peakAbsorptance!: string | null;

  @Column('text')
  method!: string;

  /** What the spectrometer wrote, where no spectrum is recorded. */
  @Column('uuid', { nullable: true })
  storedFileId!: string | null;

  /** The recorded spectrum that centre and width were computed from. */
  @LaterColumn('uuid')
  spectrumId!: string | null;
}

@Entity()
export class ChoppedRun extends UnitFact {
  @Column('numeric')
  biasV!: string;

  @Column('numeric')
  chopHz!: string;

  /** Power at which it tripped in each opening of the light, nW; null where it did not trip. */
  @Column('jsonb')
  tripPowersNw!: (number | null)[];

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class ResetPulse extends UnitFact {
  @Column('numeric')
  pulseV!: string;

  @Column('numeric')
  pulseMs!: string;

  @Column('boolean')
  succeeded!: boolean;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class TemperatureRun extends UnitFact {
  @Column('numeric')
  biasV!: string;

  /** Pairs of temperature °C and trip power nW. */
  @Column('jsonb')
  steps!: [number, number][];

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class CycleCount extends UnitFact {
  @Column('integer')
  cycles!: number;

  @Column('text')
  switching!: Switching;

  @Column('numeric', { nullable: true })
  pullInV!: string | null;

  @Column('numeric', { nullable: true })
  contactResistanceOhm!: string | null;

  @Column('text', { nullable: true })
  note!: string | null;
}

@Entity()
export class UnitRetirement extends UnitFact {
  @Column('text')
  cause!: RetirementCause;

  @Column('text')
  reason!: string;
}

@Entity()
export class LotAcceptance extends KeptRow {
  @Column('uuid')
  deviceLotId!: string;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('text')
  criterion!: string;

  @Column('numeric')
  reliability!: string;

  @Column('numeric')
  confidence!: string;

  @Column('integer')
  allowedFailures!: number;

  @Column('integer')
  testedUnits!: number;

  @Column('integer')
  failedUnits!: number;

  /** Units the plan asks for. */
  @Column('integer')
  neededUnits!: number;

  /** Lower limit of the reliability that the test has shown. */
  @Column('double precision')
  shownReliability!: number;

  @Column('boolean')
  accepted!: boolean;

  @Column('text', { nullable: true })
  note!: string | null;
}
