import { inks, isNarrow, leafSymbols, leavesOf, millimetrePaper, percent, Plot, symbolOf, type Drawing } from './ground.js';

export interface CalibrationPlotPoint {
  readonly leaf: string;
  /** Fraction. */
  readonly rwc: number;
  readonly uRwc: number;
  readonly transmittance: number;
  readonly uTransmittance: number;
  readonly used: boolean;
}

export interface CalibrationPlotCurve {
  readonly rwc: number;
  readonly transmittance: number;
  readonly meanLow: number;
  readonly meanHigh: number;
  readonly newLeafLow?: number | null;
  readonly newLeafHigh?: number | null;
}

/** RWC read back from one transmittance, to be drawn over the bands. */
export interface CalibrationReadBack {
  readonly transmittance: number;
  readonly rwc?: number | null;
  readonly meanLow?: number | null;
  readonly meanHigh?: number | null;
  readonly newLeafLow?: number | null;
  readonly newLeafHigh?: number | null;
}

export interface CalibrationParts {
  readonly points: readonly CalibrationPlotPoint[];
  readonly curve?: readonly CalibrationPlotCurve[] | undefined;
  readonly readBack?: CalibrationReadBack | null | undefined;
}

/** Line and bands, the wide one dashed at its edges, both named on the drawing: beside their ends at a desk, within on a phone. */
function bandMarks(curve: readonly CalibrationPlotCurve[], width: number): Plot.Markish[] {
  const rows = curve.map((point) => ({ ...point, x: percent(point.rwc) }));
  const leaf = rows.filter(({ newLeafLow }) => newLeafLow != null);
  const at = (share: number) => rows[Math.round((rows.length - 1) * share)];
  const narrow = isNarrow(width);
  const name = (row: (typeof rows)[number] | undefined, y: 'newLeafHigh' | 'transmittance', text: string, dy: number) =>
    (row ? [Plot.text([row], { x: 'x', y, text: () => text, ...(narrow ? { dy, textAnchor: 'middle' as const } : { dx: 10, textAnchor: 'start' as const }), fill: inks.ink, stroke: '#fcfcfb', strokeWidth: 5, fontWeight: 650, fontSize: narrow ? 12 : 14 })] : []);
  return [
    Plot.areaY(leaf, { x: 'x', y1: 'newLeafLow', y2: 'newLeafHigh', fill: inks.wash, fillOpacity: 0.45 }),
    Plot.line(leaf, { x: 'x', y: 'newLeafLow', stroke: inks.violet, strokeDasharray: '7 4', strokeWidth: 1.25 }),
    Plot.line(leaf, { x: 'x', y: 'newLeafHigh', stroke: inks.violet, strokeDasharray: '7 4', strokeWidth: 1.25 }),
    Plot.areaY(rows, { x: 'x', y1: 'meanLow', y2: 'meanHigh', fill: inks.violet, fillOpacity: 0.28 }),
    Plot.line(rows, { x: 'x', y: 'transmittance', stroke: inks.violet, strokeWidth: 2.5 }),
    ...(leaf.length > 0 ? name(at(narrow ? 0.7 : 1), 'newLeafHigh', 'one new leaf, 95 %', -14) : []),
    ...name(at(narrow ? 0.16 : 1), 'transmittance', narrow ? 'mean line' : 'mean line, 95 %', 6),
  ];
}

/** Readings by leaf, with one standard uncertainty either way; those left out crossed. */
export function calibrationPointMarks(points: readonly CalibrationPlotPoint[], leaves: readonly string[], width: number): Plot.Markish[] {
  const rows = points.map((point) => ({ ...point, x: percent(point.rwc), xLow: percent(point.rwc - point.uRwc), xHigh: percent(point.rwc + point.uRwc), low: point.transmittance - point.uTransmittance, high: point.transmittance + point.uTransmittance, again: leaves.indexOf(point.leaf) >= leafSymbols.length }));
  const used = rows.filter((row) => row.used);
  const out = rows.filter((row) => !row.used);
  const r = isNarrow(width) ? 2.5 : 4;
  return [
    Plot.ruleX(used, { x: 'x', y1: 'low', y2: 'high', stroke: inks.soft, strokeWidth: 1 }),
    Plot.ruleY(used, { y: 'transmittance', x1: 'xLow', x2: 'xHigh', stroke: inks.soft, strokeWidth: 1 }),
    Plot.dot(used, { x: 'x', y: 'transmittance', symbol: 'leaf', r, stroke: inks.ink, fill: ({ again }: { again: boolean }) => (again ? inks.ink : '#fff'), strokeWidth: 1.5 }),
    Plot.dot(out, { x: 'x', y: 'transmittance', symbol: 'times', r: r + 2, stroke: inks.alarm, strokeWidth: 2 }),
  ];
}

function readBackMarks(read: CalibrationReadBack): Plot.Markish[] {
  const y = () => read.transmittance;
  const bar = (low: number, high: number, strokeWidth: number, strokeDasharray?: string) =>
    Plot.ruleY([read], { y, x1: percent(low), x2: percent(high), stroke: inks.ask, strokeWidth, ...(strokeDasharray ? { strokeDasharray } : {}) });
  return [
    ...(read.newLeafLow != null && read.newLeafHigh != null ? [bar(read.newLeafLow, read.newLeafHigh, 2, '7 4')] : []),
    ...(read.meanLow != null && read.meanHigh != null ? [bar(read.meanLow, read.meanHigh, 6)] : []),
    ...(read.rwc != null ? [Plot.dot([read], { x: percent(read.rwc), y, r: 6, fill: inks.ask, stroke: '#fff', symbol: 'diamond' })] : []),
  ];
}

/** Transmittance against RWC: points by leaf with one standard uncertainty either way, the mean line, and always both bands where there is a fit. */
export function calibrationDrawing({ points, curve, readBack }: CalibrationParts): Drawing {
  const leaves = leavesOf(points);
  return (width) => ({
    height: isNarrow(width) ? 320 : 460,
    ...(curve && !isNarrow(width) ? { marginRight: 150 } : {}),
    x: { label: 'RWC, %', nice: true },
    y: { label: 'transmittance', nice: true },
    symbol: { domain: leaves, range: leaves.map((_, index) => symbolOf(index)) },
    marks: [
      ...millimetrePaper(),
      ...(curve ? bandMarks(curve, width) : []),
      ...calibrationPointMarks(points, leaves, width),
      ...(readBack ? readBackMarks(readBack) : []),
    ],
  });
}
