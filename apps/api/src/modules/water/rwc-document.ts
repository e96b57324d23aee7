import type { Flag } from '../../generated/schema.js';

/** What an RWC series computed, frozen. Masses in mg, RWC and transmittance as fractions, moments RFC 3339. */
export interface RwcDocument {
  readonly turgidMassMg: number;
  readonly dryMassMg: number;
  readonly uTurgidMassMg: number;
  readonly uDryMassMg: number;
  readonly points: readonly {
    readonly weighingId: string;
    readonly at: string;
    readonly massMg: number;
    readonly rwc: number;
    readonly u: number;
    readonly uCommon: number;
  }[];
  readonly readings: readonly {
    readonly meterReadingId: string;
    readonly at: string;
    readonly massMg: number;
    readonly rwc: number;
    readonly uRwc: number;
    readonly uRwcCommon: number;
    readonly transmittance: number;
    readonly uTransmittance: number;
  }[];
  /** Of the readings' RWC, row by row: they share turgid and dry mass. */
  readonly readingCovariance: readonly (readonly number[])[];
  readonly turgidTransmittance: number | null;
  readonly flags: readonly Flag[];
}
