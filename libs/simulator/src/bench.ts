import { raise } from '#libs/numeric';
import { BenchRoom, MINUTE, SampledDisc, TrueDisc, benchRoom, massAtRwc, weigh } from './bench-room.js';
import { TrueReading, simulateRun } from './drying-run.js';
import type { LabEvent, OvenStartEvent, WeighingEvent } from './events.js';
import { BALANCE, OVEN, SECOND_BALANCE } from './instruments.js';
import { TrueLeaf, drawLeaf, trueDiscMasses } from './leaf.js';
import { Mistake, withMistake } from './mistake.js';
import type { Calendar } from './moment.js';
import type { CropScenario, Scenario } from './scenario.js';

export interface BenchTruth {
  readonly leaves: Readonly<Record<string, TrueLeaf>>;
  readonly discs: Readonly<Record<string, TrueDisc>>;
  readonly readings: Readonly<Record<string, TrueReading>>;
  /** Null where no digits lent themselves to it. */
  readonly mistake: Mistake | null;
}

/** One bench day: which leaves of which crop dry together. */
export interface BenchDay {
  readonly crop: CropScenario;
  readonly day: number;
  readonly runIndex: number;
  readonly firstLeaf: number;
  readonly leaves: number;
}

const FIRST_BENCH_DAY = 24;

/** The bench days of a scenario, one run a day, crops one after the other. */
export function benchDays(scenario: Scenario): readonly BenchDay[] {
  const runs = scenario.crops.flatMap((crop) => crop.runs.map((leaves, runIndex) => (
    { crop, runIndex, leaves, firstLeaf: crop.runs.slice(0, runIndex).reduce((s, n) => s + n, 0) })));
  return runs.map((run, i) => ({ ...run, day: FIRST_BENCH_DAY - i }));
}

export const dryingRunKey = (crop: CropScenario, runIndex: number): string => `run/${crop.key}/${runIndex + 1}`;
const initial = (crop: CropScenario): string => crop.key.slice(0, 1).toUpperCase();

/** Crops, plants, leaves, discs, weighings, readings, ovens: the bench from punch to dry mass, and what was true of it. */
export function simulateBench(seed: string, scenario: Scenario, calendar: Calendar): { readonly events: readonly LabEvent[]; readonly truth: BenchTruth } {
  const room = benchRoom(seed, scenario, calendar);
  const days = benchDays(scenario).map((day, i) => workDay(room, day, i));
  const open = leaveOvenOn(room, scenario.crops.at(-1)!);
  // The second disc of the second run is the one that is mistyped.
  const { events, mistake } = withMistake([...sow(room), ...days.flatMap((d) => d.events), ...open.events], days[1]?.followed[1]?.key ?? '', calendar);
  const sampled = [...days.flatMap((d) => d.sampled), ...open.sampled];
  return {
    events,
    truth: {
      leaves: Object.fromEntries(sampled.map((d) => [d.leafKey, d.leaf])),
      discs: Object.fromEntries(sampled.map(({ key, leafKey, turgidMassMg, dryMassMg }) => [key, { leafKey, turgidMassMg, dryMassMg }])),
      readings: Object.assign({}, ...days.map((d) => d.readings)) as Record<string, TrueReading>,
      mistake,
    },
  };
}

/** Crops and their plants. */
function sow({ scenario, calendar }: BenchRoom): LabEvent[] {
  return scenario.crops.flatMap((crop): LabEvent[] => [
    { kind: 'crop', key: `crop/${crop.key}`, at: calendar.text(calendar.moment(27, 8)), by: 'researcher-1', name: crop.name, scientificName: crop.scientificName },
    ...Array.from({ length: crop.plants }, (_, p): LabEvent => ({
      kind: 'plant', key: `plant/${crop.key}/${p + 1}`, at: calendar.text(calendar.moment(27, 8.2)), by: 'researcher-1',
      cropKey: `crop/${crop.key}`, label: `${initial(crop)}${p + 1}`, cultivar: crop.cultivar,
    })),
  ]);
}

interface Sampling { readonly events: readonly LabEvent[]; readonly sampled: readonly SampledDisc[] }

/** A day: cut and punch at half past eight, hydrate, weigh turgid at noon, dry on the rig for three hours, oven overnight, release. */
function workDay(room: BenchRoom, { crop, day, runIndex, firstLeaf, leaves }: BenchDay, index: number): Sampling & { readonly followed: readonly SampledDisc[]; readonly readings: Record<string, TrueReading> } {
  const { calendar } = room;
  const samplings = Array.from({ length: leaves }, (_, i) => sampleLeaf(room, crop, firstLeaf + i, calendar.moment(day, 8.5) + i * 4 * MINUTE));
  const sampled = samplings.flatMap((s) => s.sampled);
  const turgid = sampled.map((disc, i) => weighTurgid(room, disc, calendar.moment(day, 12) + i * MINUTE));
  const followed = sampled.filter((disc) => disc.balanceKey === BALANCE);
  const key = dryingRunKey(crop, runIndex);
  const run = simulateRun(room, { key, label: `${initial(crop)}-R${runIndex + 1}`, crop, discs: followed, openedAt: calendar.moment(day, 12.5) });
  const oven = overnight(room, `oven-cycle/${index + 1}`, `O-${index + 1}`, sampled, day);
  const release: LabEvent = { kind: 'drying-run-release', key: `${key}/release`, at: calendar.text(calendar.moment(day - 1, 18.5)), by: 'researcher-1', dryingRunKey: key };
  return { sampled, followed, readings: run.readings, events: [...samplings.flatMap((s) => s.events), ...turgid, ...run.events, ...oven, release] };
}

/** One leaf with its first disc, and a second one where the crop gives one: cut, punched, weighed fresh. */
function sampleLeaf(room: BenchRoom, crop: CropScenario, index: number, cutAtMs: number): Sampling {
  const { calendar, scenario } = room;
  const leaf = drawLeaf(crop.population, room.population);
  const freshRwc = 0.92 + 0.02 * room.population.normal();
  const leafKey = `leaf/${crop.key}/${index + 1}`;
  const plant = (index % crop.plants) + 1;
  const label = `${initial(crop)}${plant}-L${Math.floor(index / crop.plants) + 1}`;
  const cutAt = calendar.text(cutAtMs);
  const leafEvent: LabEvent = { kind: 'leaf', key: leafKey, at: cutAt, by: 'technician-1', plantKey: `plant/${crop.key}/${plant}`, label, position: crop.position, growthStage: crop.growthStage, cutAt };
  const areaMm2 = (Math.PI * scenario.discDiameterMm ** 2) / 4;
  const sampled = (index < crop.extraDiscs ? ['A', 'B'] : ['A']).map((letter): SampledDisc => (
    { key: `disc/${crop.key}/${index + 1}${letter}`, leafKey, leaf, ...trueDiscMasses(leaf, areaMm2), balanceKey: letter === 'A' ? BALANCE : SECOND_BALANCE }));
  const discEvents = sampled.flatMap((disc, d): LabEvent[] => {
    const punchedAt = calendar.text(cutAtMs + (15 + 10 * d) * 1000);
    return [
      { kind: 'disc', key: disc.key, at: punchedAt, by: 'technician-1', leafKey, label: `${label}-${disc.key.slice(-1)}`, diameterMm: String(scenario.discDiameterMm), punchedAt },
      weigh(room, disc, 'fresh', massAtRwc(disc, freshRwc), cutAtMs + (40 + 10 * d) * 1000, 'fresh'),
    ];
  });
  return { sampled, events: [leafEvent, ...discEvents] };
}

function weighTurgid(room: BenchRoom, disc: SampledDisc, at: number): WeighingEvent {
  const residue = disc.turgidMassMg * room.scenario.balance.blottingRelativeSd * room.weighing.normal();
  return weigh(room, disc, 'turgid', disc.turgidMassMg + residue, at, 'turgid');
}

/** Overnight at 70 °C; two checks, an hour and a quarter apart. */
function overnight(room: BenchRoom, key: string, label: string, discs: readonly SampledDisc[], day: number): LabEvent[] {
  const { calendar } = room;
  const startedAt = calendar.moment(day, 16.5);
  const checks = [16.5, 17.75].flatMap((clock, check) => discs.map((disc, i) => checkDry(room, key, disc, startedAt, calendar.moment(day - 1, clock) + i * MINUTE, check + 1)));
  return [
    startOven(room, key, label, discs, startedAt), ...checks,
    { kind: 'oven-unload', key: `${key}/unload`, at: calendar.text(calendar.moment(day - 1, 18.2)), by: 'technician-1', ovenCycleKey: key },
  ];
}

function startOven({ calendar }: BenchRoom, key: string, label: string, discs: readonly SampledDisc[], startedAt: number): OvenStartEvent {
  return { kind: 'oven-start', key, at: calendar.text(startedAt), by: 'technician-1', label, ovenKey: OVEN, setTemperatureC: '70', discKeys: discs.map((d) => d.key) };
}

/** What water is left halves every four hours, from 4 % at loading. */
function checkDry(room: BenchRoom, key: string, disc: SampledDisc, startedAt: number, at: number, check: number): WeighingEvent {
  const remaining = 0.04 * raise(2, -(at - startedAt) / (240 * MINUTE));
  return weigh(room, disc, 'dry', massAtRwc(disc, remaining), at, `dry-${check}`, { ovenCycleKey: key });
}

/** The last evening's leaf, still in the oven when the story ends: its second check is due next. */
function leaveOvenOn(room: BenchRoom, crop: CropScenario): Sampling {
  const end = room.calendar.endsAtMs;
  const cutAt = end - 20 * 60 * MINUTE;
  const { sampled, events } = sampleLeaf(room, crop, crop.runs.reduce((s, n) => s + n, 0), cutAt);
  const startedAt = cutAt + 220 * MINUTE;
  const turgid = sampled.map((disc, i) => weighTurgid(room, disc, cutAt + 200 * MINUTE + i * MINUTE));
  const checks = sampled.map((disc, i) => checkDry(room, 'oven-cycle/open', disc, startedAt, end - 40 * MINUTE + i * MINUTE, 1));
  return { sampled, events: [...events, ...turgid, startOven(room, 'oven-cycle/open', `O-${benchDays(room.scenario).length + 1}`, sampled, startedAt), ...checks] };
}
