import { RandomStream, createStream } from '#libs/numeric';
import { InputError, requirePositive } from '#libs/quantity';
import { thresholdPower } from '#libs/switch-device';
import { certificateKey, installedUnits } from './certification.js';
import { unitKey } from './devices.js';
import { checkedAtTheBench } from './field-check.js';
import type { FieldReportEvent, InstallationEvent, LabEvent, LatchResetEvent, TripEvent } from './events.js';
import { BALANCE, shownMass } from './instruments.js';
import type { SimulatedLab } from './lab.js';
import { drawLeaf, trueTransmittance, type TrueLeaf } from './leaf.js';
import { Calendar, calendarUntil } from './moment.js';
import { inOrder } from './order.js';
import { demoScenario, type CropScenario, type Scenario } from './scenario.js';
import { dayShape, daySteps, drawDay, drawFlicker } from './sky.js';

/**
 * One leaf on one day under one sky, its latch opened that morning: what a certificate's chances are about.
 * `wet`: at the RWC at which a trip is called false. `dry`: at that at which silence is called a miss. `between`: neither.
 */
export interface Exposure {
  readonly installationKey: string;
  readonly certificateKey: string;
  readonly zone: string;
  /** Days since the units were armed. */
  readonly day: number;
  readonly kind: 'wet' | 'dry' | 'between';
  readonly rwc: number;
  readonly tripped: boolean;
  /** Key of the trip; null where it did not trip. */
  readonly tripKey: string | null;
}

export interface SimulatedSeason {
  /** What people do and find, in order of time. */
  readonly events: readonly LabEvent[];
  /** What loggers send, in order of time: trips and reports. */
  readonly logged: readonly (TripEvent | FieldReportEvent)[];
  readonly truth: {
    readonly exposures: readonly Exposure[];
    /** RWC of the leaf at its trip, by key of the field check. */
    readonly checks: Readonly<Record<string, { readonly rwc: number; readonly tripKey: string; readonly installationKey: string }>>;
    /** The unit whose logger died, and the days since arming from which on nothing was heard of it. */
    readonly silent: { readonly installationKey: string; readonly fromDay: number };
  };
}

const MINUTE = 60_000;
/** The units are armed on the evening before the first day, so many days before the end. */
const ARMED_DAY = 11;
const DAYS = 9;
/** Leaves begin to dry on different days, so that few of them share a sky. */
const STAGGER = 4;
const DRYING_DAYS = DAYS - STAGGER;
const WELL_WATERED = 0.985;
/** A logger's meter, SD of ln power. */
const LOGGER_METER_SD = 0.015;

const CROPS: readonly (Pick<CropScenario, 'key' | 'name' | 'scientificName' | 'cultivar' | 'site' | 'zone'> & { readonly like: 0 | 1; readonly water: number })[] = [
  { key: 'grapevine', name: 'Grapevine', scientificName: 'Vitis vinifera', cultivar: 'Tarnwick Blue', site: 'Lower terrace', zone: 'V1', like: 0, water: 1 },
  { key: 'pepper', name: 'Pepper', scientificName: 'Capsicum annuum', cultivar: 'Ossery Lantern', site: 'North beds', zone: 'P1', like: 1, water: 1 },
  { key: 'tomato', name: 'Tomato', scientificName: 'Solanum lycopersicum', cultivar: 'Wharram Round', site: 'South beds', zone: 'T1', like: 1, water: 0.94 },
  { key: 'citrus', name: 'Orange', scientificName: 'Citrus sinensis', cultivar: 'Hallin Sweet', site: 'Upper terrace', zone: 'C1', like: 0, water: 1.12 },
  { key: 'olive', name: 'Olive', scientificName: 'Olea europaea', cultivar: 'Marrick Grey', site: 'East slope', zone: 'O1', like: 0, water: 1.06 },
  { key: 'bean', name: 'Bean', scientificName: 'Phaseolus vulgaris', cultivar: 'Keld Climber', site: 'West beds', zone: 'B1', like: 1, water: 0.88 },
];

/**
 * A scenario for {@link simulateSeason}: several crops, each with a calibration of its own, and many units.
 *
 * @param endsAt the moment the season ends, RFC 3339 with offset @param size crops 1 to 6, units a crop, leaves of each calibration
 * @throws InputError `OUT_OF_RANGE` for the number of crops
 *
 * @example
 * seasonScenario('2026-06-30T17:00:00+02:00', { crops: 2, unitsPerCrop: 12, leaves: 8 }).devices.installedPerCrop // => 12
 */
export function seasonScenario(endsAt: string, { crops, unitsPerCrop, leaves }: { readonly crops: number; readonly unitsPerCrop: number; readonly leaves: number }): Scenario {
  if (!(Number.isInteger(crops) && crops >= 1 && crops <= CROPS.length)) throw new InputError('OUT_OF_RANGE', 'crops', `is ${crops}`, `Give 1 to ${CROPS.length}.`);
  const demo = demoScenario(endsAt);
  const units = crops * unitsPerCrop;
  return {
    ...demo,
    crops: CROPS.slice(0, crops).map(({ like, water, ...named }): CropScenario => {
      const model = demo.crops[like]!;
      const population = { ...model.population, ewtTurgidUm: model.population.ewtTurgidUm * water };
      // The plots are chosen so bright that every crop's threshold lies in the middle of what the units reach.
      const noonPowerNw = Math.round(THRESHOLD_NW / trueTransmittance(population, model.targetRwc, demo.rig.wavelengthNm));
      return { ...model, ...named, population, noonPowerNw, runs: [leaves], extraDiscs: 0, plants: Math.min(4, leaves) };
    }),
    devices: {
      ...demo.devices, installedPerCrop: unitsPerCrop, fieldDriftSd: FIELD_DRIFT_SD, releasePart: 0.5, testedParts: [0.35, 0.55, 0.7, 0.85], repeats: 2,
      lots: [{ label: 'LOT-2621', units: Math.ceil(units / 2) }, { label: 'LOT-2622', units: Math.floor(units / 2) }],
    },
    rhythmMin: 15,
    cycles: 8,
  };
}
const THRESHOLD_NW = 850;
/** As certificates take it to be. Common practice, no source. */
const FIELD_DRIFT_SD = 0.005;

interface Watched {
  readonly key: string;
  readonly certificateKey: string;
  readonly unitIndex: number;
  readonly crop: CropScenario;
  readonly leaf: TrueLeaf;
  readonly tilt: number;
  readonly appliedBiasV: number;
  /** As it is in the field. */
  readonly pullInV: number;
  /** The day on which its leaf begins to dry. */
  readonly dryFrom: number;
  readonly logged: boolean;
}

/**
 * A season under known truth: every leaf stands a day at the RWC at which its certificate calls a trip false, dries from
 * day to day to that at which silence is a miss, and every latch is opened each morning, so that a day is one exposure.
 * Discs are taken at the first trip of each drying leaf and go over the bench; what loggers send is told apart.
 *
 * @param lab of `simulateLab` with a {@link seasonScenario}
 * @param biasV bias by certificate key, V, as certificates state it
 * @param meanwhile bias that is really set, where it is another: a fault planted
 * @throws InputError `BIAS_MISSING`, `NOT_POSITIVE`, `BIAS_AT_OR_ABOVE_PULL_IN`
 *
 * @example
 * const lab = simulateLab('season', seasonScenario('2026-06-30T17:00:00+02:00', { crops: 1, unitsPerCrop: 4, leaves: 4 }));
 * const biasV = Object.fromEntries([1, 2, 3, 4].map((i) => [`certificate/${i}`, 9.4]));
 * simulateSeason(lab, biasV).truth.exposures.length // => 32
 */
export function simulateSeason(lab: SimulatedLab, biasV: Readonly<Record<string, number>>, reallySetV: Readonly<Record<string, number>> = biasV): SimulatedSeason {
  const { scenario, seed } = lab;
  const calendar = calendarUntil(scenario.endsAt);
  const [stream, drift] = [createStream(seed, 20), createStream(seed, 22)];
  const watched = installedUnits(scenario).map(({ crop, unitIndex }, i) => arm(lab, crop, unitIndex, biasV, reallySetV, i, stream, drift));
  const silent = { installationKey: watched[0]!.key, fromDay: DAYS - STAGGER };
  const installations = watched.map((unit, i) => installationEvent(unit, biasV[unit.certificateKey]!, i, calendar, stream));
  const days = scenario.crops.flatMap((crop, c) => {
    const sky = createStream(seed, 30 + c);
    return Array.from({ length: DAYS }, (_, day) => dayOf(lab, watched.filter((unit) => unit.crop === crop), day, calendar, sky));
  });
  const exposed = days.flat().filter(({ exposure }) => !(exposure.installationKey === silent.installationKey && exposure.day >= silent.fromDay));
  const checks = checkedAtTheBench(lab, calendar, firstDryTrips(watched, exposed));
  return {
    events: inOrder([
      ...installations, ...morningChecks(lab, calendar, createStream(seed, 21)), ...checks.events,
      ...exposed.flatMap(({ trip, unit }) => (trip && !unit.logged ? [trip] : [])), ...exposed.flatMap(({ reset }) => reset ?? []),
    ]),
    logged: inOrder([...exposed.flatMap(({ trip, unit }) => (trip && unit.logged ? [trip] : [])), ...exposed.flatMap(({ report }) => report ?? [])]) as (TripEvent | FieldReportEvent)[],
    truth: { exposures: exposed.map(({ exposure }) => exposure), checks: checks.truth, silent },
  };
}

function arm(
  lab: SimulatedLab, crop: CropScenario, unitIndex: number, biasV: Readonly<Record<string, number>>, reallySetV: Readonly<Record<string, number>>, i: number, stream: RandomStream, drift: RandomStream,
): Watched {
  const key = certificateKey(unitIndex);
  const asked = reallySetV[key];
  if (asked === undefined || biasV[key] === undefined) throw new InputError('BIAS_MISSING', `biasV.${key}`, 'has no bias', 'Give the bias of every certificate of the lab.');
  return {
    key: `installation/${unitIndex + 1}`, certificateKey: key, unitIndex, crop, leaf: drawLeaf(crop.population, stream), tilt: Math.exp(lab.scenario.sky.tiltSd * stream.normal()),
    pullInV: lab.truth.units[unitKey(unitIndex)]!.pullInV * Math.exp(lab.scenario.devices.fieldDriftSd * drift.normal()),
    appliedBiasV: requirePositive(`biasV.${key}`, asked) + lab.scenario.devices.biasSourceSdV * stream.normal(), dryFrom: i % STAGGER, logged: i % 3 !== 2,
  };
}

function installationEvent(unit: Watched, biasV: number, i: number, calendar: Calendar, stream: RandomStream): InstallationEvent {
  const armedAt = calendar.moment(ARMED_DAY, 16 + (i % 120) / 60);
  const { crop } = unit;
  return {
    kind: 'installation', key: unit.key, at: calendar.text(armedAt + 2 * MINUTE), by: 'field-engineer-1', deviceUnitKey: unitKey(unit.unitIndex), certificateKey: unit.certificateKey, plantKey: plantKeyOf(unit),
    site: crop.site, zone: crop.zone, plantNote: `Row ${(i % 6) + 1}, plant ${1 + ((i * 7) % 23)}`, leafSide: 'adaxial-up', tiltDeg: String(Math.round(8 + 10 * stream.uniform())),
    latitude: (crop.latitude + (i % 7) * 0.0001).toFixed(4), longitude: (crop.longitude + (i % 5) * 0.0001).toFixed(4), biasReadbackV: biasV.toFixed(3), armedAt: calendar.text(armedAt),
  };
}

const plantKeyOf = ({ crop, unitIndex }: Watched): string => `plant/${crop.key}/${(unitIndex % crop.plants) + 1}`;

/** What a leaf's RWC is over a day's armed hours, and what that day is for its certificate. */
function standing({ crop, dryFrom }: Watched, day: number): { readonly rwc: number; readonly kind: Exposure['kind'] } {
  const drying = day - dryFrom;
  if (drying < 0 || drying > DRYING_DAYS - 1) return { rwc: WELL_WATERED, kind: 'between' };
  const [wet, dry] = [crop.targetRwc + RISK_RWC, crop.targetRwc - RISK_RWC];
  return { rwc: wet + ((dry - wet) * drying) / (DRYING_DAYS - 1), kind: drying === 0 ? 'wet' : drying === DRYING_DAYS - 1 ? 'dry' : 'between' };
}
/** How far from the target `certificationEvents` asks for the chances of a false and of a missed trip. */
const RISK_RWC = 0.12;

interface Day {
  readonly unit: Watched;
  readonly exposure: Exposure;
  readonly trip: TripEvent | null;
  /** Every other evening. */
  readonly report: FieldReportEvent | null;
  readonly reset: LatchResetEvent | null;
}

/** A zone over one day: one sky, every unit of it under its own leaf. */
function dayOf(lab: SimulatedLab, units: readonly Watched[], day: number, calendar: Calendar, stream: RandomStream): Day[] {
  const { sky, devices, rig } = lab.scenario;
  const brightness = drawDay(sky, stream);
  const steps = daySteps().map((clock) => ({ clock, light: dayShape(sky, clock) * brightness * drawFlicker(sky, stream) }));
  const before = ARMED_DAY - 1 - day;
  return units.map((unit): Day => {
    const { rwc, kind } = standing(unit, day);
    const thresholdNw = thresholdPower({ ...lab.truth.units[unitKey(unit.unitIndex)]!, pullInV: unit.pullInV }, unit.appliedBiasV) * Math.exp(devices.tripScatter * stream.normal());
    const metered = Math.exp(LOGGER_METER_SD * stream.normal());
    const through = trueTransmittance(unit.leaf, rwc, rig.wavelengthNm) * unit.crop.noonPowerNw * unit.tilt;
    const latched = steps.find(({ light }) => light * through >= thresholdNw);
    const name = `${unit.unitIndex + 1}/${day}`;
    const lightPowerNw = latched && unit.logged ? (unit.crop.noonPowerNw * latched.light * metered).toFixed(0) : null;
    const trip = latched ? tripEvent(unit, name, calendar.moment(before, latched.clock), calendar.moment(before, 17.6), lightPowerNw, calendar) : null;
    return {
      unit, trip,
      exposure: { installationKey: unit.key, certificateKey: unit.certificateKey, zone: unit.crop.zone, day, kind, rwc, tripped: trip !== null, tripKey: trip?.key ?? null },
      report: day % 2 === 1 ? null : reportEvent(unit, name, trip !== null, calendar.moment(before, 18), calendar),
      reset: trip && day < DAYS - 1 ? {
        kind: 'latch-reset', key: `reset/${name}`, at: calendar.text(calendar.moment(before - 1, 7.5)), by: 'field-engineer-1', installationKey: unit.key, observedAt: calendar.text(calendar.moment(before - 1, 7.4)), opened: true, note: 'Pulse of 22 V, 5 ms, on the morning round.',
      } : null,
    };
  });
}

function tripEvent(unit: Watched, name: string, at: number, foundAt: number, lightPowerNw: string | null, calendar: Calendar): TripEvent {
  const seen = unit.logged ? at : foundAt;
  return {
    kind: 'trip', key: `trip/${name}`, at: calendar.text(seen), by: 'field-engineer-1', installationKey: unit.key, trippedAt: unit.logged ? calendar.text(at) : null, seenAt: calendar.text(seen),
    source: unit.logged ? 'logger' : 'person', lightPowerNw, note: unit.logged ? '' : 'Found latched on the evening round.', rawLine: unit.logged ? `TRIP ${unit.unitIndex + 1} ${lightPowerNw}` : null,
  };
}

const reportEvent = (unit: Watched, name: string, latched: boolean, at: number, calendar: Calendar): FieldReportEvent => ({
  kind: 'field-report', key: `report/${name}`, at: calendar.text(at), by: 'field-engineer-1', installationKey: unit.key, observedAt: calendar.text(at), latched, source: 'logger',
  lightPowerNw: null, biasReadbackV: unit.appliedBiasV.toFixed(2), rawLine: `STATE ${unit.unitIndex + 1} ${latched ? 1 : 0}`,
});

/** The first trip of each leaf that dries: discs are taken at it. */
function firstDryTrips(watched: readonly Watched[], days: readonly Day[]) {
  return watched.flatMap((unit) => {
    const first = days.find(({ unit: of, trip, exposure }) => of === unit && trip !== null && exposure.rwc < WELL_WATERED);
    return first ? [{ name: String(unit.unitIndex + 1), installationKey: unit.key, tripKey: first.trip!.key, plantKey: plantKeyOf(unit), crop: unit.crop, leaf: unit.leaf, rwc: first.exposure.rwc, daysBefore: ARMED_DAY - 1 - first.exposure.day }] : [];
  });
}

/** The balance is checked every morning of the season. */
function morningChecks({ scenario }: SimulatedLab, calendar: Calendar, stream: RandomStream): LabEvent[] {
  return Array.from({ length: ARMED_DAY }, (_, i): LabEvent => {
    const at = calendar.text(calendar.moment(ARMED_DAY - i, 7.2));
    return { kind: 'instrument-check', key: `check/season/${i}`, at, by: 'technician-1', instrumentKey: BALANCE, nominal: '100.00', shown: shownMass(scenario.balance, 100, stream), tolerance: '0.05' };
  });
}
