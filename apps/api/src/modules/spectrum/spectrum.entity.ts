import { Column, Entity } from 'typeorm';
import type { SpectrumFileKind, SpectrumOf, SpectrumValueUnit, SpectrumWavelengthUnit } from '../../generated/schema.js';
import { KeptRow } from '../../platform/database/kept-row.js';

/** How a file was read, so that it can be read so again. */
export interface SpectrumReading {
  readonly fileKind: SpectrumFileKind;
  readonly part: number;
  readonly partName: string;
  /** Of tables. */
  readonly wavelengthUnit?: SpectrumWavelengthUnit;
  readonly valueUnit?: SpectrumValueUnit;
  readonly decimalComma?: boolean;
  /** Of JCAMP-DX: what the file says its ordinates are. */
  readonly yUnits?: string | null;
}

@Entity()
export class Spectrum extends KeptRow {
  @Column('text')
  label!: string;

  @Column('text')
  spectrumOf!: SpectrumOf;

  @Column({ type: 'timestamptz', precision: 3 })
  observedAt!: Date;

  @Column('smallint')
  observedOffsetMin!: number;

  @Column('uuid')
  storedFileId!: string;

  @Column('jsonb')
  reading!: SpectrumReading;

  @Column('jsonb')
  points!: { readonly wavelengthNm: readonly number[]; readonly values: readonly number[] };

  @Column('text', { nullable: true })
  note!: string | null;
}
