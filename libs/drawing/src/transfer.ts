import { calibrationPointMarks, type CalibrationPlotPoint } from './calibration.js';
import { inks, isNarrow, leavesOf, millimetrePaper, percent, Plot, symbolOf, type Drawing } from './ground.js';

/** A given calibration along RWC: its line, where it promises a new leaf, and the margin round it; transmittances. */
export interface GivenCurvePoint {
  readonly rwc: number;
  readonly transmittance: number;
  readonly newLeafLow: number;
  readonly newLeafHigh: number;
  readonly marginLow: number;
  readonly marginHigh: number;
}

export interface TransferParts {
  readonly points: readonly CalibrationPlotPoint[];
  readonly curve: readonly GivenCurvePoint[];
}

const named = (row: object, y: number, text: string, dy: number): Plot.Markish =>
  Plot.text([row], { x: 'x', y: () => y, text: () => text, dx: 10, dy, textAnchor: 'start', fill: inks.ink, stroke: '#fcfcfb', strokeWidth: 5, fontWeight: 650, fontSize: 14 });

/** Own leaves on the given curve: dashed where it promises a new leaf, dotted the margin to either side. */
export function transferDrawing({ points, curve }: TransferParts): Drawing {
  const leaves = leavesOf(points);
  const rows = curve.map((point) => ({ ...point, x: percent(point.rwc) }));
  const last = rows.at(-1);
  return (width) => ({
    height: isNarrow(width) ? 320 : 460,
    ...(isNarrow(width) ? {} : { marginRight: 120 }),
    x: { label: 'RWC, %', nice: true },
    y: { label: 'transmittance', nice: true },
    symbol: { domain: leaves, range: leaves.map((_, index) => symbolOf(index)) },
    marks: [
      ...millimetrePaper(),
      Plot.areaY(rows, { x: 'x', y1: 'newLeafLow', y2: 'newLeafHigh', fill: inks.wash, fillOpacity: 0.45 }),
      ...(['newLeafLow', 'newLeafHigh'] as const).map((y) => Plot.line(rows, { x: 'x', y, stroke: inks.violet, strokeDasharray: '7 4', strokeWidth: 1.25 })),
      ...(['marginLow', 'marginHigh'] as const).map((y) => Plot.line(rows, { x: 'x', y, stroke: inks.well, strokeDasharray: '2 4', strokeWidth: 2 })),
      Plot.line(rows, { x: 'x', y: 'transmittance', stroke: inks.violet, strokeWidth: 2.5 }),
      ...calibrationPointMarks(points, leaves, width),
      ...(last && !isNarrow(width) ? [named(last, last.newLeafHigh, 'one new leaf', -10), named(last, last.marginHigh, 'margin', -2), named(last, last.transmittance, 'given line', 10)] : []),
    ],
  });
}

/** What a given line reads too much or too little for the average own leaf, with its interval; RWC points. */
export interface OffPoint {
  readonly rwc: number;
  readonly points: number;
  readonly low: number;
  readonly high: number;
}

export function offDrawing(off: readonly OffPoint[], marginPoints: number): Drawing {
  const rows = off.map((at) => ({ ...at, x: percent(at.rwc) }));
  return (width) => ({
    height: isNarrow(width) ? 240 : 300,
    x: { label: 'RWC, %', nice: true },
    y: { label: 'read less true, RWC points', nice: true },
    marks: [
      ...millimetrePaper(),
      Plot.ruleY([0], { stroke: inks.ink }),
      Plot.ruleY([-marginPoints, marginPoints], { stroke: inks.well, strokeDasharray: '2 4', strokeWidth: 2 }),
      Plot.areaY(rows, { x: 'x', y1: 'low', y2: 'high', fill: inks.violet, fillOpacity: 0.22 }),
      Plot.line(rows, { x: 'x', y: 'points', stroke: inks.violet, strokeWidth: 2.5 }),
    ],
  });
}

/** The curve expected of a crop without light. */
export interface ExpectedPoint {
  readonly rwc: number;
  readonly transmittance: number;
  readonly meanLow: number;
  readonly meanHigh: number;
  readonly newLeafLow: number;
  readonly newLeafHigh: number;
}

export function expectedDrawing(curve: readonly ExpectedPoint[]): Drawing {
  const rows = curve.map((point) => ({ ...point, x: percent(point.rwc) }));
  const last = rows.at(-1);
  return (width) => ({
    height: isNarrow(width) ? 320 : 420,
    ...(isNarrow(width) ? {} : { marginRight: 120 }),
    x: { label: 'RWC, %', nice: true },
    y: { label: 'transmittance', nice: true },
    marks: [
      ...millimetrePaper(),
      Plot.areaY(rows, { x: 'x', y1: 'newLeafLow', y2: 'newLeafHigh', fill: inks.wash, fillOpacity: 0.45 }),
      ...(['newLeafLow', 'newLeafHigh'] as const).map((y) => Plot.line(rows, { x: 'x', y, stroke: inks.violet, strokeDasharray: '7 4', strokeWidth: 1.25 })),
      Plot.areaY(rows, { x: 'x', y1: 'meanLow', y2: 'meanHigh', fill: inks.violet, fillOpacity: 0.28 }),
      Plot.line(rows, { x: 'x', y: 'transmittance', stroke: inks.violet, strokeWidth: 2.5 }),
      ...(last && !isNarrow(width) ? [named(last, last.newLeafHigh, 'one new leaf', -10), named(last, last.transmittance, 'average leaf', 10)] : []),
    ],
  });
}
