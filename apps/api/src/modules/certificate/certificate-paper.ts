import { operatingDrawing } from '#libs/drawing';
import { formatNumber, formatPercentPlain } from '#libs/quantity';
import { beside, caution, code, facts, figure, heading, inks, notice, paragraph, sentence, subheading, table, written, type Paper, type Part } from '../../platform/paper/index.js';
import type { CalibrationVersion } from '../calibration/calibration.entity.js';
import type { BiasThresholdCurve, DeviceLot, DeviceUnit } from '../device/device.entity.js';
import type { LightReference, ThresholdCertificate } from './certificate.entity.js';
import type { Standing } from './certificate.repository.js';

export interface CertificateSheet {
  readonly certificate: ThresholdCertificate;
  readonly standing: Standing;
  readonly unit: DeviceUnit;
  readonly lot: DeviceLot;
  readonly calibration: CalibrationVersion;
  readonly calibrationLabel: string;
  readonly cropName: string;
  readonly curve: BiasThresholdCurve;
  readonly light: LightReference;
  readonly biasSourceLabel: string | null;
  readonly recordedBy: string;
  readonly signatures: readonly { readonly meaning: string; readonly by: string; readonly at: Date; readonly statement: string | null }[];
  readonly lab: string;
  readonly madeAt: Date;
  /** Address that opens its thread. */
  readonly threadUrl: string;
}

export const CAUSES: Readonly<Record<string, string>> = {
  irradiance: 'the light at the site', leaf: 'how leaves differ', fit: 'the calibration’s mean line', device: 'the unit’s own threshold',
};

/** Tens of volts and stored charge; a paper part adds the deference to site rules itself. */
export const BIAS_CAUTION = 'Bias of tens of volts. Charge stays in supply and leads after switching off: limit the current, discharge before touching, interlock. Units are spoilt by static: earth yourself.';

const day = (at: Date): string => at.toISOString().slice(0, 10);
const moment = (at: Date): string => `${at.toISOString().slice(0, 16).replace('T', ' ')} UTC`;
const percent = formatPercentPlain;

/** The three figures a person acts on, in a double frame. */
const mainFigures = ({ certificate: { document, targetRwc } }: CertificateSheet): Part => {
  const cell = (name: string, value: string, color: string): object => ({ stack: [written(name, { color: inks.soft, fontSize: 9 }), { ...written(value, { bold: true, fontSize: 19, color }), margin: [0, 2, 0, 0] }] });
  const inner = {
    table: { widths: ['*', '*', '*'], body: [[
      cell('Set the bias to', `${document.biasV} V`, inks.violet), cell('It trips at a light power of', `${formatNumber(document.thresholdPowerNw, 1)} nW`, inks.ink), cell('which is the target RWC', percent(targetRwc, 1), inks.ink),
    ]] },
    layout: frame(0.6, 9),
  };
  return { table: { widths: ['*'], body: [[inner]] }, layout: frame(1.4, 3), margin: [0, 2, 0, 10] } as Part;
};

const frame = (width: number, padding: number): object => ({
  hLineWidth: () => width, vLineWidth: (line: number, node: { table: { widths?: unknown[] } }) => (line === 0 || line === node.table.widths?.length ? width : 0),
  hLineColor: () => inks.ink, vLineColor: () => inks.ink, paddingLeft: () => padding, paddingRight: () => padding, paddingTop: () => padding, paddingBottom: () => padding,
});

const validityPart = ({ standing, certificate }: CertificateSheet): Part =>
  standing.validity === 'VALID'
    ? notice(`Valid until ${day(certificate.validUntil)}`, 'Ended earlier by its withdrawal, by the retirement of the unit, or by an amendment of what it rests on. The code opens its thread, which tells how it stands now.')
    : notice('Not valid', standing.because ?? '', 'alarm');

/** What the interval means, and the chances at the RWC values the agronomist named. */
export function chanceSentences({ certificate }: Pick<CertificateSheet, 'certificate'>): string[] {
  const { document, falseTripRwc, missedTripRwc } = certificate;
  return [
    `Of 100 leaves, 95 trip it between ${percent(document.tripRwcLow, 1)} and ${percent(document.tripRwcHigh, 1)} RWC (standard deviation ${formatNumber(100 * document.tripRwcSd, 1)} points).`,
    ...(falseTripRwc !== null && document.falseTripChance != null ? [`A leaf at ${percent(falseTripRwc, 1)} RWC, where a trip would be false, trips it with a chance of ${percent(document.falseTripChance, 1)}.`] : []),
    ...(missedTripRwc !== null && document.missedTripChance != null ? [`A leaf at ${percent(missedTripRwc, 1)} RWC, where silence would be a miss, leaves it untripped with a chance of ${percent(document.missedTripChance, 1)}.`] : []),
  ];
}

const sharesPart = ({ certificate: { document } }: CertificateSheet): Part => ({
  stack: [
    subheading('What makes the spread'),
    ...[...document.shares].sort((a, b) => b.share - a.share).map(({ cause, share, sdRwc }): Part => ({
      stack: [
        { columns: [{ ...written(CAUSES[cause] ?? cause), width: '*' }, { ...written(percent(share, 0), { bold: true }), width: 'auto' }] },
        { canvas: [{ type: 'rect', x: 0, y: 0, w: 165, h: 6, lineWidth: 0.5, lineColor: inks.ink }, { type: 'rect', x: 0, y: 0, w: Math.max(0.5, 165 * share), h: 6, color: inks.violet }], margin: [0, 2, 0, 1] },
        { ...written(sdRwc === undefined ? '' : `alone ${formatNumber(100 * sdRwc, 1)} points of RWC`, { color: inks.soft, fontSize: 8 }), margin: [0, 0, 0, 6] },
      ],
    })),
  ],
});

function guardFacts({ certificate: { document }, biasSourceLabel }: CertificateSheet): Part {
  const v = (value: number | undefined | null, places = 2): string | null => (value == null ? null : `${formatNumber(value, places)} V`);
  const row = (name: string, value: string | null): { name: string; value: string } | null => (value === null ? null : { name, value });
  return facts([
    row('Bias source', `${biasSourceLabel ? `${biasSourceLabel}, ` : ''}steps of ${document.biasStepV} V`),
    row('Before rounding', document.exactBiasV === undefined || document.tripRwc === undefined ? null : `${formatNumber(document.exactBiasV, 4)} V; rounding moves the trip to ${percent(document.tripRwc, 2)} RWC`),
    row('Pull-in', document.pullInV === undefined ? null : `${v(document.pullInV)}${document.marginSigma == null ? '' : `; the bias lies ${formatNumber(document.marginSigma, 1)} standard deviations below it, at least ${document.leastMarginSigma} are asked for`}`),
    row('Tested range', document.testedMinV === undefined ? null : `${v(document.testedMinV)} to ${v(document.testedMaxV)}`),
    row('Holds above', document.holdV == null ? 'not measured' : v(document.holdV)),
    row('Ten per cent more light', document.relativeSlope === undefined ? null : `trips it ${formatNumber((100 * Math.log(1.1)) / document.relativeSlope, 1)} points wetter`),
    row('One per cent more bias', document.thresholdPerLnBias === undefined ? null : `moves the threshold by ${formatNumber(document.thresholdPerLnBias, 1)} %`),
  ], { nameWidth: 130 });
}

function restsOn({ certificate, calibration, calibrationLabel, cropName, curve, light }: CertificateSheet): Part {
  const { document } = calibration;
  return facts([
    { name: 'Target', value: `${percent(certificate.targetRwc, 1)} RWC: ${certificate.targetBasis}. Leaf’s transmittance there ${formatNumber(certificate.document.transmittanceAtTarget, 4)}` },
    { name: 'Calibration', value: `${calibrationLabel}, version ${calibration.version}: ${cropName}, ${document.leafCount} leaves, RWC ${percent(document.rwcMin, 1)} to ${percent(document.rwcMax, 1)}` },
    { name: 'Curve of the unit', value: `${curve.document.tripTestIds.length} trip tests, P0 ${formatNumber(curve.document.p0Nw, 1)} nW, pull-in ${formatNumber(curve.document.pullInV, 2)} V, exponent ${formatNumber(curve.document.exponent, 3)}` },
    { name: 'Light reference', value: `${light.label}, ${light.site}: ${light.powerText} ${light.powerUnit} ± ${percent(Number(light.relativeSd), 1)} (1 SD), ${light.basis.toLowerCase()}${light.days === null ? '' : ` on ${light.days} ${light.days === 1 ? 'day' : 'days'}`}, ${day(light.observedAt)}` },
    { name: 'Computed', value: `${certificate.document.trials} drawn cases, seed ${certificate.document.seed}, code ${certificate.codeVersion}` },
  ], { nameWidth: 130 });
}

/** The certificate as a paper: what to set, how far to trust it, by whose word, and the code that opens its thread. */
export function certificatePaper(sheet: CertificateSheet): Paper {
  const { certificate, unit, lot } = sheet;
  const { document } = certificate;
  return {
    sort: 'Threshold certificate', title: `Unit ${unit.label}`, lab: sheet.lab, reference: `threshold_certificate ${certificate.id}`, madeAt: sheet.madeAt,
    parts: [
      beside(
        { part: { stack: [paragraph(`of lot ${lot.label}. Sets the bias at which this one unit trips under a leaf at the target relative water content.`), validityPart(sheet)] } },
        { part: { stack: [code(sheet.threadUrl, { sizeMm: 25 }), { ...written('opens its thread', { fontSize: 7.5, color: inks.soft }), alignment: 'center' }] }, width: 76 },
      ),
      mainFigures(sheet),
      caution(BIAS_CAUTION),
      ...chanceSentences(sheet).map((text) => sentence([text])),
      ...(document.overrides.length > 0 || certificate.overrideReason ? [
        notice('To be read with it', [...document.overrides.map(({ message }) => message), ...(certificate.overrideReason ? [`Issued all the same: ${certificate.overrideReason}`] : [])].join('\n'), 'ask'),
      ] : []),
      beside(
        { part: figure(operatingDrawing({ points: document.operatingCharacteristic, targetRwc: certificate.targetRwc, interval: [document.tripRwcLow, document.tripRwcHigh] }), { label: 'Chance that it has tripped, against RWC', width: 300 }) },
        { part: sharesPart(sheet), width: 165 },
      ),
      heading('Guard'), guardFacts(sheet),
      heading('What it rests on'), restsOn(sheet),
      heading('By whose word'),
      table([{ head: 'What', cell: (row: { what: string }) => row.what, width: 70 }, { head: 'By', cell: ({ by }: { by: string }) => by }, { head: 'When', cell: ({ at }: { at: string }) => at, width: 105 }, { head: 'Statement', cell: ({ statement }: { statement: string }) => statement }], [
        { what: 'computed for', by: sheet.recordedBy, at: moment(certificate.recordedAt), statement: '' },
        ...sheet.signatures.map(({ meaning, by, at, statement }) => ({ what: meaning.toLowerCase(), by, at: moment(at), statement: statement ?? '' })),
      ], sheet.signatures.length === 0 ? { note: 'Not signed by anybody: a draft, not for use.' } : {}),
      facts([{ name: 'Content, SHA-256', value: certificate.contentHash.toString('hex'), face: 'Raw' }, { name: 'Thread', value: sheet.threadUrl, face: 'Raw' }]),
    ],
  };
}
