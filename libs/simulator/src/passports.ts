import { createStream } from '#libs/numeric';
import { thresholdPower } from '#libs/switch-device';
import { unitKey, type TrueUnit } from './devices.js';
import type { LabEvent } from './events.js';
import type { Calendar } from './moment.js';
import type { Scenario } from './scenario.js';

const MINUTE = 60_000;
/** What the invented units have in common: sizes as the trade's notes give them. */
const CHOPPED = { biasV: 9, hz: 0.5, openings: 12, runs: 2 } as const;
const TEMPERATURES_C = [-10, 10, 25, 40, 60] as const;
const CYCLES = [1, 10, 100, 1000] as const;

/** Band, chopped light, temperature, cycles and resets of every unit; the last one no longer resets and is retired; the first lot is accepted. */
export function passportEvents(seed: string, scenario: Scenario, calendar: Calendar, units: Readonly<Record<string, TrueUnit>>): LabEvent[] {
  const stream = createStream(seed, 12);
  const count = Object.keys(units).length;
  const events = Array.from({ length: count }, (_, index) => ofUnit(index, index === count - 1, units[unitKey(index)]!, scenario, calendar, stream)).flat();
  // Half of a lot at 90 % confidence takes four units in a row: 1 − 0.5⁴ > 0.9.
  if (scenario.devices.lots[0]!.units < 4) return events;
  return [...events, {
    kind: 'lot-acceptance', key: 'lot-acceptance/1', at: calendar.text(calendar.moment(16, 17)), by: 'field-engineer-1', lotKey: 'lot/1', criterion: 'Trips and resets twelve times in a row at 9 V',
    reliability: '0.5', confidence: '0.9', allowedFailures: 0, testedUnits: scenario.devices.lots[0]!.units, failedUnits: 0, note: 'So few units show no more than that.',
  }];
}

function ofUnit(index: number, retired: boolean, unit: TrueUnit, { devices, rig }: Scenario, calendar: Calendar, stream: ReturnType<typeof createStream>): LabEvent[] {
  const deviceUnitKey = unitKey(index);
  const startedAt = calendar.moment(18, 16 + index * 0.1);
  let minutes = 0;
  const act = (name: string): { key: string; at: string; by: string; deviceUnitKey: string } => ({ key: `${name}/${index + 1}`, at: calendar.text(startedAt + (minutes += 4) * MINUTE), by: 'field-engineer-1', deviceUnitKey });
  const power = (): number => thresholdPower(unit, CHOPPED.biasV) * Math.exp(devices.tripScatter * stream.normal());
  const perK = 0.0004 + 0.0003 * stream.normal();
  const driftV = 0.004 * stream.normal();
  return [
    { kind: 'absorption-band', ...act('absorption-band'), centreNm: (rig.wavelengthNm + 2 * stream.normal()).toFixed(1), widthNm: (34 + stream.normal()).toFixed(1), peakAbsorptance: (0.82 + 0.01 * stream.normal()).toFixed(3), method: 'Spectrometer, reflected and let through' },
    ...Array.from({ length: CHOPPED.runs }, (_, run): LabEvent => ({
      kind: 'chopped-run', ...act(`chopped-run/${run + 1}`), biasV: String(CHOPPED.biasV), chopHz: String(CHOPPED.hz), tripPowersNw: Array.from({ length: CHOPPED.openings }, () => Number(power().toFixed(1))),
    })),
    { kind: 'temperature-run', ...act('temperature-run'), biasV: String(CHOPPED.biasV), steps: TEMPERATURES_C.map((t) => [t, Number((power() * Math.exp(perK * (t - 25))).toFixed(1))] as const) },
    ...CYCLES.map((cycles, i): LabEvent => ({
      kind: 'cycle-count', ...act(`cycle-count/${i + 1}`), cycles, switching: 'cold', pullInV: (unit.pullInV + driftV * i + 0.004 * stream.normal()).toFixed(3), contactResistanceOhm: (160 + 12 * i + 8 * stream.normal()).toFixed(0),
    })),
    ...[0, 1].map((i): LabEvent => ({ kind: 'reset-pulse', ...act(`reset-pulse/${i + 1}`), pulseV: '22', pulseMs: '5', succeeded: !retired })),
    ...(retired ? [{ kind: 'unit-retirement' as const, ...act('unit-retirement'), cause: 'reset-fails' as const, reason: 'Two pulses of 22 V for 5 ms did not release the contact.' }] : []),
  ];
}
