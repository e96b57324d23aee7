import { byDiscDrawing, calibrationDrawing, leafSymbols, leavesOf, operatingDrawing, symbolOf, thresholdDrawing } from '#libs/drawing';
import { facts, figure, heading, paragraph, table, type Part } from '../../../platform/paper/index.js';
import type { CalibrationVersion } from '../../calibration/calibration.entity.js';
import type { CalibrationDocument } from '../../calibration/calibration-document.js';
import type { ThresholdCertificate } from '../../certificate/certificate.entity.js';
import type { CertificateDocument } from '../../certificate/certificate-document.js';
import type { BiasThresholdCurve } from '../../device/device.entity.js';
import type { CurveDocument } from '../../device/curve-document.js';
import type { RwcDocument } from '../../water/rwc-document.js';
import type { RwcSeries } from '../../water/rwc-series.entity.js';
import type { PaperMaterial } from './material.js';
import { capital, momentText, numberText, percentText } from './words.js';

/** Drawings of one sort; a thread of hundreds of runs is read on the screen. */
const MOST_DRAWN = 12;

/** What was computed on the way, drawn and in numbers. */
export function computedParts(material: PaperMaterial): Part[] {
  const labels = new Map(material.thread.nodes.map(({ id, label }) => [id, label]));
  const labelOf = (id: string): string => labels.get(id) ?? id;
  const parts = [
    ...material.certificates.slice(0, MOST_DRAWN).flatMap((row) => certificateParts(row, capital(labelOf(row.id)))),
    ...material.curves.slice(0, MOST_DRAWN).map((row) => curvePart(row, capital(labelOf(row.id)), material)),
    ...material.versions.slice(0, MOST_DRAWN).flatMap((row) => calibrationParts(row, capital(labelOf(row.id)))),
    ...seriesParts(material, labelOf),
  ];
  return parts.length > 0 ? [heading('What was computed', { pageBreak: true }), ...parts] : [];
}

const causes: Readonly<Record<string, string>> = {
  irradiance: 'the light at the site, hour by hour', leaf: 'how leaves differ', fit: 'the calibration’s mean line', device: 'the unit’s own threshold',
};

function certificateParts(row: ThresholdCertificate, label: string): Part[] {
  const document = row.document as CertificateDocument;
  return [
    figure(operatingDrawing({ points: document.operatingCharacteristic, targetRwc: row.targetRwc, interval: [document.tripRwcLow, document.tripRwcHigh] }), {
      label: `${label}: chance of a trip against the leaf’s RWC`, caption: 'Between the dashed lines 95 of 100 leaves trip it.',
    }),
    facts([
      { name: 'Target RWC', value: `${percentText(row.targetRwc)} (${row.targetBasis})` },
      { name: 'Trips in truth', value: `between ${percentText(document.tripRwcLow)} and ${percentText(document.tripRwcHigh)} RWC, 95 % of leaves; standard deviation ${percentText(document.tripRwcSd)}` },
      { name: 'Transmittance there', value: numberText(document.transmittanceAtTarget) },
      { name: 'Threshold power', value: `${numberText(document.thresholdPowerNw)} nW` },
      { name: 'Bias', value: `${document.biasV} V, set in steps of ${document.biasStepV} V` },
      { name: 'Spread comes from', value: document.shares.map(({ cause, share }) => `${percentText(share, 0)} ${causes[cause] ?? cause}`).join('; ') },
      { name: 'Valid until', value: momentText(row.validUntil) },
      { name: 'Drawn by chance', value: `${document.trials} trials, seed ${document.seed}, code ${row.codeVersion}` },
    ]),
  ];
}

function curvePart(row: BiasThresholdCurve, label: string, { tripTests }: PaperMaterial): Part {
  const document = row.document as CurveDocument;
  const tests = tripTests.filter(({ id }) => document.tripTestIds.includes(id)).map(({ biasV, tripPowerNw }) => ({ biasV: Number(biasV), powerNw: Number(tripPowerNw) }));
  return figure(thresholdDrawing({ line: document.line, tests, testedV: [document.biasMinV, document.biasMaxV] }), {
    label: `${label}: threshold power against bias`,
    caption: `P0 ${numberText(document.p0Nw)} nW, pull-in ${numberText(document.pullInV)} V, exponent ${numberText(document.exponent)}${document.exponentFree ? '' : ' (held)'}. Circles are the ${tests.length} trip tests, the line is the fitted curve with its 95 % band; outside the dotted lines nothing was tested.`,
  });
}

function calibrationParts(row: CalibrationVersion, label: string): Part[] {
  const document = row.document as CalibrationDocument;
  const points = document.points.map(({ leafLabel, ...point }) => ({ ...point, leaf: leafLabel }));
  const leaves = leavesOf(points);
  const left = points.filter(({ used }) => !used).length;
  return [
    figure(calibrationDrawing({ points, curve: document.curve }), {
      label: `${label}: transmittance against RWC`,
      caption: 'The narrow band is the mean line; the wide one is where a new leaf may lie, and so where a trip in the field may. Points carry one standard uncertainty either way.',
    }),
    paragraph(`Leaves by symbol: ${leaves.map((leaf, index) => `${leaf} ${symbolOf(index)}${index >= leafSymbols.length ? ' (filled)' : ''}`).join(', ')}.${left > 0 ? ` A cross was left out of the fit: ${left} of ${points.length} points.` : ''}`, { fontSize: 8.5 }),
    table([
      { head: 'Parameter', cell: ({ name }) => name },
      { head: 'Value', cell: ({ value }) => numberText(value), align: 'right', width: 90 },
      { head: 'Standard error', cell: ({ standardError }) => numberText(standardError), align: 'right', width: 90 },
    ], document.parameters, {
      note: `Residual standard deviation ${numberText(document.residualSd)} on ${document.degreesOfFreedom} degrees of freedom${document.betweenLeafSdRwc === null ? '' : `; between leaves ${percentText(document.betweenLeafSdRwc)} RWC`}. Code ${row.codeVersion}.`,
    }),
  ];
}

/** RWC over time, the discs of one run in one drawing. */
function seriesParts({ series, runs }: PaperMaterial, labelOf: (id: string) => string): Part[] {
  const byRun = new Map<string, RwcSeries[]>();
  for (const row of series) byRun.set(row.dryingRunId ?? '', [...(byRun.get(row.dryingRunId ?? '') ?? []), row]);
  const drawn = [...byRun].slice(0, MOST_DRAWN).flatMap(([runId, rows]): Part[] => {
    const points = rows.flatMap((row) => (row.document as RwcDocument).points.map(({ at, rwc }) => ({ disc: labelOf(row.discId), at, value: 100 * rwc })));
    if (points.length === 0) return [];
    const startAt = points.map(({ at }) => at).reduce((first, at) => (Date.parse(at) < Date.parse(first) ? at : first));
    const run = runs.get(runId);
    return [figure(byDiscDrawing({ quantity: 'RWC, %', startAt, points }), {
      label: `${run ? `Drying run ${run.label}` : 'Imported series'}: RWC of ${rows.length} ${rows.length === 1 ? 'disc' : 'discs'} while drying`,
      caption: `Minutes from ${momentText(startAt)}. What comes from turgid and dry mass is shared by all points of a disc: they move together.`,
    })];
  });
  const left = byRun.size - MOST_DRAWN;
  return left > 0 ? [...drawn, paragraph(`${left} more runs are not drawn here.`)] : drawn;
}
