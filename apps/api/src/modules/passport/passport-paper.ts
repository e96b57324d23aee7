import { sweepDrawing, thresholdDrawing } from '#libs/drawing';
import { formatNumber, formatPercentPlain } from '#libs/quantity';
import type { Flag } from '../../generated/schema.js';
import { beside, caution, code, facts, figure, heading, notice, paragraph, table, type Fact, type Paper, type Part } from '../../platform/paper/index.js';
import { releaseOf, pullInOf } from '../device/compute.js';
import type { BiasSweep, BiasThresholdCurve, DeviceLot, DeviceUnit, TripTest } from '../device/device.entity.js';
import { chopSummaryOf, cycleDriftOf, exponentsOf, sweepSummaryOf, thermalOf, type UnitRecord } from './compute.js';
import type { AbsorptionBand, UnitRetirement } from './passport.entity.js';

export interface PassportSheet {
  readonly unit: DeviceUnit;
  readonly lot: DeviceLot;
  readonly state: string;
  /** Standing facts: what was retracted is not printed, and the thread tells it. */
  readonly record: UnitRecord;
  readonly bands: readonly AbsorptionBand[];
  readonly curve: BiasThresholdCurve | null;
  readonly retirement: UnitRetirement | null;
  readonly remarks: readonly Flag[];
  readonly certificates: readonly { readonly biasV: number; readonly targetRwc: number; readonly state: string; readonly validUntil: Date }[];
  readonly lab: string;
  readonly madeAt: Date;
  readonly threadUrl: string;
}

const day = (at: Date): string => at.toISOString().slice(0, 10);
const percent = formatPercentPlain;

function curveParts({ unit, curve, record }: PassportSheet): Part[] {
  if (!curve) return [heading('Bias-threshold curve'), paragraph('No curve has been fitted.')];
  const { document } = curve;
  const used = new Set(document.tripTestIds);
  const tests = record.tripTests.filter(({ id }) => used.has(id));
  const names = { PARALLEL_PLATE: 'parallel plates, n = 2/3', CONTACT_LIMITED: 'contact before pull-in, n = 2', FREE: 'n fitted' } as const;
  const u = (i: number): string => formatNumber(Math.sqrt(Math.max(0, document.covariance[i]?.[i] ?? 0)), 3);
  return [
    heading('Bias-threshold curve'),
    figure(thresholdDrawing({ line: document.line, tests: tests.map(({ biasV, tripPowerNw }) => ({ biasV: Number(biasV), powerNw: Number(tripPowerNw) })), testedV: [document.biasMinV, document.biasMaxV] }), {
      label: `Threshold power against bias, unit ${unit.label}`, caption: 'Circles are trip tests, the line is the fitted curve with its 95 % band. Outside the dotted lines nothing was tested.', width: 380,
    }),
    facts([
      { name: 'P0, at zero bias', value: `${formatNumber(document.p0Nw, 1)} nW ± ${u(0)} nW` },
      { name: 'Pull-in voltage', value: `${formatNumber(document.pullInV, 3)} V ± ${u(1)} V, from ${document.pullInFrom}` },
      { name: `Exponent n, ${document.exponentFree ? 'fitted' : 'held'}`, value: `${formatNumber(document.exponent, 3)} ± ${u(2)}${document.exponentAtBound ? `, at its ${document.exponentAtBound} bound` : ''}` },
      { name: 'Scatter', value: `${formatNumber(document.residualSdNw, 2)} nW about the curve${document.scatter ? `, taken as ${document.scatter === 'proportional' ? 'in proportion to the threshold' : 'alike at every bias'}` : ''}` },
      { name: 'Fitted', value: `${day(curve.recordedAt)}, ${document.tripTestIds.length} trip tests, code ${curve.codeVersion}` },
    ]),
    table([
      { head: 'Reading', cell: (e: ReturnType<typeof exponentsOf>[number]) => names[e.reading] }, { head: 'n', cell: (e) => formatNumber(e.exponent, 3), align: 'right', width: 60 },
      { head: 'P0, nW', cell: (e) => formatNumber(e.p0Nw, 1), align: 'right', width: 80 }, { head: 'ΔAICc', cell: (e) => (e.deltaAicc == null ? '' : formatNumber(e.deltaAicc, 1)), align: 'right', width: 70 },
    ], exponentsOf(tests, record.sweeps), { note: 'A difference below 2 decides nothing.' }),
  ];
}

function sweepParts({ record, unit }: PassportSheet): Part[] {
  const summary = sweepSummaryOf(record.sweeps);
  const drawn = record.sweeps.find(({ polarity, direction }) => polarity === 'POSITIVE' && direction === 'UP');
  return [
    heading('Bias sweeps'),
    ...(drawn ? [figure(sweepDrawing({ steps: drawn.steps, pullInV: pullInOf(drawn.steps)?.pullInV ?? null }), { label: `Current against bias, ${day(drawn.observedAt)}, unit ${unit.label}`, width: 380 })] : []),
    table([
      { head: 'When', cell: (s: BiasSweep) => day(s.observedAt), width: 70 }, { head: 'Bias', cell: (s) => `${s.direction === 'UP' ? 'raised' : 'lowered'}, ${s.polarity.toLowerCase()}` },
      { head: 'Pull-in, V', cell: (s) => { const found = pullInOf(s.steps); return found ? formatNumber(found.pullInV, 2) : ''; }, align: 'right' }, { head: 'Release, V', cell: (s) => { const found = releaseOf(s.steps); return found === null ? '' : formatNumber(found, 2); }, align: 'right' },
    ], record.sweeps),
    ...(summary ? [facts([
      ...summary.pullIn.map(({ polarity, meanV, uMeanV, sweeps }): Fact => ({ name: `Pull-in, ${polarity.toLowerCase()}`, value: `${formatNumber(meanV, 3)} V ± ${formatNumber(uMeanV, 3)} V over ${sweeps}` })),
      summary.hysteresisV != null && { name: 'Pull-in less release', value: `${formatNumber(summary.hysteresisV, 2)} V` },
      summary.polarityDifferenceV != null && { name: 'Between the polarities', value: `${formatNumber(summary.polarityDifferenceV, 3)} V ± ${formatNumber(summary.uPolarityDifferenceV ?? 0, 3)} V` },
    ])] : []),
  ];
}

function furtherParts({ record, bands }: PassportSheet): Part[] {
  const drift = cycleDriftOf(record.cycleCounts);
  const newest = record.cycleCounts.at(-1);
  const [released, pulses] = [record.resetPulses.filter(({ succeeded }) => succeeded).length, record.resetPulses.length];
  return [
    heading('Further tests'),
    facts([
      ...bands.map((band): Fact => ({ name: band.deviceLotId ? 'Absorption band of its lot' : 'Absorption band', value: `${Number(band.centreNm)} nm, full width at half maximum ${Number(band.widthNm)} nm${band.peakAbsorptance ? `, ${percent(Number(band.peakAbsorptance), 0)} taken up at the centre` : ''}; ${band.method}, ${day(band.observedAt)}${band.spectrumId ? ', computed from its spectrum' : ''}` })),
      ...record.choppedRuns.map((run): Fact => { const told = chopSummaryOf(run); return { name: 'Chopped light', value: `${told.openings} openings at ${Number(run.chopHz)} Hz with ${Number(run.biasV)} V: mean ${told.meanNw === null ? 'none' : `${formatNumber(told.meanNw, 1)} nW`}${told.relativeSd === null ? '' : ` ± ${percent(told.relativeSd, 1)}`}, ${told.missed} missed; ${day(run.observedAt)}` }; }),
      ...record.temperatureRuns.map((run): Fact => { const told = thermalOf(run); return { name: 'Temperature', value: `${(100 * told.relativePerK).toFixed(3)} % ± ${(100 * told.uRelativePerK).toFixed(3)} % of trip power a kelvin, ${run.steps.length} steps with ${Number(run.biasV)} V; ${day(run.observedAt)}` }; }),
      pulses > 0 && { name: 'Reset pulses', value: `${released} of ${pulses} released; the last ${Number(record.resetPulses.at(-1)!.pulseV)} V for ${Number(record.resetPulses.at(-1)!.pulseMs)} ms` },
      newest && { name: 'Cycles', value: `${newest.cycles}, ${newest.switching.toLowerCase()} switched, by ${day(newest.observedAt)}${drift ? `; pull-in moves ${formatNumber(drift.perDecadeV, 3)} V a factor of ten, ${drift.verdict.toLowerCase()} its limit of ${formatNumber(drift.limitV, 3)} V` : ''}` },
    ]),
  ];
}

/** The whole record of one unit, as it stands, on paper. */
export function passportPaper(sheet: PassportSheet): Paper {
  const { unit, lot, retirement, remarks, certificates, record } = sheet;
  return {
    sort: 'Device passport', title: `Unit ${unit.label}`, lab: sheet.lab, reference: `device_unit ${unit.id}`, madeAt: sheet.madeAt,
    parts: [
      beside(
        { part: { stack: [paragraph(`of lot ${lot.label}, registered ${day(unit.recordedAt)}; ${sheet.state.toLowerCase()}.`), ...(retirement ? [notice('Retired', retirement.reason, 'alarm')] : []), ...(remarks.length > 0 ? [notice('Look at this before using the unit', remarks.map(({ message }) => message).join('\n'), 'ask')] : [])] } },
        { part: { stack: [code(sheet.threadUrl, { sizeMm: 25 })] }, width: 76 },
      ),
      ...curveParts(sheet),
      heading('Trip tests'),
      table([
        { head: 'When', cell: (t: TripTest) => day(t.observedAt), width: 70 }, { head: 'Bias, V', cell: (t) => String(Number(t.biasV)), align: 'right', width: 60 }, { head: 'Tripped at', cell: (t) => `${t.tripPowerText} ${t.tripPowerUnit}`, align: 'right', width: 80 },
        { head: 'Decades', cell: (t) => (t.onCurrentA && t.offCurrentA ? formatNumber(Math.log10(Number(t.onCurrentA) / Number(t.offCurrentA)), 1) : ''), align: 'right', width: 55 }, { head: 'Line', cell: (t) => t.rawLine, face: 'Raw' },
      ], record.tripTests),
      ...sweepParts(sheet), ...furtherParts(sheet),
      ...(certificates.length > 0 ? [heading('Certificates'), caution('A bias is set by the newest valid certificate of the unit alone. Tens of volts and stored charge: limit the current, discharge before touching.'), table([
        { head: 'Target RWC', cell: (c: PassportSheet['certificates'][number]) => percent(c.targetRwc, 1) }, { head: 'Bias, V', cell: (c) => String(c.biasV), align: 'right' }, { head: 'State', cell: (c) => c.state.toLowerCase() }, { head: 'Valid until', cell: (c) => day(c.validUntil) },
      ], certificates)] : []),
    ],
  };
}
