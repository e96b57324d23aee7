import { RandomStream, createStream } from '#libs/numeric';
import type { DiscEvent, DiscState, LabEvent, WeighingEvent } from './events.js';
import { BALANCE, OVEN, RIG, SECOND_BALANCE, balanceLine, meterLine, shownMass, shownPower } from './instruments.js';
import { TrueLeaf, drawLeaf, dryingRwc, trueDiscMasses, trueTransmittance } from './leaf.js';
import type { Calendar } from './moment.js';
import type { CropScenario, Scenario } from './scenario.js';

/** What is true of a disc and nobody in the lab sees. */
export interface TrueDisc {
  readonly leafKey: string;
  readonly turgidMassMg: number;
  readonly dryMassMg: number;
}

/** What is true at a reading through a disc. */
export interface TrueReading {
  readonly discKey: string;
  readonly rwc: number;
  readonly transmittance: number;
}

export interface BenchTruth {
  readonly leaves: Readonly<Record<string, TrueLeaf>>;
  readonly discs: Readonly<Record<string, TrueDisc>>;
  readonly readings: Readonly<Record<string, TrueReading>>;
  /** Key of the weighing that was mistyped, and of the one that takes its place; null where no digits lent themselves to it. */
  readonly mistake: { readonly weighingKey: string; readonly amendedByKey: string } | null;
}

interface SampledDisc extends TrueDisc { readonly key: string; readonly leaf: TrueLeaf; readonly balanceKey: string; readonly freshRwc: number }

/** One bench day: which leaves of which crop dry together. */
interface BenchDay { readonly crop: CropScenario; readonly day: number; readonly runIndex: number; readonly firstLeaf: number; readonly leaves: number }

const ANSWERS: Readonly<Record<DiscState, string>> = {
  fresh: 'Label read again: it is this disc, and it was dry on the surface.',
  turgid: 'Label read again: it is this disc, blotted as the protocol says.',
  drying: 'Label read again: it is this disc, and the balance was stable.',
  dry: 'Weighed twice from the desiccator; the difference is within the balance\'s repeatability.',
};

const FIRST_BENCH_DAY = 24;
const MINUTE = 60_000;

/** The bench days of a scenario, one run a day, crops one after the other. */
export function benchDays(scenario: Scenario): readonly BenchDay[] {
  let day = FIRST_BENCH_DAY + 1;
  return scenario.crops.flatMap((crop) => {
    let firstLeaf = 0;
    return crop.runs.map((leaves, runIndex) => {
      day -= 1;
      const bench = { crop, day, runIndex, firstLeaf, leaves };
      firstLeaf += leaves;
      return bench;
    });
  });
}

export const dryingRunKey = (crop: CropScenario, runIndex: number): string => `run/${crop.key}/${runIndex + 1}`;
const leafKey = (crop: CropScenario, index: number): string => `leaf/${crop.key}/${index + 1}`;
const prefix = (crop: CropScenario): string => crop.key.slice(0, 1).toUpperCase();

/** Crops, plants, leaves, discs, weighings, readings, ovens: the bench from punch to dry mass, and what was true of it. */
export function simulateBench(seed: string, scenario: Scenario, calendar: Calendar): { readonly events: LabEvent[]; readonly truth: BenchTruth } {
  const bench = new Bench(seed, scenario, calendar);
  const days = benchDays(scenario);
  bench.sow();
  days.forEach((day, index) => bench.work(day, index, index === 1));
  bench.leaveOvenOn(scenario.crops.at(-1)!);
  return { events: bench.events, truth: bench.truth() };
}

/** Collects events and truth while the bench is worked; nothing of it outlives {@link simulateBench}. */
class Bench {
  readonly events: LabEvent[] = [];
  private readonly leaves: Record<string, TrueLeaf> = {};
  private readonly discs: Record<string, TrueDisc> = {};
  private readonly readings: Record<string, TrueReading> = {};
  private mistake: BenchTruth['mistake'] = null;
  private readonly areaMm2: number;
  private readonly population: RandomStream;
  private readonly weighing: RandomStream;
  private readonly optics: RandomStream;

  constructor(seed: string, private readonly scenario: Scenario, private readonly calendar: Calendar) {
    this.areaMm2 = (Math.PI * scenario.discDiameterMm ** 2) / 4;
    // A stream for each thing that varies: more of one never moves another.
    [this.population, this.weighing, this.optics] = [createStream(seed, 1), createStream(seed, 2), createStream(seed, 3)];
  }

  truth(): BenchTruth {
    return { leaves: this.leaves, discs: this.discs, readings: this.readings, mistake: this.mistake };
  }

  private text(ms: number): string {
    return this.calendar.text(ms);
  }

  /** Crops and their plants. */
  sow(): void {
    for (const crop of this.scenario.crops) {
      this.events.push({ kind: 'crop', key: `crop/${crop.key}`, at: this.text(this.calendar.moment(27, 8)), by: 'researcher-1', name: crop.name, scientificName: crop.scientificName });
      for (let p = 1; p <= crop.plants; p += 1) {
        this.events.push({
          kind: 'plant', key: `plant/${crop.key}/${p}`, at: this.text(this.calendar.moment(27, 8.2)), by: 'researcher-1',
          cropKey: `crop/${crop.key}`, label: `${prefix(crop)}${p}`, cultivar: crop.cultivar,
        });
      }
    }
  }

  /** A day: cut and punch at half past eight, hydrate, weigh turgid, dry on the rig for three hours, oven overnight, release. */
  work({ crop, day, runIndex, firstLeaf, leaves }: BenchDay, dayIndex: number, mistyped: boolean): void {
    const morning = this.calendar.moment(day, 8.5);
    const sampled = Array.from({ length: leaves }, (_, i) => this.sampleLeaf(crop, firstLeaf + i, morning + i * 4 * MINUTE)).flat();
    const turgidAt = this.calendar.moment(day, 12);
    sampled.forEach((disc, i) => this.weighTurgid(disc, turgidAt + i * MINUTE));
    const followed = sampled.filter((disc) => disc.balanceKey === BALANCE);
    const runKey = dryingRunKey(crop, runIndex);
    this.dry(runKey, `${crop.name} drying run ${runIndex + 1}`, crop, followed, this.calendar.moment(day, 12.5), mistyped);
    this.oven(`oven-cycle/${dayIndex + 1}`, `Cycle ${dayIndex + 1}`, sampled, day);
    this.events.push({ kind: 'drying-run-release', key: `${runKey}/release`, at: this.text(this.calendar.moment(day - 1, 18.5)), by: 'researcher-1', dryingRunKey: runKey });
  }

  /** One leaf with its first disc, and a second one where the crop gives one: cut, punched, weighed fresh. */
  private sampleLeaf(crop: CropScenario, index: number, cutAt: number): SampledDisc[] {
    const key = leafKey(crop, index);
    const leaf = drawLeaf(crop.population, this.population);
    const freshRwc = 0.92 + 0.02 * this.population.normal();
    this.leaves[key] = leaf;
    const label = `${prefix(crop)}${(index % crop.plants) + 1}-L${Math.floor(index / crop.plants) + 1}`;
    this.events.push({
      kind: 'leaf', key, at: this.text(cutAt), by: 'technician-1', plantKey: `plant/${crop.key}/${(index % crop.plants) + 1}`,
      label, position: crop.position, growthStage: crop.growthStage, cutAt: this.text(cutAt),
    });
    return (index < crop.extraDiscs ? ['A', 'B'] : ['A']).map((letter, d) => {
      const disc: SampledDisc = {
        key: `disc/${crop.key}/${index + 1}${letter}`, leafKey: key, leaf, ...trueDiscMasses(leaf, this.areaMm2),
        balanceKey: letter === 'A' ? BALANCE : SECOND_BALANCE, freshRwc,
      };
      this.discs[disc.key] = { leafKey: key, turgidMassMg: disc.turgidMassMg, dryMassMg: disc.dryMassMg };
      const punchedAt = this.text(cutAt + (15 + 10 * d) * 1000);
      const event: DiscEvent = {
        kind: 'disc', key: disc.key, at: punchedAt, by: 'technician-1', leafKey: key, label: `${label}-${letter}`, diameterMm: String(this.scenario.discDiameterMm), punchedAt,
      };
      this.events.push(event);
      this.weigh(disc, 'fresh', disc.dryMassMg + freshRwc * (disc.turgidMassMg - disc.dryMassMg), cutAt + (40 + 10 * d) * 1000, 'fresh');
      return disc;
    });
  }

  private weighTurgid(disc: SampledDisc, at: number): void {
    const residue = disc.turgidMassMg * this.scenario.balance.blottingRelativeSd * this.weighing.normal();
    this.weigh(disc, 'turgid', disc.turgidMassMg + residue, at, 'turgid');
  }

  private weigh(disc: SampledDisc, state: DiscState, massMg: number, at: number, part: string, where: { dryingRunKey?: string; ovenCycleKey?: string } = {}): WeighingEvent {
    const massText = shownMass(this.scenario.balance, massMg, this.weighing);
    const event: WeighingEvent = {
      kind: 'weighing', key: `weighing/${disc.key}/${part}`, at: this.text(at), by: 'technician-1', discKey: disc.key, state, observedAt: this.text(at),
      massText, massUnit: 'mg', balanceKey: disc.balanceKey, ...where, entry: 'line', rawLine: balanceLine(massText),
      answerIfAsked: ANSWERS[state],
    };
    this.events.push(event);
    return event;
  }

  /** The five-minute rhythm: weigh, read, disc after disc; references every third cycle, darks every sixth; weigh once more at the end. */
  private dry(runKey: string, label: string, crop: CropScenario, discs: readonly SampledDisc[], openedAt: number, mistyped: boolean): void {
    const { rhythmMin, cycles } = this.scenario;
    this.events.push({
      kind: 'drying-run-open', key: runKey, at: this.text(openedAt), by: 'technician-1', label, rigKey: RIG, balanceKey: BALANCE, discKeys: discs.map((d) => d.key), rhythmMin,
    });
    const start = openedAt + 3 * MINUTE;
    const slot = (rhythmMin * MINUTE) / (discs.length + 0.5);
    const rates = discs.map(() => Math.exp(0.06 * this.population.normal()));
    const massAt = (disc: SampledDisc, i: number, at: number): number => (
      disc.dryMassMg + this.rwcAt(crop, rates[i]!, at - start) * (disc.turgidMassMg - disc.dryMassMg));
    let mistakeDue = mistyped;
    this.light(runKey, 'dark', start - 60_000, openedAt);
    this.light(runKey, 'reference', start - 40_000, openedAt);
    for (let cycle = 0; cycle <= cycles; cycle += 1) {
      const cycleAt = start + cycle * rhythmMin * MINUTE;
      discs.forEach((disc, i) => {
        const weighedAt = cycleAt + i * slot;
        const weighing = this.weigh(disc, 'drying', massAt(disc, i, weighedAt), weighedAt, `drying-${cycle}`, { dryingRunKey: runKey });
        if (mistakeDue && cycle >= 8 && i === 1) mistakeDue = !this.mistype(weighing);
        if (cycle === cycles) return;
        const readAt = weighedAt + 0.45 * slot;
        const rwc = this.rwcAt(crop, rates[i]!, readAt - start);
        this.read(runKey, `reading/${disc.key}/${cycle}`, disc, rwc, readAt, openedAt);
      });
      const after = cycleAt + discs.length * slot;
      if (cycle === cycles || cycle % 3 === 2) this.light(runKey, 'reference', after + 10_000, openedAt);
      if (cycle === cycles || cycle % 6 === 5) this.light(runKey, 'dark', after + 20_000, openedAt);
    }
    const closedAt = start + (cycles + 1) * rhythmMin * MINUTE;
    this.events.push({ kind: 'drying-run-close', key: `${runKey}/close`, at: this.text(closedAt), by: 'technician-1', dryingRunKey: runKey });
  }

  private rwcAt(crop: CropScenario, rate: number, elapsedMs: number): number {
    const { openPerMin, closedPerMin, closingMin } = crop.drying;
    return dryingRwc({ openPerMin: rate * openPerMin, closedPerMin: rate * closedPerMin, closingMin }, elapsedMs / MINUTE);
  }

  /** Lamp power now: slow drift from the opening of the run, and a little wander at each look. */
  private lamp(at: number, openedAt: number): number {
    const { lampPowerNw, lampDriftPerHour, lampWander } = this.scenario.rig;
    return lampPowerNw * (1 + (lampDriftPerHour * (at - openedAt)) / (60 * MINUTE)) * (1 + lampWander * this.optics.normal());
  }

  private light(runKey: string, lightPath: 'dark' | 'reference', at: number, openedAt: number): void {
    const { rig } = this.scenario;
    const powerNw = rig.darkNw + (lightPath === 'dark' ? 0 : rig.diffuserTransmittance * this.lamp(at, openedAt));
    const powerText = shownPower(rig, powerNw, this.optics);
    this.events.push({
      kind: 'meter-reading', key: `${lightPath}/${runKey}/${Math.round((at - openedAt) / 1000)}`, at: this.text(at), by: 'technician-2', lightPath, observedAt: this.text(at),
      powerText, powerUnit: 'nW', dryingRunKey: runKey, rawLine: meterLine(powerText),
    });
  }

  private read(runKey: string, key: string, disc: SampledDisc, rwc: number, at: number, openedAt: number): void {
    const { rig } = this.scenario;
    const transmittance = trueTransmittance(disc.leaf, rwc, rig.wavelengthNm);
    this.readings[key] = { discKey: disc.key, rwc, transmittance };
    const powerText = shownPower(rig, rig.darkNw + transmittance * this.lamp(at, openedAt), this.optics);
    this.events.push({
      kind: 'meter-reading', key, at: this.text(at), by: 'technician-2', lightPath: 'reading', observedAt: this.text(at),
      powerText, powerUnit: 'nW', discKey: disc.key, dryingRunKey: runKey, rawLine: meterLine(powerText),
    });
  }

  /** Swaps units and tenths of the last weighing as if typed wrongly and low, and amends it within the minute; false if these digits cannot. */
  private mistype(right: WeighingEvent): boolean {
    const [tens, units, point, tenths] = right.massText;
    const lower = Number(units) - Number(tenths);
    if (point !== '.' || lower < 2 || lower > 6) return false;
    const massText = `${tens}${tenths}.${units}${right.massText.slice(4)}`;
    const wrong: WeighingEvent = { ...right, massText, entry: 'typed', rawLine: massText };
    this.events[this.events.indexOf(right)] = wrong;
    const key = `${right.key}/again`;
    this.events.push({
      ...right, kind: 'weighing-amendment', key, at: this.text(Date.parse(right.at) + 25_000), amendmentKey: `amendment/${right.key}`, amendsKey: right.key, reasonCode: 'misread',
      reason: `Digits swapped while typing ${massText} mg; the balance's own line gives ${right.massText} mg.`,
    });
    this.mistake = { weighingKey: right.key, amendedByKey: key };
    return true;
  }

  /** Overnight at 70 °C; what water is left halves every four hours. Two checks, an hour and a quarter apart. */
  private oven(key: string, label: string, discs: readonly SampledDisc[], day: number): void {
    const startedAt = this.calendar.moment(day, 16.5);
    this.startOven(key, label, discs, startedAt);
    [16.5, 17.75].forEach((clock, check) => {
      discs.forEach((disc, i) => this.checkDry(key, disc, startedAt, this.calendar.moment(day - 1, clock) + i * MINUTE, check + 1));
    });
    this.events.push({ kind: 'oven-unload', key: `${key}/unload`, at: this.text(this.calendar.moment(day - 1, 18.2)), by: 'technician-1', ovenCycleKey: key });
  }

  private startOven(key: string, label: string, discs: readonly SampledDisc[], startedAt: number): void {
    this.events.push({
      kind: 'oven-start', key, at: this.text(startedAt), by: 'technician-1', label, ovenKey: OVEN, setTemperatureC: '70', discKeys: discs.map((d) => d.key),
    });
  }

  private checkDry(key: string, disc: SampledDisc, startedAt: number, at: number, check: number): void {
    const water = 0.4 * (disc.turgidMassMg - disc.dryMassMg) * 2 ** (-(at - startedAt) / (240 * MINUTE)) * 0.1;
    this.weigh(disc, 'dry', disc.dryMassMg + water, at, `dry-${check}`, { ovenCycleKey: key });
  }

  /** The last evening's leaf, still in the oven when the story ends: its second check is due next. */
  leaveOvenOn(crop: CropScenario): void {
    const end = this.calendar.endsAtMs;
    const cutAt = end - 20 * 60 * MINUTE;
    const index = crop.runs.reduce((s, n) => s + n, 0);
    const discs = this.sampleLeaf(crop, index, cutAt);
    discs.forEach((disc, i) => this.weighTurgid(disc, cutAt + 200 * MINUTE + i * MINUTE));
    const startedAt = cutAt + 220 * MINUTE;
    this.startOven('oven-cycle/open', 'Cycle open', discs, startedAt);
    discs.forEach((disc, i) => this.checkDry('oven-cycle/open', disc, startedAt, end - 40 * MINUTE + i * MINUTE, 1));
  }
}
