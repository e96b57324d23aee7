import type { RandomStream } from '#libs/numeric';
import type { Calendar } from './moment.js';
import type { BalanceScenario, RigScenario, Scenario } from './scenario.js';
import type { InstrumentCheckEvent, InstrumentEvent, LabEvent, RigEvent } from './events.js';

/** What a balance shows of a true mass: repeatability noise, then its smallest step, as text with the step's decimals. */
export function shownMass(balance: BalanceScenario, massMg: number, stream: RandomStream): string {
  return shownInSteps(massMg + balance.repeatabilityMg * stream.normal(), balance.resolutionMg);
}

/** A value rounded to a step (a power of ten) with as many decimals as the step has. */
export function shownInSteps(value: number, step: number): string {
  const decimals = Math.max(0, Math.round(-Math.log10(step)));
  return (Math.round(value / step) * step).toFixed(decimals);
}

/** The line a generic balance sends: stable, sign, eight places, unit. */
export function balanceLine(massText: string): string {
  const sign = massText.startsWith('-') ? '-' : '+';
  return `ST  ${sign}${massText.replace('-', '').padStart(8)} mg`;
}

/** The line a generic power meter sends. */
export function meterLine(powerText: string): string {
  return `P  ${powerText.startsWith('-') ? '-' : '+'}${powerText.replace('-', '').padStart(9)} nW`;
}

/** What the meter shows of a true power: noise in proportion and noise of its own. */
export function shownPower(rig: RigScenario, powerNw: number, stream: RandomStream): string {
  const noise = Math.hypot(rig.meterNoiseNw, rig.meterRelativeNoise * powerNw);
  return shownInSteps(powerNw + noise * stream.normal(), 0.01);
}

export const BALANCE = 'balance-1';
/** Checked weekly, used for the second discs, and overdue at the end. */
export const SECOND_BALANCE = 'balance-2';
export const METER = 'meter-1';
export const OVEN = 'oven-1';
export const RIG = 'rig-1';

/** Instruments, the rig, and their checks; the first balance is checked every morning that it is used, the second is let slip. */
export function instrumentEvents(scenario: Scenario, calendar: Calendar, stream: RandomStream, checkDays: readonly number[]): LabEvent[] {
  const { balance, rig } = scenario;
  const at = (day: number, clock: number): string => calendar.text(calendar.moment(day, clock));
  const registered = { kind: 'instrument' as const, at: at(27, 9), by: 'manager-1' };
  const mg = { resolution: String(balance.resolutionMg), repeatability: String(balance.repeatabilityMg), unit: 'mg' };
  const instruments: InstrumentEvent[] = [
    { ...registered, key: BALANCE, instrumentKind: 'balance', label: 'Balance 1', serialNumber: 'TL-0117', location: 'weighing room', ...mg, checkEveryHours: 24 },
    { ...registered, key: SECOND_BALANCE, instrumentKind: 'balance', label: 'Balance 2', serialNumber: 'TL-0094', location: 'prep bench', ...mg, checkEveryHours: 168 },
    { ...registered, key: METER, instrumentKind: 'power-meter', label: 'Meter 1', serialNumber: 'TL-0203', location: 'rig 1', resolution: '0.01', repeatability: String(rig.meterNoiseNw), unit: 'nW', checkEveryHours: 8760 },
    { ...registered, key: OVEN, instrumentKind: 'oven', label: 'Oven 1', serialNumber: 'TL-0045', location: 'prep room', resolution: '1', repeatability: '0.5', unit: 'Cel', checkEveryHours: 2160 },
    { ...registered, key: 'bias-source-1', instrumentKind: 'bias-source', label: 'Bias source 1', serialNumber: 'TL-0311', location: 'device bench', resolution: '0.001', repeatability: '0.002', unit: 'V', checkEveryHours: 8760 },
  ];
  const check = (instrumentKey: string, moment: string, nominal: string, shown: string, tolerance: string, by = 'technician-1'): InstrumentCheckEvent => (
    { kind: 'instrument-check', key: `check/${instrumentKey}/${moment.slice(0, 16)}`, at: moment, by, instrumentKey, nominal, shown, tolerance });
  const weighed = (instrumentKey: string, moment: string): InstrumentCheckEvent => check(instrumentKey, moment, '100.00', shownMass(balance, 100, stream), '0.05');
  const rigEvent: RigEvent = {
    kind: 'rig', key: RIG, at: at(27, 9.5), by: 'researcher-1', label: 'Rig 1', version: 1, source: 'filtered halogen lamp, 50 W',
    bandCentreNm: String(rig.wavelengthNm), bandWidthNm: String(rig.bandWidthNm), diffuser: 'opal disc 2 mm',
    diffuserTransmittance: String(rig.diffuserTransmittance), uDiffuserTransmittance: String(rig.uDiffuserTransmittance), apertureMm: '12', meterKey: METER,
  };
  const beforeTheEnd = [21 * 60, 100].map((minutes) => calendar.text(calendar.endsAtMs - minutes * 60_000));
  return [
    ...instruments,
    rigEvent,
    check(METER, at(27, 10), '1000.00', shownPower(rig, 1000, stream), '10', 'researcher-1'),
    check(OVEN, at(27, 10.2), '70', '70', '2'),
    check('bias-source-1', at(27, 10.4), '10.000', '10.002', '0.010', 'field-engineer-1'),
    weighed(SECOND_BALANCE, at(24, 7.7)),
    ...checkDays.map((day) => weighed(BALANCE, at(day, 7.5))),
    ...beforeTheEnd.map((moment) => weighed(BALANCE, moment)),
  ];
}
