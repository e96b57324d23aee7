import type { MeasurementAdvice } from '#libs/regression';
import type { CalibrationFamily, Flag, LeafEffects } from '../../generated/schema.js';
import type { CalibrationReading } from './calibration-document.js';

/** A reading with everything residuals are looked at by. Fractions; `day` is a date, `order` the place in time. */
export interface StudyPoint extends CalibrationReading {
  readonly turgidTransmittance: number | null;
  readonly day: string;
  readonly operator: string;
  readonly order: number;
}

export interface StudyInput {
  readonly points: readonly StudyPoint[];
  readonly family: CalibrationFamily;
  readonly leafEffects: LeafEffects;
  /** Of mean line and new leaf. */
  readonly level: number;
  /** Of the tolerance interval: which share of leaves, with which confidence. */
  readonly share: number;
  readonly confidence: number;
  /** Where the figures are told, a fraction: the trip target, as a rule. */
  readonly atRwc: number;
  readonly wantedHalfWidthPoints: number | null;
}

/** Low and high of one interval; null where it has no two ends. */
export type Ends = readonly [number, number] | null;

export interface StudyCurvePoint {
  readonly rwc: number;
  readonly transmittance: number;
  readonly mean: Ends;
  readonly newLeaf: Ends;
  readonly tolerance: Ends;
}

/** RWC read back at one transmittance. */
export interface StudyReadBack {
  readonly transmittance: number;
  readonly rwc: number;
  readonly mean: Ends;
  readonly newLeaf: Ends;
  readonly tolerance: Ends;
}

/** What one leaf differs by at the target, in RWC points: as its readings say alone, and shrunk by how little they are. */
export interface StudyLeaf {
  readonly leaf: string;
  readonly readings: number;
  readonly ownPoints: number;
  readonly shrunkPoints: number;
  readonly sdPoints: number;
  readonly reliability: number;
}

/** The figures of one fit, at the target, in RWC points. */
export interface StudyFigures {
  readonly readings: number;
  readonly leaves: number;
  /** Of the mean line on its scale, at the target. */
  readonly slope: number;
  /** Null for a curve. */
  readonly intercept: number | null;
  readonly parameters: readonly { readonly name: string; readonly value: number; readonly standardError: number }[];
  /** RWC read at the transmittance that the chosen fit has at the target. */
  readonly rwcAtTarget: number;
  readonly naiveHalfWidthPoints: number;
  readonly meanHalfWidthPoints: number;
  readonly newLeafHalfWidthPoints: number;
  readonly toleranceHalfWidthPoints: number;
  readonly betweenLeavesPoints: number;
  readonly withinLeavesPoints: number;
}

export interface ResidualsTold {
  readonly by: 'day' | 'operator' | 'leaf';
  readonly pValue: number | null;
  readonly groups: readonly { readonly key: string; readonly count: number; readonly meanPoints: number }[];
}

/** A calibration looked at before it is frozen: everything the builder shows. */
export interface StudyDocument {
  readonly figures: StudyFigures;
  /** The same with every reading in; null while none is left out. */
  readonly withAll: StudyFigures | null;
  /** What the balance and handling add to one reading, RWC points: root mean square. */
  readonly weighingPoints: number;
  /** The naive interval is so many times narrower than that of a new leaf. */
  readonly tooNarrowTimes: number;
  readonly finding: string;
  readonly leafEffects: LeafEffects;
  readonly curve: readonly StudyCurvePoint[];
  readonly readBack: readonly StudyReadBack[];
  readonly leaves: readonly StudyLeaf[];
  /** By reading, in the order given: residual once the leaf's own effect is off, and around the mean line, RWC points; Cook's distance. */
  readonly residuals: readonly ({ readonly within: number; readonly around: number; readonly cooksDistance: number | null; readonly flags: readonly string[] } | null)[];
  readonly residualsBy: readonly ResidualsTold[];
  readonly inOrder: { readonly durbinWatson: number | null; readonly slopePValue: number | null } | null;
  readonly lackOfFit: { readonly pValue: number } | { readonly reason: string };
  readonly advice: MeasurementAdvice;
  readonly remarks: readonly Flag[];
}

/** One way of fitting beside others. */
export interface ComparisonRow {
  readonly what: string;
  readonly leafEffects: LeafEffects | null;
  readonly family: CalibrationFamily | null;
  readonly perTurgid: boolean;
  readonly deltaAicc: number | null;
  readonly leaveOneLeafOutPoints: number | null;
  readonly biasPoints: number | null;
  readonly lackOfFitP: number | null;
  readonly monotonic: boolean;
  readonly remark: string | null;
}

export interface LeafInfluence {
  readonly leaf: string;
  /** By how much the RWC read at the target moves when this leaf is left out, points. */
  readonly shiftPoints: number;
  readonly newLeafHalfWidthPoints: number;
}

/** Outcome of the job "compare calibrations". */
export interface ComparisonDocument {
  readonly rows: readonly ComparisonRow[];
  readonly influence: readonly LeafInfluence[];
}
