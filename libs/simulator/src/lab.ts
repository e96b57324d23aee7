import { createStream } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import { BenchTruth, benchDays, simulateBench } from './bench.js';
import { certificationEvents } from './certification.js';
import { TrueUnit, simulateDevices } from './devices.js';
import type { LabEvent, SimulatedPerson } from './events.js';
import { instrumentEvents } from './instruments.js';
import { calendarUntil } from './moment.js';
import { inOrder } from './order.js';
import { passportEvents } from './passports.js';
import { SIMULATED_PEOPLE } from './people.js';
import { protocolEvents } from './protocol.js';
import type { Scenario } from './scenario.js';

export interface SimulatedLab {
  readonly seed: string;
  readonly scenario: Scenario;
  readonly people: readonly SimulatedPerson[];
  /** From the first crop to the approved certificates, in order of time; and, at the end, what is still in the oven. */
  readonly events: readonly LabEvent[];
  readonly truth: BenchTruth & { readonly units: Readonly<Record<string, TrueUnit>> };
}

/**
 * Simulates a lab with known truth: samples, weighings, readings, ovens, devices, light, certificate requests.
 *
 * Pure: the same seed and scenario give the same bytes. What a certificate's bias will be is left to the reader of the
 * events, as in life; give the biases to `simulateField` for what happens then.
 *
 * @param seed text or digits
 * @param scenario of `demoScenario`, or changed from it
 * @returns events in order of time, and the truth behind them
 * @throws InputError `NOT_A_MOMENT`, `TOO_FEW_UNITS`, `NO_RUNS`
 *
 * @example
 * simulateLab('demo', demoScenario('2026-06-30T17:00:00+02:00')).events[0].kind // => 'crop'
 */
export function simulateLab(seed: string, scenario: Scenario): SimulatedLab {
  const units = scenario.devices.lots.reduce((n, lot) => n + lot.units, 0);
  const wanted = scenario.devices.installedPerCrop * scenario.crops.length;
  if (units < wanted) {
    throw new InputError('TOO_FEW_UNITS', 'devices.lots', `${units} units cannot fill ${wanted} installations`, 'Add units or install fewer.');
  }
  if (scenario.crops.length === 0 || scenario.crops.some((crop) => crop.runs.length === 0)) {
    throw new InputError('NO_RUNS', 'crops', 'a crop without a drying run cannot be calibrated', 'Give every crop at least one run.');
  }
  const calendar = calendarUntil(scenario.endsAt);
  const bench = simulateBench(seed, scenario, calendar);
  const devices = simulateDevices(seed, scenario, calendar);
  const days = benchDays(scenario).map((d) => d.day);
  const checkDays = [...new Set([...days, ...days.map((d) => d - 1)])].sort((a, b) => b - a);
  return {
    seed,
    scenario,
    people: SIMULATED_PEOPLE,
    events: inOrder([
      ...instrumentEvents(scenario, calendar, createStream(seed, 0), checkDays),
      ...protocolEvents(scenario, calendar), ...bench.events, ...devices.events, ...passportEvents(seed, scenario, calendar, devices.units), ...certificationEvents(seed, scenario, calendar),
    ]),
    truth: { ...bench.truth, units: devices.units },
  };
}
