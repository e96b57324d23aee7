import type { LabEvent, MeterReadingEvent } from './events.js';
import { BALANCE, RIG, meterLine, shownPower } from './instruments.js';
import { PROTOCOL } from './protocol.js';
import { dryingRwc, trueTransmittance } from './leaf.js';
import { BenchRoom, MINUTE, SampledDisc, massAtRwc, weigh } from './bench-room.js';
import type { CropScenario } from './scenario.js';

/** What is true at a reading through a disc. */
export interface TrueReading {
  readonly discKey: string;
  readonly rwc: number;
  readonly transmittance: number;
}

export interface SimulatedRun {
  readonly events: LabEvent[];
  readonly readings: Record<string, TrueReading>;
}

interface RunPlan {
  readonly key: string;
  readonly label: string;
  readonly crop: CropScenario;
  readonly discs: readonly SampledDisc[];
  readonly openedAt: number;
}

/** The five-minute rhythm: weigh, read, disc after disc; references every third cycle, darks every sixth; weigh once more at the end. */
export function simulateRun(room: BenchRoom, plan: RunPlan): SimulatedRun {
  const { key, label, crop, discs, openedAt } = plan;
  const { rhythmMin, cycles } = room.scenario;
  const events: LabEvent[] = [{
    kind: 'drying-run-open', key, at: room.calendar.text(openedAt), by: 'technician-1', label, protocolKey: PROTOCOL, rigKey: RIG, balanceKey: BALANCE, discKeys: discs.map((d) => d.key), rhythmMin,
  }];
  const readings: Record<string, TrueReading> = {};
  const start = openedAt + 3 * MINUTE;
  const slot = (rhythmMin * MINUTE) / (discs.length + 0.5);
  const rates = discs.map(() => Math.exp(0.06 * room.population.normal()));
  const rwcOf = (i: number, at: number): number => rwcAfter(crop, rates[i]!, (at - start) / MINUTE);
  events.push(look(room, plan, 'dark', start - 60_000), look(room, plan, 'reference', start - 40_000));
  events.push({
    kind: 'preflight', key: `${key}/preflight`, at: room.calendar.text(start - 20_000), by: 'technician-1', dryingRunKey: key,
    lampOnSince: room.calendar.text(openedAt - 45 * MINUTE), clockOffsetMs: 240, clockRoundTripMs: 18,
  });
  for (let cycle = 0; cycle <= cycles; cycle += 1) {
    const cycleAt = start + cycle * rhythmMin * MINUTE;
    discs.forEach((disc, i) => {
      const weighedAt = cycleAt + i * slot;
      events.push(weigh(room, disc, 'drying', massAtRwc(disc, rwcOf(i, weighedAt)), weighedAt, `drying-${cycle}`, { dryingRunKey: key }));
      if (cycle === cycles) return;
      const readAt = weighedAt + 0.45 * slot;
      const truth = { discKey: disc.key, rwc: rwcOf(i, readAt), transmittance: trueTransmittance(disc.leaf, rwcOf(i, readAt), room.scenario.rig.wavelengthNm) };
      readings[`reading/${disc.key}/${cycle}`] = truth;
      events.push(read(room, plan, `reading/${disc.key}/${cycle}`, truth, readAt));
    });
    const after = cycleAt + discs.length * slot;
    if (cycle === cycles || cycle % 3 === 2) events.push(look(room, plan, 'reference', after + 10_000));
    if (cycle === cycles || cycle % 6 === 5) events.push(look(room, plan, 'dark', after + 20_000));
  }
  const closedAt = start + (cycles + 1) * rhythmMin * MINUTE;
  events.push({ kind: 'drying-run-close', key: `${key}/close`, at: room.calendar.text(closedAt), by: 'technician-1', dryingRunKey: key });
  return { events, readings };
}

function rwcAfter({ drying }: CropScenario, rate: number, minutes: number): number {
  return dryingRwc({ openPerMin: rate * drying.openPerMin, closedPerMin: rate * drying.closedPerMin, closingMin: drying.closingMin }, minutes);
}

/** Lamp power now: slow drift from the opening of the run, and a little wander at each look. */
function lampNw({ scenario, optics }: BenchRoom, openedAt: number, at: number): number {
  const { lampPowerNw, lampDriftPerHour, lampWander } = scenario.rig;
  return lampPowerNw * (1 + (lampDriftPerHour * (at - openedAt)) / (60 * MINUTE)) * (1 + lampWander * optics.normal());
}

/** A dark, or a reference through the diffuser. */
function look(room: BenchRoom, { key, openedAt }: RunPlan, lightPath: 'dark' | 'reference', at: number): MeterReadingEvent {
  const { rig } = room.scenario;
  const powerNw = rig.darkNw + (lightPath === 'dark' ? 0 : rig.diffuserTransmittance * lampNw(room, openedAt, at));
  return metered(room, `${lightPath}/${key}/${Math.round((at - openedAt) / 1000)}`, key, lightPath, powerNw, at);
}

function read(room: BenchRoom, { key: runKey, openedAt }: RunPlan, key: string, truth: TrueReading, at: number): MeterReadingEvent {
  const powerNw = room.scenario.rig.darkNw + truth.transmittance * lampNw(room, openedAt, at);
  return { ...metered(room, key, runKey, 'reading', powerNw, at), discKey: truth.discKey };
}

function metered(room: BenchRoom, key: string, dryingRunKey: string, lightPath: MeterReadingEvent['lightPath'], powerNw: number, atMs: number): MeterReadingEvent {
  const at = room.calendar.text(atMs);
  const powerText = shownPower(room.scenario.rig, powerNw, room.optics);
  return { kind: 'meter-reading', key, at, by: 'technician-2', lightPath, observedAt: at, powerText, powerUnit: 'nW', dryingRunKey, rawLine: meterLine(powerText) };
}
