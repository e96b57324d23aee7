import { createStream } from '#libs/numeric';
import { InputError, requirePositive } from '#libs/quantity';
import { thresholdPower } from '#libs/switch-device';
import { certificateKey, installedUnits } from './certification.js';
import { unitKey } from './devices.js';
import type { DecisionEvent, InstallationEvent, LabEvent, TripEvent } from './events.js';
import type { SimulatedLab } from './lab.js';
import { TrueLeaf, drawLeaf, trueTransmittance } from './leaf.js';
import { Calendar, calendarUntil } from './moment.js';
import { inOrder } from './order.js';
import type { CropScenario, Scenario } from './scenario.js';
import { dayShape, daySteps, drawDay, drawFlicker } from './sky.js';

/** What is true of an installed unit and its leaf. */
export interface TrueInstallation {
  readonly leaf: TrueLeaf;
  readonly appliedBiasV: number;
  /** True RWC of the leaf when the unit tripped; null while it has not. */
  readonly rwcAtTrip: number | null;
  /** Light then beside the usual noon. */
  readonly lightRatioAtTrip: number | null;
}

export interface SimulatedField {
  readonly events: readonly LabEvent[];
  readonly truth: { readonly installations: Readonly<Record<string, TrueInstallation>>; readonly irrigatedAt: Readonly<Record<string, string>> };
}

const MINUTE = 60_000;
const INSTALLED_DAY = 10;

interface Watched {
  readonly key: string;
  readonly crop: CropScenario;
  readonly unitIndex: number;
  readonly leaf: TrueLeaf;
  readonly thresholdNw: number;
  readonly wavelengthNm: number;
  readonly appliedBiasV: number;
  readonly tilt: number;
  readonly leafOffset: number;
  /** A logger reports at once; otherwise somebody finds it on the evening round. */
  readonly logged: boolean;
  trip: { event: TripEvent; rwc: number; lightRatio: number } | null;
}

/**
 * The field: units installed at the biases their certificates gave, leaves drying under a changing sky, trips, decisions.
 *
 * A unit trips at the first moment at which the light behind its leaf reaches its true threshold at the bias applied, so
 * what certificates promise can be held against what happened.
 *
 * @param lab of `simulateLab`
 * @param biasV bias to apply by certificate key, V, as the certificates state it; one for every certificate of the lab
 * @returns events from installation to decision, and the true RWC at every trip
 * @throws InputError `BIAS_MISSING`, `NOT_POSITIVE`, `BIAS_AT_OR_ABOVE_PULL_IN`
 *
 * @example
 * const lab = simulateLab('demo', demoScenario('2026-06-30T17:00:00+02:00'));
 * const biasV = Object.fromEntries([1, 2, 3, 4, 5, 6].map((i) => [`certificate/${i}`, 9.4]));
 * simulateField(lab, biasV).events[0].kind // => 'installation'
 */
export function simulateField(lab: SimulatedLab, biasV: Readonly<Record<string, number>>): SimulatedField {
  const { scenario, seed } = lab;
  const calendar = calendarUntil(scenario.endsAt);
  const stream = createStream(seed, 7);
  const watched = installedUnits(scenario).map(({ crop, unitIndex }, i) => install(lab, crop, unitIndex, biasV, i, stream));
  const installations = watched.map((w, i) => installationEvent(w, i, calendar, stream));
  const irrigatedAt: Record<string, string> = {};
  const decisions = scenario.crops.flatMap((crop, c) => season(crop, watched.filter((w) => w.crop === crop), c === 1, scenario, calendar, createStream(seed, 8 + c), irrigatedAt));
  const trips = watched.flatMap((w) => (w.trip === null ? [] : [w.trip.event]));
  return {
    events: inOrder([...installations, ...trips, ...decisions]),
    truth: {
      installations: Object.fromEntries(watched.map((w) => [w.key, {
        leaf: w.leaf, appliedBiasV: w.appliedBiasV, rwcAtTrip: w.trip?.rwc ?? null, lightRatioAtTrip: w.trip?.lightRatio ?? null,
      }])),
      irrigatedAt,
    },
  };
}

function install(lab: SimulatedLab, crop: CropScenario, unitIndex: number, biasV: Readonly<Record<string, number>>, i: number, stream: ReturnType<typeof createStream>): Watched {
  const { devices, sky } = lab.scenario;
  const asked = biasV[certificateKey(unitIndex)];
  if (asked === undefined) {
    throw new InputError('BIAS_MISSING', `biasV.${certificateKey(unitIndex)}`, 'has no bias', 'Give the bias of every certificate of the lab.');
  }
  const leaf = drawLeaf(crop.population, stream);
  const appliedBiasV = requirePositive(`biasV.${certificateKey(unitIndex)}`, asked) + devices.biasSourceSdV * stream.normal();
  return {
    key: `installation/${unitIndex + 1}`, crop, unitIndex, leaf, appliedBiasV, wavelengthNm: lab.scenario.rig.wavelengthNm,
    thresholdNw: thresholdPower(lab.truth.units[unitKey(unitIndex)]!, appliedBiasV) * Math.exp(devices.tripScatter * stream.normal()),
    tilt: Math.exp(sky.tiltSd * stream.normal()),
    leafOffset: crop.fieldRwc.leafSd * stream.normal(),
    logged: i % 3 !== 2,
    trip: null,
  };
}

function installationEvent(w: Watched, i: number, calendar: Calendar, stream: ReturnType<typeof createStream>): InstallationEvent {
  const armedAt = calendar.moment(INSTALLED_DAY, 15 + i * 0.25);
  return {
    kind: 'installation', key: w.key, at: calendar.text(armedAt + 2 * MINUTE), by: 'field-engineer-1', deviceUnitKey: unitKey(w.unitIndex), certificateKey: certificateKey(w.unitIndex),
    site: w.crop.site, zone: w.crop.zone, plantNote: `Row ${(i % 3) + 2}, plant ${4 + ((i * 7) % 11)}, ${w.crop.position}`, leafSide: 'adaxial-up',
    tiltDeg: String(Math.round(8 + 10 * stream.uniform())), latitude: (w.crop.latitude + i * 0.0001).toFixed(4), longitude: (w.crop.longitude + (i % 3) * 0.0001).toFixed(4),
    biasReadbackV: w.appliedBiasV.toFixed(3), armedAt: calendar.text(armedAt),
  };
}

/** A zone day by day until it is irrigated or the story ends; fills in the trips and returns the decisions. */
function season(
  crop: CropScenario, units: readonly Watched[], heldOnce: boolean, scenario: Scenario, calendar: Calendar, stream: ReturnType<typeof createStream>, irrigatedAt: Record<string, string>,
): DecisionEvent[] {
  const decisions: DecisionEvent[] = [];
  let rain: Rain = heldOnce ? 'forecast' : 'none';
  for (let day = INSTALLED_DAY - 1; day >= 1; day -= 1) {
    const elapsed = INSTALLED_DAY - day;
    const brightness = drawDay(scenario.sky, stream);
    for (const clock of daySteps()) {
      const sky = dayShape(scenario.sky, clock) * brightness * drawFlicker(scenario.sky, stream);
      for (const unit of units) watch(unit, fieldRwc(crop, unit, elapsed, clock), sky, calendar, day, clock, stream);
    }
    const decision = decide(crop, units, day, rain, calendar);
    if (decision === null) continue;
    decisions.push(decision);
    if (decision.action === 'hold') rain = 'failed';
    if (decision.action !== 'irrigate') continue;
    irrigatedAt[crop.zone] = decision.at;
    break;
  }
  return decisions;
}

/** True RWC of a leaf: falling from day to day, lowest in the early afternoon. */
function fieldRwc({ fieldRwc: f }: CropScenario, unit: Watched, elapsedDays: number, clock: number): number {
  const dip = f.middayDip * Math.exp(-0.5 * ((clock - 14) / 2.5) ** 2);
  return f.start - f.fallPerDay * (elapsedDays - 1 + (clock - 9) / 24) - dip + unit.leafOffset;
}

function watch(unit: Watched, rwc: number, sky: number, calendar: Calendar, day: number, clock: number, stream: ReturnType<typeof createStream>): void {
  // Drawn whether needed or not, so that one unit's trip never moves another's light.
  const metered = Math.exp(0.015 * stream.normal());
  const lightNw = unit.crop.noonPowerNw * sky * unit.tilt;
  if (unit.trip !== null || trueTransmittance(unit.leaf, rwc, unit.wavelengthNm) * lightNw < unit.thresholdNw) return;
  const at = calendar.moment(day, clock);
  const seen = unit.logged ? at : calendar.moment(day, 17.6);
  unit.trip = {
    rwc,
    lightRatio: sky * unit.tilt,
    event: {
      kind: 'trip', key: `trip/${unit.unitIndex + 1}`, at: calendar.text(seen + MINUTE), by: 'field-engineer-1', installationKey: unit.key,
      trippedAt: unit.logged ? calendar.text(at) : null, seenAt: calendar.text(seen), source: unit.logged ? 'logger' : 'person',
      lightPowerNw: unit.logged ? (unit.crop.noonPowerNw * sky * metered).toFixed(0) : null,
      note: unit.logged ? 'Reported by the logger.' : 'Found latched on the evening round.',
      rawLine: null,
    },
  };
}

/** What the forecast does to a zone's first call for water. */
type Rain = 'none' | 'forecast' | 'failed';

/** The evening's decision: a new trip is looked at, enough of them ask for water (once overruled by a forecast where the story wants it). */
function decide(crop: CropScenario, units: readonly Watched[], day: number, rain: Rain, calendar: Calendar): DecisionEvent | null {
  const tripped = units.filter((u) => u.trip !== null);
  const at = calendar.moment(day, 18.5);
  const fresh = tripped.some((u) => Date.parse(u.trip!.event.seenAt) > calendar.moment(day, 0));
  const enough = tripped.length >= crop.irrigateAtTrips;
  if (!enough && !fresh) return null;
  const base = { kind: 'decision' as const, key: `decision/${crop.zone}/${INSTALLED_DAY - day}`, at: calendar.text(at), by: 'manager-1', zone: crop.zone, tripKeys: tripped.map((u) => u.trip!.event.key) };
  const count = `${tripped.length} of ${units.length} units in ${crop.zone} have tripped`;
  if (!enough) return { ...base, action: 'inspect', reason: `${count}; looked at the leaves before deciding.`, depthMm: null, overrode: null };
  if (rain === 'forecast') {
    return { ...base, action: 'hold', reason: `${count}; 9 mm of rain are forecast for tonight.`, depthMm: null, overrode: 'The trips ask for irrigation today.' };
  }
  const sky = rain === 'failed' ? 'the rain that was forecast did not come' : 'no rain in sight';
  return { ...base, action: 'irrigate', reason: `${count}; ${sky}.`, depthMm: crop.zone.startsWith('V') ? '12' : '8', overrode: null };
}
