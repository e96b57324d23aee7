import { createStream, mean, standardDeviation } from '#libs/numeric';
import { benchDays, dryingRunKey } from './bench.js';
import { curveKey, unitKey } from './devices.js';
import type { CertificateEvent, LabEvent } from './events.js';
import type { Calendar } from './moment.js';
import type { CropScenario, Scenario } from './scenario.js';
import { dayShape, daySteps, drawDay, drawFlicker } from './sky.js';

const MINUTE = 60_000;

/** Which unit goes under which crop: the first few under the first crop, the next under the second, the rest stay on the shelf. */
export function installedUnits(scenario: Scenario): readonly { readonly crop: CropScenario; readonly unitIndex: number }[] {
  const { installedPerCrop } = scenario.devices;
  return scenario.crops.flatMap((crop, c) => Array.from({ length: installedPerCrop }, (_, i) => ({ crop, unitIndex: c * installedPerCrop + i })));
}

export const certificateKey = (unitIndex: number): string => `certificate/${unitIndex + 1}`;

/** Calibrations of the released runs, the light measured around noon, a certificate for each unit that will be installed; signed by two others. */
export function certificationEvents(seed: string, scenario: Scenario, calendar: Calendar): LabEvent[] {
  const stream = createStream(seed, 6);
  const at = (day: number, clock: number): string => calendar.text(calendar.moment(day, clock));
  const runs = benchDays(scenario);
  const signed = (subjectKey: string, subjectKind: 'calibration-version' | 'threshold-certificate', day: number, minute: number): LabEvent[] => [
    { kind: 'signature', key: `${subjectKey}/reviewed`, at: at(day, 9 + minute / 60), by: 'researcher-2', subjectKey, subjectKind, meaning: 'reviewed', statement: 'Checked against the raw data.' },
    { kind: 'signature', key: `${subjectKey}/approved`, at: at(day, 14 + minute / 60), by: 'manager-1', subjectKey, subjectKind, meaning: 'approved', statement: 'Approved for use in the field.' },
  ];
  const calibrations = scenario.crops.flatMap((crop, c): LabEvent[] => [
    { kind: 'calibration', key: `calibration/${crop.key}`, at: at(17, 9 + c * 0.5), by: 'researcher-1', label: `${crop.name}, rig 1`, cropKey: `crop/${crop.key}` },
    {
      kind: 'calibration-fit', key: `calibration-version/${crop.key}`, at: at(17, 9.2 + c * 0.5), by: 'researcher-1', calibrationKey: `calibration/${crop.key}`, family: 'log-linear',
      dryingRunKeys: runs.filter((r) => r.crop === crop).map((r) => dryingRunKey(crop, r.runIndex)),
    },
    ...signed(`calibration-version/${crop.key}`, 'calibration-version', 16, c * 10),
  ]);
  const light = scenario.crops.map((crop) => measureLight(crop, scenario, calendar, stream));
  const certificates = installedUnits(scenario).flatMap(({ crop, unitIndex }): LabEvent[] => {
    const event: CertificateEvent = {
      kind: 'certificate', key: certificateKey(unitIndex), at: at(13, 9 + unitIndex * 0.1), by: 'field-engineer-1', deviceUnitKey: unitKey(unitIndex),
      calibrationVersionKey: `calibration-version/${crop.key}`, curveKey: curveKey(unitIndex), lightReferenceKey: `light/${crop.key}`,
      targetRwc: crop.targetRwc, targetBasis: crop.targetBasis, biasStepV: scenario.devices.biasStepV, falseTripRwc: crop.targetRwc + 0.12, missedTripRwc: crop.targetRwc - 0.12, validUntil: calendar.text(calendar.endsAtMs + 60 * 24 * 60 * MINUTE),
    };
    return [event, ...signed(event.key, 'threshold-certificate', 12, unitIndex * 5)];
  });
  return [...calibrations, ...light, ...certificates];
}

const LIGHT_DAYS = 10;

/**
 * The brightest five minutes of each of ten days, with the diffuser tilted a little differently every day: a latch keeps
 * the maximum of the light, so it is maxima that say what a threshold will meet.
 */
function measureLight(crop: CropScenario, { sky, rig }: Scenario, calendar: Calendar, stream: ReturnType<typeof createStream>): LabEvent {
  const series = Array.from({ length: LIGHT_DAYS }, (_, i) => {
    const day = 14 + LIGHT_DAYS - 1 - i;
    const brightness = drawDay(sky, stream) * Math.exp(sky.tiltSd * stream.normal());
    const moments = daySteps().map((clock) => ({ clock, relative: dayShape(sky, clock) * drawFlicker(sky, stream) }));
    const brightest = moments.reduce((best, m) => (m.relative > best.relative ? m : best));
    const told = (m: (typeof moments)[number]): { at: string; powerNw: number } => ({ at: calendar.text(calendar.moment(day, m.clock)), powerNw: crop.noonPowerNw * brightness * m.relative });
    return { ...told(brightest), readings: moments.filter((m) => m === brightest || Number.isInteger(m.clock)).map(told) };
  });
  return {
    kind: 'light-reference', key: `light/${crop.key}`, at: calendar.text(calendar.moment(14, 18)), by: 'field-engineer-1',
    label: `${crop.site}, brightest of the day`, site: crop.site, basis: 'measured',
    powerText: mean(series.map((s) => s.powerNw)).toFixed(0), powerUnit: 'nW', relativeSd: standardDeviation(series.map((s) => Math.log(s.powerNw))).toFixed(3),
    series: series.map((s) => ({ at: s.at, powerText: s.powerNw.toFixed(0) })),
    readings: series.flatMap((s) => s.readings.map((r) => ({ at: r.at, powerText: r.powerNw.toFixed(0) }))),
    armedFromMin: 9 * 60, armedUntilMin: 17 * 60, latitude: String(crop.latitude), longitude: String(crop.longitude),
    bandCentreNm: String(rig.wavelengthNm), bandWidthNm: String(rig.bandWidthNm), diffuser: 'opal glass',
    note: 'Diffuser and meter at leaf height, brightest five minutes of each of ten days; tilt varied between days.',
  };
}
