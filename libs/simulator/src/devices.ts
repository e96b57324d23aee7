import { createStream } from '#libs/numeric';
import { thresholdPower } from '#libs/switch-device';
import type { LabEvent } from './events.js';
import { meterLine } from './instruments.js';
import type { Calendar } from './moment.js';
import type { Scenario } from './scenario.js';

/** What a unit really is. */
export interface TrueUnit {
  readonly powerAtZeroBiasNw: number;
  readonly pullInV: number;
  readonly exponent: number;
}

const MINUTE = 60_000;
/** Hours between units on the device bench, less where many must be through in a day. */
const UNIT_HOURS = 0.75;
const DAY_HOURS = 6;
const OPEN_CURRENT_A = 2e-12;
const CLOSED_CURRENT_A = 1e-6;

export const unitKey = (index: number): string => `unit/${index + 1}`;
export const curveKey = (index: number): string => `curve/${index + 1}`;

/** Lots, units, sweeps up and down and in reverse polarity, trip tests, and the request for a curve each. */
export function simulateDevices(seed: string, scenario: Scenario, calendar: Calendar): { readonly events: LabEvent[]; readonly units: Readonly<Record<string, TrueUnit>> } {
  const { devices } = scenario;
  const [population, bench] = [createStream(seed, 4), createStream(seed, 5)];
  const events: LabEvent[] = [];
  const units: Record<string, TrueUnit> = {};
  let index = 0;
  devices.lots.forEach((lot, l) => {
    const lotKey = `lot/${l + 1}`;
    const received = calendar.moment(20, 9 + l);
    events.push({ kind: 'device-lot', key: lotKey, at: calendar.text(received), by: 'field-engineer-1', label: lot.label });
    for (let u = 0; u < lot.units; u += 1, index += 1) {
      const key = unitKey(index);
      const unit: TrueUnit = {
        powerAtZeroBiasNw: devices.powerAtZeroBiasNw.mean * Math.exp(devices.powerAtZeroBiasNw.relativeSd * population.normal()),
        pullInV: devices.pullInV.mean * Math.exp(devices.pullInV.relativeSd * population.normal()),
        exponent: devices.exponent.low + (devices.exponent.high - devices.exponent.low) * population.uniform(),
      };
      units[key] = unit;
      events.push({ kind: 'device-unit', key, at: calendar.text(received + (u + 1) * MINUTE), by: 'field-engineer-1', lotKey, label: `${lot.label}-${String(u + 1).padStart(2, '0')}` });
      events.push(...characterise(key, index, unit, scenario, calendar, bench));
    }
  });
  return { events, units };
}

function characterise(key: string, index: number, unit: TrueUnit, { devices }: Scenario, calendar: Calendar, stream: ReturnType<typeof createStream>): LabEvent[] {
  const hours = index * Math.min(UNIT_HOURS, DAY_HOURS / devices.lots.reduce((n, lot) => n + lot.units, 0));
  const sweptAt = calendar.moment(19, 9 + hours);
  const legs = [['up', 'positive'], ['down', 'positive'], ['up', 'negative']] as const;
  const sweeps: LabEvent[] = legs.map(([direction, polarity], i) => ({
    kind: 'bias-sweep', key: `sweep/${index + 1}/${polarity}-${direction}`, at: calendar.text(sweptAt + i * 6 * MINUTE), by: 'field-engineer-1',
    deviceUnitKey: key, direction, polarity, steps: sweepSteps(unit, devices, direction, polarity === 'negative' ? -1 : 1, stream),
  }));
  const testedAt = calendar.moment(18, 9 + hours);
  const tests: LabEvent[] = devices.testedParts.flatMap((part, b) => Array.from({ length: devices.repeats }, (_, r) => {
    // The bench sets round biases: parts of the pull-in that the sweep showed, to a tenth of a volt.
    const biasV = Math.round(part * unit.pullInV * 10) / 10;
    const applied = Math.max(biasV + devices.biasSourceSdV * stream.normal(), 0);
    const tripPowerText = (thresholdPower(unit, applied) * Math.exp(devices.tripScatter * stream.normal())).toFixed(1);
    return {
      kind: 'trip-test' as const, key: `trip-test/${index + 1}/${b + 1}-${r + 1}`, at: calendar.text(testedAt + (b * devices.repeats + r) * 2 * MINUTE), by: 'field-engineer-1',
      deviceUnitKey: key, biasV: biasV.toFixed(2), tripPowerText, tripPowerUnit: 'nW' as const, rawLine: meterLine(tripPowerText),
      onCurrentA: '1e-6', offCurrentA: '2e-12', lightCourse: 'ramped' as const, temperatureC: '23.0',
    };
  }));
  return [...sweeps, ...tests, {
    kind: 'curve-fit', key: curveKey(index), at: calendar.text(calendar.moment(17, 15 + index * 0.05)), by: 'field-engineer-1', deviceUnitKey: key, exponent: 'free',
  }];
}

function sweepSteps(
  unit: TrueUnit, devices: Scenario['devices'], direction: 'up' | 'down', sign: 1 | -1, stream: ReturnType<typeof createStream>,
): (readonly [number, number])[] {
  const top = Math.ceil((1.12 * unit.pullInV) / devices.sweepStepV);
  const releaseV = devices.releasePart * unit.pullInV;
  return Array.from({ length: top + 1 }, (_, k) => {
    const biasV = Number(((direction === 'up' ? k : top - k) * devices.sweepStepV).toFixed(6));
    const closed = direction === 'up' ? biasV >= unit.pullInV : biasV > releaseV;
    const currentA = (closed ? CLOSED_CURRENT_A : OPEN_CURRENT_A) * Math.exp(0.15 * stream.normal());
    return [sign * biasV + 0, Number((sign * (biasV === 0 ? 1e-14 : currentA)).toPrecision(4))] as const;
  });
}
