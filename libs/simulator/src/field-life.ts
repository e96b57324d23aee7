import { createStream } from '#libs/numeric';
import type { LabEvent, ZoneRuleEvent } from './events.js';
import type { SimulatedField } from './field.js';
import { checkedAtTheBench, type CheckedLeaf } from './field-check.js';
import { BALANCE, shownMass } from './instruments.js';
import type { SimulatedLab } from './lab.js';
import { Calendar, calendarUntil } from './moment.js';
import { inOrder } from './order.js';
import type { CropScenario } from './scenario.js';

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;
const RULED_DAY = 10;
/** A rule waits so long for a word of a unit before it calls it silent, h. */
const SILENT_AFTER_H = 72;

type Trip = Extract<LabEvent, { kind: 'trip' }>;
type Decision = Extract<LabEvent, { kind: 'decision' }>;
type Installation = Extract<LabEvent, { kind: 'installation' }>;

/**
 * What goes on around the trips and decisions of {@link simulateField}: the plan of each site, a signed rule for each zone, what
 * loggers report, latches opened after irrigation, rain, discs taken at tripped leaves, and how decisions turned out.
 * The last unit's logger dies on the way.
 *
 * @param lab of `simulateLab` @param field of `simulateField` on the same lab
 * @returns events in order of time, to be read after those of the field
 *
 * @example
 * const lab = simulateLab('demo', demoScenario('2026-06-30T17:00:00+02:00'));
 * const biasV = Object.fromEntries([1, 2, 3, 4, 5, 6].map((i) => [`certificate/${i}`, 9.4]));
 * simulateFieldLife(lab, simulateField(lab, biasV))[0].kind // => 'site-plan'
 */
export function simulateFieldLife(lab: SimulatedLab, field: SimulatedField): readonly LabEvent[] {
  const calendar = calendarUntil(lab.scenario.endsAt);
  const installations = field.events.filter((event): event is Installation => event.kind === 'installation');
  const trips = field.events.filter((event): event is Trip => event.kind === 'trip');
  const decisions = field.events.filter((event): event is Decision => event.kind === 'decision');
  const wateredAt = new Map(Object.entries(field.truth.irrigatedAt).map(([zone, at]) => [zone, Date.parse(at)]));
  return inOrder([
    ...lab.scenario.crops.flatMap((crop) => [sitePlan(crop, calendar), ...zoneRule(crop, calendar)]),
    ...reports(installations, trips, wateredAt, calendar),
    ...resets(installations, trips, wateredAt, calendar),
    ...lab.scenario.crops.flatMap((crop, i) => rain(crop, i, calendar)),
    ...decisions.flatMap((decision) => outcome(decision, calendar)),
    ...checks(lab, field, installations, trips, calendar),
  ].filter(({ at }) => Date.parse(at) <= calendar.endsAtMs));
}

/** The site lies in the middle of its picture, some 130 m from edge to edge. */
function sitePlan({ key, site, latitude, longitude }: CropScenario, calendar: Calendar): LabEvent {
  const degrees = (value: number): string => value.toFixed(5);
  return {
    kind: 'site-plan', key: `site-plan/${key}`, at: calendar.text(calendar.moment(RULED_DAY, 10)), by: 'field-engineer-1', site,
    northDeg: degrees(latitude + 0.0009), southDeg: degrees(latitude - 0.0003), westDeg: degrees(longitude - 0.0007), eastDeg: degrees(longitude + 0.001),
  };
}

function zoneRule({ zone, latitude, longitude, irrigateAtTrips }: CropScenario, calendar: Calendar): LabEvent[] {
  const key = `zone-rule/${zone}`;
  const rule: ZoneRuleEvent = {
    kind: 'zone-rule', key, at: calendar.text(calendar.moment(RULED_DAY, 11)), by: 'field-engineer-1', zone, latitude: String(latitude), longitude: String(longitude),
    needed: irrigateAtTrips, windows: 1, hoursAroundNoon: '3', maxAgeHours: '72', silentAfterHours: String(SILENT_AFTER_H), minHealthy: 2, lockoutHours: '36', rainHoldMm: '5', rainHoldHours: '24',
    basis: 'Invented for the demo: two of three units, one noon, as the grower waters every other day at most.',
  };
  const signed = (meaning: 'reviewed' | 'approved', by: string, clock: number): LabEvent => (
    { kind: 'signature', key: `${key}/${meaning}`, at: calendar.text(calendar.moment(RULED_DAY, clock)), by, subjectKey: key, subjectKind: 'zone-rule', meaning, statement: 'Replayed on last season’s notes.' });
  return [rule, signed('reviewed', 'researcher-2', 13), signed('approved', 'manager-1', 14)];
}

/** Noon and evening, by logger; the last unit's falls silent four days before the end. */
function reports(installations: readonly Installation[], trips: readonly Trip[], wateredAt: ReadonlyMap<string, number>, calendar: Calendar): LabEvent[] {
  return installations.flatMap((installation, i) => {
    const until = i === installations.length - 1 ? 4 : 0;
    const days = Array.from({ length: RULED_DAY - until }, (_, d) => RULED_DAY - 1 - d);
    return days.flatMap((day) => [12, 18.2].flatMap((clock, c): LabEvent[] => {
      const at = calendar.moment(day, clock) + i * MINUTE;
      const latched = trips.some(({ installationKey, seenAt }) => installationKey === installation.key && Date.parse(seenAt) < at) && !(at > opened(wateredAt.get(installation.zone), calendar));
      return at < Date.parse(installation.at) ? [] : [{
        kind: 'field-report', key: `report/${i + 1}/${day}-${c + 1}`, at: calendar.text(at), by: 'field-engineer-1', installationKey: installation.key, observedAt: calendar.text(at), latched, source: 'logger',
        lightPowerNw: null, biasReadbackV: Number(installation.biasReadbackV).toFixed(2), rawLine: `U${i + 1};${latched ? 1 : 0};${Number(installation.biasReadbackV).toFixed(2)}`,
      }];
    }));
  });
}

/** Half past seven on the morning after irrigation; never, where there was none. */
const opened = (wateredAt: number | undefined, calendar: Calendar): number =>
  wateredAt === undefined ? Infinity : calendar.moment(Math.floor((calendar.moment(0, 24) - wateredAt) / DAY) - 1, 7.5);

function resets(installations: readonly Installation[], trips: readonly Trip[], wateredAt: ReadonlyMap<string, number>, calendar: Calendar): LabEvent[] {
  return installations.flatMap((installation, i): LabEvent[] => {
    const at = opened(wateredAt.get(installation.zone), calendar) + i * 4 * MINUTE;
    const tripped = trips.some(({ installationKey, seenAt }) => installationKey === installation.key && Date.parse(seenAt) < at);
    return Number.isFinite(at) && tripped
      ? [{ kind: 'latch-reset', key: `reset/${i + 1}`, at: calendar.text(at), by: 'field-engineer-1', installationKey: installation.key, observedAt: calendar.text(at), opened: true, note: 'Pulse of 22 V, 5 ms, the morning after irrigation.' }]
      : [];
  });
}

const rain = ({ key, zone }: CropScenario, i: number, calendar: Calendar): LabEvent[] => [[8, 1.8], [3, 0.6]].map(([day, mm], n): LabEvent => {
  const at = calendar.text(calendar.moment(day!, 6.5) + i * MINUTE);
  return { kind: 'rain', key: `rain/${key}/${n + 1}`, at, by: 'field-engineer-1', zone, observedAt: at, depthMm: (mm! + 0.2 * i).toFixed(1), note: 'Gauge at the gate, emptied in the morning.' };
});

/** Two days later somebody looks at what became of it. */
function outcome({ key, at, action }: Decision, calendar: Calendar): LabEvent[] {
  const seenAt = Date.parse(at) + 42 * 60 * MINUTE;
  const told = { irrigate: ['right', 'Leaves turgid at dawn and at noon.'], hold: ['too-late', 'The rain did not come; the youngest leaves hung at noon.'], inspect: ['unclear', 'Two leaves hung, the others stood.'] } as const;
  const [verdict, seen] = told[action];
  return [{ kind: 'decision-outcome', key: `outcome/${key}`, at: calendar.text(seenAt), by: 'field-engineer-1', decisionKey: key, observedAt: calendar.text(seenAt), verdict, seen }];
}

/** Discs are taken at every tripped leaf whose dry mass is known before the story ends. */
function checks(lab: SimulatedLab, field: SimulatedField, installations: readonly Installation[], trips: readonly Trip[], calendar: Calendar): LabEvent[] {
  const stream = createStream(lab.seed, 40);
  const leaves = trips.flatMap((trip): CheckedLeaf[] => {
    const installation = installations.find(({ key }) => key === trip.installationKey)!;
    const crop = lab.scenario.crops.find(({ zone }) => zone === installation.zone)!;
    const daysBefore = Math.floor((calendar.moment(0, 24) - Date.parse(trip.seenAt)) / DAY);
    const { leaf, rwcAtTrip } = field.truth.installations[installation.key]!;
    return daysBefore < 2 || rwcAtTrip === null ? [] : [{ name: installation.key.split('/')[1]!, installationKey: installation.key, tripKey: trip.key, plantKey: `plant/${crop.key}/1`, crop, leaf, rwc: rwcAtTrip, daysBefore }];
  });
  const days = [...new Set(leaves.flatMap(({ daysBefore }) => [daysBefore, daysBefore - 1]))];
  const inCheck = days.map((day): LabEvent => (
    { kind: 'instrument-check', key: `check/field/${day}`, at: calendar.text(calendar.moment(day, 17)), by: 'technician-1', instrumentKey: BALANCE, nominal: '100.00', shown: shownMass(lab.scenario.balance, 100, stream), tolerance: '0.05' }));
  return [...inCheck, ...checkedAtTheBench(lab, calendar, leaves).events];
}
