import { benchRoom, MINUTE, massAtRwc, weigh, type SampledDisc } from './bench-room.js';
import type { LabEvent } from './events.js';
import { BALANCE, OVEN } from './instruments.js';
import type { SimulatedLab } from './lab.js';
import { trueDiscMasses, type TrueLeaf } from './leaf.js';
import type { Calendar } from './moment.js';
import type { CropScenario } from './scenario.js';

/** A leaf whose unit tripped, cut on that day's evening round. */
export interface CheckedLeaf {
  /** Tells it from the others. */
  readonly name: string;
  readonly installationKey: string;
  readonly tripKey: string;
  readonly plantKey: string;
  readonly crop: CropScenario;
  readonly leaf: TrueLeaf;
  /** True RWC of the leaf over that day. */
  readonly rwc: number;
  readonly daysBefore: number;
}

interface CheckTruth { readonly rwc: number; readonly tripKey: string; readonly installationKey: string }

/** Discs of tripped leaves from the punch to the RWC, as the bench does it: fresh at once, turgid after three hours, dry the next evening. */
export function checkedAtTheBench(lab: SimulatedLab, calendar: Calendar, leaves: readonly CheckedLeaf[]): { readonly events: LabEvent[]; readonly truth: Readonly<Record<string, CheckTruth>> } {
  const room = benchRoom(`${lab.seed} field checks`, lab.scenario, calendar);
  const { discDiameterMm, balance } = lab.scenario;
  const areaMm2 = (Math.PI * discDiameterMm ** 2) / 4;
  const events: LabEvent[] = [];
  for (const day of new Set(leaves.map(({ daysBefore }) => daysBefore))) {
    const ofDay = leaves.filter(({ daysBefore }) => daysBefore === day);
    const discs = ofDay.map((checked): SampledDisc => (
      { key: `disc/check/${checked.name}`, leafKey: `leaf/check/${checked.name}`, leaf: checked.leaf, ...trueDiscMasses(checked.leaf, areaMm2), balanceKey: BALANCE }));
    const cutAt = (i: number): number => calendar.moment(day, 18.2) + i * 2 * MINUTE;
    const cycle = `oven-cycle/check/${day}`;
    events.push(
      ...ofDay.flatMap((checked, i) => cut(checked, discs[i]!, cutAt(i), calendar, discDiameterMm)),
      ...discs.map((disc, i) => weigh(room, disc, 'fresh', massAtRwc(disc, ofDay[i]!.rwc), cutAt(i) + 40_000, 'fresh')),
      ...discs.map((disc, i) => weigh(room, disc, 'turgid', disc.turgidMassMg * (1 + balance.blottingRelativeSd * room.weighing.normal()), cutAt(i) + 185 * MINUTE, 'turgid')),
      { kind: 'oven-start', key: cycle, at: calendar.text(calendar.moment(day, 23.5)), by: 'technician-1', label: `OF-${day}`, ovenKey: OVEN, setTemperatureC: '70', discKeys: discs.map(({ key }) => key) },
      // What water is left after a night and a day is below what the balance tells.
      ...[18, 19.25].flatMap((clock, check) => discs.map((disc, i) => weigh(room, disc, 'dry', massAtRwc(disc, 0.0004), calendar.moment(day - 1, clock) + i * MINUTE, `dry-${check + 1}`, { ovenCycleKey: cycle }))),
      { kind: 'oven-unload', key: `${cycle}/unload`, at: calendar.text(calendar.moment(day - 1, 20.5)), by: 'technician-1', ovenCycleKey: cycle },
      ...discs.map((disc, i): LabEvent => ({ kind: 'rwc-series', key: `rwc/check/${ofDay[i]!.name}`, at: calendar.text(calendar.moment(day - 1, 20.6) + i * 1000), by: 'technician-1', discKey: disc.key })),
    );
  }
  return { events, truth: Object.fromEntries(leaves.map(({ name, rwc, tripKey, installationKey }) => [`check/${name}`, { rwc, tripKey, installationKey }])) };
}

/** The leaf, its disc, and the field check that names it. */
function cut({ name, plantKey, installationKey, crop }: CheckedLeaf, disc: SampledDisc, atMs: number, calendar: Calendar, diameterMm: number): LabEvent[] {
  const [cutAt, punchedAt] = [calendar.text(atMs), calendar.text(atMs + 15_000)];
  return [
    { kind: 'leaf', key: disc.leafKey, at: cutAt, by: 'technician-2', plantKey, label: `FC-${name}`, position: crop.position, growthStage: crop.growthStage, cutAt },
    { kind: 'disc', key: disc.key, at: punchedAt, by: 'technician-2', leafKey: disc.leafKey, label: `FC-${name}-A`, diameterMm: String(diameterMm), punchedAt },
    { kind: 'field-check', key: `check/${name}`, at: calendar.text(atMs + 20_000), by: 'technician-2', installationKey, observedAt: calendar.text(atMs + 20_000), discKeys: [disc.key], note: 'A disc of the leaf above the unit.' },
  ];
}
