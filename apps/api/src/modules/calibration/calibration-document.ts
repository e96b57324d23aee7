import type { FamilyFit, LeafCurve, LeafLine } from '#libs/regression';
import type { Flag, LeafEffects } from '../../generated/schema.js';

/** A fit that speaks without its readings: nothing in it tells one leaf. */
export type FrozenFit =
  | { readonly kind: 'leaf line'; readonly line: LeafLine }
  | { readonly kind: 'leaf curve'; readonly line: LeafCurve }
  | { readonly kind: 'curve'; readonly fit: FamilyFit; readonly leafSd: number | null; readonly leafCount: number };

/**
 * How the spread between the leaves of a curve was estimated: by leaf effects, or, in documents from before curves had them, from how the
 * leaves' mean residuals lie around a curve through all readings alike. A document keeps to the way it was made.
 */
export type CurveSpread = 'LEAF_EFFECTS' | 'LEAF_MEANS';

/** A reading with its RWC as a document keeps it, in fractions; left out ones with their reason. */
export interface CalibrationReading {
  readonly rwcSeriesId: string;
  readonly meterReadingId: string;
  readonly leafId: string;
  readonly leafLabel: string;
  readonly rwc: number;
  readonly uRwc: number;
  readonly transmittance: number;
  readonly uTransmittance: number;
  readonly used: boolean;
  readonly exclusionReason: string | null;
}

/** What a fit of transmittance against RWC computed, frozen. */
export interface CalibrationDocument {
  readonly parameters: readonly { readonly name: string; readonly value: number; readonly standardError: number }[];
  readonly covariance: readonly (readonly number[])[];
  readonly residualSd: number;
  readonly degreesOfFreedom: number;
  readonly betweenLeafSdRwc: number | null;
  readonly leafCount: number;
  readonly rwcMin: number;
  readonly rwcMax: number;
  readonly points: readonly (CalibrationReading & {
    readonly residual: number | null;
    /** Id of the given calibration whose reading it is, where the version is adjusted: it tells slope and spread, not height. */
    readonly besideId?: string;
    /** Of a refit: id of the version that this reading was taken from. It counts as any other. */
    readonly parentId?: string;
  })[];
  readonly curve: readonly {
    readonly rwc: number;
    readonly transmittance: number;
    readonly meanLow: number;
    readonly meanHigh: number;
    readonly newLeafLow: number | null;
    readonly newLeafHigh: number | null;
  }[];
  readonly dryingRunIds: readonly string[];
  /** In what leaves were let differ, where a person chose it. */
  readonly leafEffects?: LeafEffects;
  /** Of a curve; absent where it is by the leaves' means. */
  readonly curveSpread?: 'LEAF_EFFECTS';
  /** Of a version adjusted to own leaves: the study that allowed it, and the version it judged. */
  readonly adjustedFrom?: { readonly studyId: string; readonly kind: 'calibration_version'; readonly id: string; readonly label: string };
  /** Of a refit: the version whose readings it began with. */
  readonly refitOf?: { readonly id: string; readonly label: string };
  readonly remarks: readonly Flag[];
  /** Of a version taken over from another lab without its readings. */
  readonly frozen?: FrozenFit;
}
