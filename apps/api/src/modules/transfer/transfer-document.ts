import type { SharedFit, ThicknessTransfer, TransferStudy as Outcome } from '#libs/regression';
import type { CalibrationFamily, Flag, LeafEffects } from '../../generated/schema.js';
import type { CalibrationReading } from '../calibration/calibration-document.js';

/** The calibration that was judged, as it was then. */
export interface Given {
  readonly kind: 'calibration_version';
  readonly id: string;
  readonly label: string;
  readonly crop: string;
  readonly rig: string;
  readonly family: CalibrationFamily;
  readonly line: SharedFit;
}

export interface TransferPoint extends CalibrationReading {
  /** RWC that the given line reads; null where not used. */
  readonly readRwc: number | null;
}

export interface ReadingsRequest {
  readonly marginPoints: number;
  readonly rwcRange: { readonly from: number; readonly to: number } | null;
  readonly alpha: number;
  readonly level: number;
  readonly leafEffects: LeafEffects;
  readonly dryingRunIds: readonly string[];
}

/** Own leaves in the light, read by the given line. Nothing is drawn by chance: there is no seed. */
export interface ReadingsDocument {
  readonly basis: 'READINGS';
  readonly given: Given;
  readonly request: ReadingsRequest;
  readonly points: readonly TransferPoint[];
  /** What AUTO came to. */
  readonly leafEffects: LeafEffects;
  readonly ownSlope: number | null;
  readonly outcome: Outcome;
  readonly drawn: readonly { readonly rwc: number; readonly transmittance: number; readonly newLeafLow: number; readonly newLeafHigh: number; readonly marginLow: number; readonly marginHigh: number }[];
  readonly remarks: readonly Flag[];
}

/** A disc weighed turgid and dry, with the area it was punched with. */
export interface WeighedDisc {
  readonly discId: string;
  readonly discLabel: string;
  readonly leafId: string;
  readonly leafLabel: string;
  readonly turgidMassMg: number;
  readonly dryMassMg: number;
  readonly uTurgidMg: number;
  readonly uDryMg: number;
  readonly diameterMm: number;
}

/** A reading of the given calibration with the water thickness it was taken at. */
export interface ThicknessPoint {
  readonly rwc: number;
  readonly ewtUm: number;
  readonly transmittance: number;
  readonly leafId: string;
}

export interface ThicknessRequest {
  readonly structureSd: number;
  readonly level: number;
}

/** The expected curve of a crop without light. Nothing is drawn by chance: there is no seed. */
export interface ThicknessDocument {
  readonly basis: 'WATER_THICKNESS';
  readonly given: Given;
  readonly request: ThicknessRequest;
  readonly discs: readonly WeighedDisc[];
  /** Diameters of the given calibration's discs, mm, by RWC series: they may be corrected later. */
  readonly givenDiameters: Readonly<Record<string, number>>;
  readonly fit: { readonly readings: number; readonly leaves: number; readonly ewtFromUm: number; readonly ewtToUm: number };
  readonly outcome: ThicknessTransfer;
  readonly remarks: readonly Flag[];
}

export type TransferDocument = ReadingsDocument | ThicknessDocument;
