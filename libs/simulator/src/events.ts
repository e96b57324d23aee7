/**
 * What a lab does, as a list in the order it is done. Each event makes one record, known by its `key`; fields that end in
 * `Key` name records that earlier events made. Numbers stand as a person or an instrument wrote them: text and UCUM unit.
 */
export type LabEvent =
  | CropEvent | PlantEvent | LeafEvent | DiscEvent
  | InstrumentEvent | InstrumentCheckEvent | RigEvent
  | DryingRunOpenEvent | DryingRunStepEvent | WeighingEvent | WeighingAmendmentEvent | MeterReadingEvent
  | OvenStartEvent | OvenUnloadEvent
  | ProtocolEvent | PreflightEvent | CalibrationEvent | CalibrationFitEvent | SignatureEvent
  | DeviceLotEvent | DeviceUnitEvent | BiasSweepEvent | TripTestEvent | CurveFitEvent
  | AbsorptionBandEvent | ChoppedRunEvent | TemperatureRunEvent | CycleCountEvent | ResetPulseEvent | UnitRetirementEvent | LotAcceptanceEvent
  | LightReferenceEvent | CertificateEvent
  | InstallationEvent | TripEvent | DecisionEvent
  | FieldReportEvent | LatchResetEvent | FieldCheckEvent | RwcSeriesEvent | ZoneRuleEvent | RainEvent | SitePlanEvent | DecisionOutcomeEvent | InstallationEndEvent;

export type Role = 'technician' | 'researcher' | 'manager' | 'auditor' | 'field-engineer' | 'administrator';

/** Somebody in the simulated lab; the names are invented. */
export interface SimulatedPerson {
  readonly key: string;
  readonly role: Role;
  readonly displayName: string;
}

interface Act {
  /** Names the record this event makes; unique in the list, the same for the same seed and scenario. */
  readonly key: string;
  /** When it was done: RFC 3339 with offset. The list is in this order. */
  readonly at: string;
  /** Key of the person who did it. */
  readonly by: string;
}

export interface CropEvent extends Act { readonly kind: 'crop'; readonly name: string; readonly scientificName: string }
export interface PlantEvent extends Act { readonly kind: 'plant'; readonly cropKey: string; readonly label: string; readonly cultivar: string }
export interface LeafEvent extends Act {
  readonly kind: 'leaf'; readonly plantKey: string; readonly label: string; readonly position: string; readonly growthStage: string; readonly cutAt: string;
}
export interface DiscEvent extends Act { readonly kind: 'disc'; readonly leafKey: string; readonly label: string; readonly diameterMm: string; readonly punchedAt: string }

export interface InstrumentEvent extends Act {
  readonly kind: 'instrument';
  readonly instrumentKind: 'balance' | 'power-meter' | 'oven' | 'bias-source';
  readonly label: string;
  readonly serialNumber: string;
  readonly location: string;
  readonly resolution: string;
  readonly repeatability: string;
  /** UCUM: mg, nW, Cel, V. */
  readonly unit: string;
  readonly checkEveryHours: number;
}
export interface InstrumentCheckEvent extends Act {
  readonly kind: 'instrument-check'; readonly instrumentKey: string; readonly nominal: string; readonly shown: string; readonly tolerance: string;
}
export interface RigEvent extends Act {
  readonly kind: 'rig';
  readonly label: string;
  readonly version: number;
  readonly source: string;
  readonly bandCentreNm: string;
  readonly bandWidthNm: string;
  readonly diffuser: string;
  readonly diffuserTransmittance: string;
  readonly uDiffuserTransmittance: string;
  readonly apertureMm: string;
  readonly meterKey: string;
}

/** How the lab works at the bench; the names of the parameters are those of the contract. */
export interface ProtocolEvent extends Act {
  readonly kind: 'protocol'; readonly name: string; readonly parameters: Readonly<Record<string, string | number | boolean | null | readonly string[]>>;
}
/** What was looked at before the first reading of a run. */
export interface PreflightEvent extends Act {
  readonly kind: 'preflight'; readonly dryingRunKey: string; readonly lampOnSince: string; readonly clockOffsetMs: number; readonly clockRoundTripMs: number;
}
export interface DryingRunOpenEvent extends Act {
  readonly kind: 'drying-run-open'; readonly protocolKey: string; readonly label: string; readonly rigKey: string; readonly balanceKey: string; readonly discKeys: readonly string[]; readonly rhythmMin: number;
}
/** Closing ends capture; releasing (once dry masses are known) gives the run to calibrations. */
export interface DryingRunStepEvent extends Act { readonly kind: 'drying-run-close' | 'drying-run-release'; readonly dryingRunKey: string }

export type DiscState = 'turgid' | 'fresh' | 'drying' | 'dry';
/** `line`: the balance's own line. `typed`: by hand. */
export type Entry = 'line' | 'typed';

interface WeighingFacts {
  readonly discKey: string;
  readonly state: DiscState;
  readonly observedAt: string;
  readonly massText: string;
  readonly massUnit: 'mg';
  readonly balanceKey: string;
  readonly dryingRunKey?: string;
  readonly ovenCycleKey?: string;
  readonly entry: Entry;
  readonly rawLine: string;
  /** What this person would answer if the weighing were questioned. */
  readonly answerIfAsked: string;
}
export interface WeighingEvent extends Act, WeighingFacts { readonly kind: 'weighing' }
/** A weighing that takes the place of an earlier one; `amendmentKey` names the amendment, `key` the new weighing. */
export interface WeighingAmendmentEvent extends Act, WeighingFacts {
  readonly kind: 'weighing-amendment'; readonly amendmentKey: string; readonly amendsKey: string; readonly reasonCode: 'misread'; readonly reason: string;
}
export interface MeterReadingEvent extends Act {
  readonly kind: 'meter-reading';
  readonly lightPath: 'dark' | 'reference' | 'reading';
  readonly observedAt: string;
  readonly powerText: string;
  readonly powerUnit: 'nW';
  /** For a reading only. */
  readonly discKey?: string;
  readonly dryingRunKey: string;
  readonly rawLine: string;
}

export interface OvenStartEvent extends Act {
  readonly kind: 'oven-start'; readonly label: string; readonly ovenKey: string; readonly setTemperatureC: string; readonly discKeys: readonly string[];
}
export interface OvenUnloadEvent extends Act { readonly kind: 'oven-unload'; readonly ovenCycleKey: string }

export interface CalibrationEvent extends Act { readonly kind: 'calibration'; readonly label: string; readonly cropKey: string }
export interface CalibrationFitEvent extends Act {
  readonly kind: 'calibration-fit'; readonly calibrationKey: string; readonly family: 'log-linear'; readonly dryingRunKeys: readonly string[];
}
export interface SignatureEvent extends Act {
  readonly kind: 'signature'; readonly subjectKey: string; readonly subjectKind: 'calibration-version' | 'threshold-certificate' | 'protocol' | 'zone-rule';
  readonly meaning: 'reviewed' | 'approved'; readonly statement: string;
}

export interface DeviceLotEvent extends Act { readonly kind: 'device-lot'; readonly label: string }
export interface DeviceUnitEvent extends Act { readonly kind: 'device-unit'; readonly lotKey: string; readonly label: string }
export interface BiasSweepEvent extends Act {
  readonly kind: 'bias-sweep'; readonly deviceUnitKey: string; readonly direction: 'up' | 'down'; readonly polarity: 'positive' | 'negative';
  /** Pairs (bias V, current A), signed, in the order taken. */
  readonly steps: readonly (readonly [number, number])[];
}
export interface TripTestEvent extends Act {
  readonly kind: 'trip-test'; readonly deviceUnitKey: string; readonly biasV: string; readonly tripPowerText: string; readonly tripPowerUnit: 'nW'; readonly rawLine: string;
  readonly onCurrentA: string; readonly offCurrentA: string; readonly lightCourse: 'ramped'; readonly temperatureC: string;
}
export interface CurveFitEvent extends Act { readonly kind: 'curve-fit'; readonly deviceUnitKey: string; readonly exponent: 'free' }

interface OfUnit extends Act { readonly deviceUnitKey: string }
export interface AbsorptionBandEvent extends OfUnit {
  readonly kind: 'absorption-band'; readonly centreNm: string; readonly widthNm: string; readonly peakAbsorptance: string; readonly method: string;
}
export interface ChoppedRunEvent extends OfUnit { readonly kind: 'chopped-run'; readonly biasV: string; readonly chopHz: string; readonly tripPowersNw: readonly number[] }
export interface TemperatureRunEvent extends OfUnit {
  readonly kind: 'temperature-run'; readonly biasV: string;
  /** Pairs (temperature °C, trip power nW). */
  readonly steps: readonly (readonly [number, number])[];
}
export interface CycleCountEvent extends OfUnit {
  readonly kind: 'cycle-count'; readonly cycles: number; readonly switching: 'cold'; readonly pullInV: string; readonly contactResistanceOhm: string;
}
export interface ResetPulseEvent extends OfUnit { readonly kind: 'reset-pulse'; readonly pulseV: string; readonly pulseMs: string; readonly succeeded: boolean }
export interface UnitRetirementEvent extends OfUnit { readonly kind: 'unit-retirement'; readonly cause: 'reset-fails'; readonly reason: string }
export interface LotAcceptanceEvent extends Act {
  readonly kind: 'lot-acceptance'; readonly lotKey: string; readonly criterion: string; readonly reliability: string; readonly confidence: string;
  readonly allowedFailures: number; readonly testedUnits: number; readonly failedUnits: number; readonly note: string;
}

export interface LightReferenceEvent extends Act {
  readonly kind: 'light-reference';
  readonly label: string;
  readonly site: string;
  readonly basis: 'measured';
  /** Mean of the series. */
  readonly powerText: string;
  readonly powerUnit: 'nW';
  /** SD of ln power over the series, fraction. */
  readonly relativeSd: string;
  readonly series: readonly { readonly at: string; readonly powerText: string }[];
  /** All that was read, the brightest among it. */
  readonly readings: readonly { readonly at: string; readonly powerText: string }[];
  readonly armedFromMin: number;
  readonly armedUntilMin: number;
  readonly latitude: string;
  readonly longitude: string;
  readonly bandCentreNm: string;
  readonly bandWidthNm: string;
  readonly diffuser: string;
  readonly note: string;
}
/** Asks for a certificate; the bias is for the reader of these events to compute. */
export interface CertificateEvent extends Act {
  readonly kind: 'certificate';
  readonly deviceUnitKey: string;
  /** Key of the `calibration-fit`. */
  readonly calibrationVersionKey: string;
  /** Key of the `curve-fit`. */
  readonly curveKey: string;
  readonly lightReferenceKey: string;
  /** Fraction. */
  readonly targetRwc: number;
  readonly targetBasis: string;
  readonly biasStepV: number;
  /** RWC at which the invented agronomist calls a trip false, and silence a miss; fractions. */
  readonly falseTripRwc: number;
  readonly missedTripRwc: number;
  readonly validUntil: string;
}

export interface InstallationEvent extends Act {
  readonly kind: 'installation';
  readonly deviceUnitKey: string;
  readonly certificateKey: string;
  readonly site: string;
  readonly zone: string;
  readonly plantNote: string;
  readonly plantKey?: string;
  readonly leafSide: 'adaxial-up' | 'abaxial-up';
  readonly tiltDeg: string;
  readonly latitude: string;
  readonly longitude: string;
  readonly biasReadbackV: string;
  readonly armedAt: string;
}
export interface TripEvent extends Act {
  readonly kind: 'trip';
  readonly installationKey: string;
  /** When it latched; null where somebody only found it latched. */
  readonly trippedAt: string | null;
  readonly seenAt: string;
  readonly source: 'person' | 'logger';
  /** In-band open-sky power then, nW; null where nothing measured it. */
  readonly lightPowerNw: string | null;
  readonly note: string;
  /** What the logger sent; null where a person tells it. */
  readonly rawLine: string | null;
}
export interface DecisionEvent extends Act {
  readonly kind: 'decision';
  readonly zone: string;
  readonly action: 'irrigate' | 'hold' | 'inspect';
  readonly reason: string;
  readonly depthMm: string | null;
  readonly overrode: string | null;
  readonly tripKeys: readonly string[];
}

interface AtInstallation extends Act { readonly installationKey: string; readonly observedAt: string }
/** How a unit stands: what loggers send besides trips. */
export interface FieldReportEvent extends AtInstallation {
  readonly kind: 'field-report'; readonly latched: boolean; readonly source: 'person' | 'logger'; readonly lightPowerNw: string | null; readonly biasReadbackV: string | null; readonly rawLine: string | null;
}
export interface LatchResetEvent extends AtInstallation { readonly kind: 'latch-reset'; readonly opened: boolean; readonly note: string }
export interface FieldCheckEvent extends AtInstallation { readonly kind: 'field-check'; readonly discKeys: readonly string[]; readonly note: string }
export interface InstallationEndEvent extends AtInstallation { readonly kind: 'installation-end'; readonly reason: string }
/** Asks for the RWC of a disc that was in no drying run. */
export interface RwcSeriesEvent extends Act { readonly kind: 'rwc-series'; readonly discKey: string }
/** What a zone's trips must be before they ask for water; the names are those of the contract. */
export interface ZoneRuleEvent extends Act {
  readonly kind: 'zone-rule'; readonly zone: string; readonly latitude: string; readonly longitude: string; readonly needed: number; readonly windows: number; readonly hoursAroundNoon: string;
  readonly maxAgeHours: string; readonly silentAfterHours: string; readonly minHealthy: number; readonly lockoutHours: string; readonly rainHoldMm: string; readonly rainHoldHours: string; readonly basis: string;
}
export interface RainEvent extends Act { readonly kind: 'rain'; readonly zone: string; readonly observedAt: string; readonly depthMm: string; readonly note: string }
/** A picture of a site from above, drawn by whoever reads the events. */
export interface SitePlanEvent extends Act {
  readonly kind: 'site-plan'; readonly site: string; readonly northDeg: string; readonly southDeg: string; readonly westDeg: string; readonly eastDeg: string;
}
export interface DecisionOutcomeEvent extends Act {
  readonly kind: 'decision-outcome'; readonly decisionKey: string; readonly observedAt: string; readonly verdict: 'right' | 'too-early' | 'too-late' | 'not-needed' | 'unclear'; readonly seen: string;
}
