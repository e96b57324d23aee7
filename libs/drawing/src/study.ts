import { inks, isNarrow, leafSymbols, leavesOf, millimetrePaper, percent, Plot, symbolOf, type Drawing } from './ground.js';

export interface StudyPlotPoint {
  readonly leaf: string;
  /** Fraction. */
  readonly rwc: number;
  readonly uRwc: number;
  readonly transmittance: number;
  readonly uTransmittance: number;
  readonly used: boolean;
}

/** Ends of the three intervals: as transmittances along RWC, or as RWC at a transmittance; null where one has no two ends. */
export interface ThreeIntervals {
  readonly rwc: number;
  readonly transmittance: number;
  readonly mean?: readonly number[] | null | undefined;
  readonly newLeaf?: readonly number[] | null | undefined;
  readonly tolerance?: readonly number[] | null | undefined;
}

export interface StudyParts {
  readonly points: readonly StudyPlotPoint[];
  readonly curve: readonly ThreeIntervals[];
  readonly readBack?: ThreeIntervals | null | undefined;
}

/** More readings than this are drawn without error bars: they would be a grey cloud, and slow. */
const BARS_MOST = 600;

type Row = Omit<ThreeIntervals, 'rwc'> & { readonly x: number };

function band(rows: readonly Row[], name: 'mean' | 'newLeaf' | 'tolerance', fill: string, fillOpacity: number, dash: string | null): Plot.Markish[] {
  const held = rows.filter((row) => row[name]);
  const [low, high] = [(row: Row) => row[name]![0]!, (row: Row) => row[name]![1]!];
  return [
    Plot.areaY(held, { x: 'x', y1: low, y2: high, fill, fillOpacity }),
    ...(dash ? [low, high].map((y) => Plot.line(held, { x: 'x', y, stroke: inks.violet, strokeDasharray: dash, strokeWidth: 1.25 })) : []),
  ];
}

function bandNames(rows: readonly Row[], narrow: boolean): Plot.Markish[] {
  const last = rows.at(-1);
  if (!last || narrow) return [];
  const name = (y: number | undefined, text: string, dy: number): Plot.Markish[] =>
    (y === undefined ? [] : [Plot.text([last], { x: 'x', y: () => y, text: () => text, dx: 10, dy, textAnchor: 'start', fill: inks.ink, stroke: '#fcfcfb', strokeWidth: 5, fontWeight: 650, fontSize: 14 })]);
  return [...name(last.tolerance?.[1], 'tolerance', -12), ...name(last.newLeaf?.[1], 'one new leaf', 0), ...name(last.transmittance, 'mean line', 10)];
}

function pointMarks(points: readonly StudyPlotPoint[], leaves: readonly string[], narrow: boolean): Plot.Markish[] {
  const place = new Map(leaves.map((leaf, index) => [leaf, index]));
  const rows = points.map((point) => ({ ...point, x: percent(point.rwc), xLow: percent(point.rwc - point.uRwc), xHigh: percent(point.rwc + point.uRwc), low: point.transmittance - point.uTransmittance, high: point.transmittance + point.uTransmittance, again: place.get(point.leaf)! >= leafSymbols.length }));
  const used = rows.filter((row) => row.used);
  const many = used.length > BARS_MOST;
  const r = many ? 1.5 : narrow ? 2.5 : 4;
  return [
    ...(many ? [] : [
      Plot.ruleX(used, { x: 'x', y1: 'low', y2: 'high', stroke: inks.soft, strokeWidth: 1 }),
      Plot.ruleY(used, { y: 'transmittance', x1: 'xLow', x2: 'xHigh', stroke: inks.soft, strokeWidth: 1 }),
    ]),
    many
      ? Plot.dot(used, { x: 'x', y: 'transmittance', r, fill: inks.ink, fillOpacity: 0.5 })
      : Plot.dot(used, { x: 'x', y: 'transmittance', symbol: 'leaf', r, stroke: inks.ink, fill: ({ again }: { again: boolean }) => (again ? inks.ink : '#fff'), strokeWidth: 1.5 }),
    Plot.dot(rows.filter((row) => !row.used), { x: 'x', y: 'transmittance', symbol: 'times', r: r + 2, stroke: inks.alarm, strokeWidth: 2 }),
  ];
}

/** The hand's line at one transmittance, the RWC it stands for, and how wide each interval is there: wide, dashed and thick bars. */
function readBackMarks(read: ThreeIntervals): Plot.Markish[] {
  const y = (): number => read.transmittance;
  const bar = (ends: readonly number[] | null | undefined, strokeWidth: number, strokeDasharray?: string): Plot.Markish[] =>
    (ends ? [Plot.ruleY([read], { y, x1: percent(ends[0]!), x2: percent(ends[1]!), stroke: inks.ask, strokeWidth, ...(strokeDasharray ? { strokeDasharray } : {}) })] : []);
  return [
    Plot.ruleY([read], { y, stroke: inks.ask, strokeOpacity: 0.5, strokeWidth: 1 }),
    ...bar(read.tolerance, 1.5, '2 4'), ...bar(read.newLeaf, 2.5, '7 4'), ...bar(read.mean, 6),
    Plot.dot([read], { x: percent(read.rwc), y, r: 7, fill: inks.ask, stroke: '#fff', symbol: 'diamond' }),
  ];
}

/** Transmittance against RWC with the three intervals by name, and the RWC read back at one transmittance. */
export function studyDrawing({ points, curve, readBack }: StudyParts): Drawing {
  const leaves = leavesOf(points);
  const rows = curve.map(({ rwc, ...row }) => ({ ...row, x: percent(rwc) }));
  return (width) => ({
    height: isNarrow(width) ? 320 : 460,
    ...(isNarrow(width) ? {} : { marginRight: 120 }),
    x: { label: 'RWC, %', domain: domainOf(points.map(({ rwc }) => percent(rwc))) },
    y: { label: 'transmittance', nice: true },
    symbol: { domain: leaves, range: leaves.map((_, index) => symbolOf(index)) },
    marks: [
      ...millimetrePaper(),
      ...band(rows, 'tolerance', inks.wash, 0.25, '2 4'),
      ...band(rows, 'newLeaf', inks.wash, 0.55, '7 4'),
      ...band(rows, 'mean', inks.violet, 0.3, null),
      Plot.line(rows, { x: 'x', y: 'transmittance', stroke: inks.violet, strokeWidth: 2.5 }),
      ...pointMarks(points, leaves, isNarrow(width)),
      ...bandNames(rows, isNarrow(width)),
      ...(readBack ? readBackMarks(readBack) : []),
    ],
  });
}

/** The readings' own range and a little more: intervals read back may run far outside it. */
function domainOf(values: readonly number[]): [number, number] {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  return [Math.floor(low - (high - low) * 0.12), Math.ceil(high + (high - low) * 0.12)];
}

export interface LeafEffectRow {
  readonly leaf: string;
  readonly ownPoints: number;
  readonly shrunkPoints: number;
  readonly sdPoints: number;
}

const LABELLED_MOST = 30;

/** What each leaf differs by, in RWC points: open where its own readings put it, filled where it is taken to be, with one SD either way. */
export function leafEffectDrawing(rows: readonly LeafEffectRow[]): Drawing {
  const sorted = [...rows].sort((a, b) => a.shrunkPoints - b.shrunkPoints);
  const labelled = sorted.length <= LABELLED_MOST;
  return (width) => ({
    height: Math.min(Math.max(160, sorted.length * 22 + 70), 560),
    marginLeft: labelled ? (isNarrow(width) ? 88 : 110) : 56,
    x: { label: 'differs from the mean line by, RWC points', nice: true },
    y: labelled ? { label: null, domain: sorted.map(({ leaf }) => leaf), type: 'point', padding: 0.5 } : { label: null, axis: null, domain: sorted.map(({ leaf }) => leaf), type: 'point' },
    marks: [
      Plot.gridX({ stroke: inks.violet, strokeOpacity: 0.18 }),
      Plot.ruleX([0], { stroke: inks.ink }),
      Plot.ruleY(sorted, { y: 'leaf', x1: ({ shrunkPoints, sdPoints }: LeafEffectRow) => shrunkPoints - sdPoints, x2: ({ shrunkPoints, sdPoints }: LeafEffectRow) => shrunkPoints + sdPoints, stroke: inks.soft, strokeWidth: 1.5 }),
      Plot.dot(sorted, { y: 'leaf', x: 'ownPoints', r: labelled ? 5 : 2, stroke: inks.ink, fill: '#fff', strokeWidth: 1.5 }),
      Plot.dot(sorted, { y: 'leaf', x: 'shrunkPoints', r: labelled ? 4.5 : 2, fill: inks.violet, symbol: 'diamond' }),
    ],
  });
}

export interface GroupedResidual {
  readonly group: string | number;
  /** RWC points. */
  readonly residual: number;
}

/** Residuals in RWC points by leaf, day or operator (text), or in the order of reading (numbers). */
export function residualsByDrawing(rows: readonly GroupedResidual[], label: string): Drawing {
  const inOrder = typeof rows[0]?.group === 'number';
  const groups = [...new Set(rows.map(({ group }) => String(group)))].sort((a, b) => a.localeCompare(b, undefined, { numeric: true }));
  const unlabelled = groups.length > LABELLED_MOST;
  return (width) => ({
    height: isNarrow(width) ? 220 : 260,
    ...(inOrder ? { x: { label } } : { x: { label, domain: groups, type: 'point' as const, padding: 0.6, ...(unlabelled ? { ticks: [] } : isNarrow(width) || groups.length > 8 ? { tickRotate: -40 } : {}) } }),
    ...(!inOrder && !unlabelled && (isNarrow(width) || groups.length > 8) ? { marginBottom: 80 } : {}),
    y: { label: 'residual, RWC points', nice: true },
    marks: [
      ...millimetrePaper(),
      Plot.ruleY([0], { stroke: inks.ink }),
      Plot.dot(rows, { x: inOrder ? 'group' : ({ group }: GroupedResidual) => String(group), y: 'residual', r: rows.length > BARS_MOST ? 1.5 : 3.5, stroke: inks.ink, fill: '#fff', strokeWidth: 1.25 }),
    ],
  });
}

export interface SmallCurve {
  readonly rwc: number;
  readonly transmittance: number;
  readonly newLeafLow?: number | null | undefined;
  readonly newLeafHigh?: number | null | undefined;
}

/** One calibration small, on scales it shares with its neighbours: mean line and the band of a new leaf. */
export function smallCalibrationDrawing(curve: readonly SmallCurve[], rwcs: readonly [number, number], transmittances: readonly [number, number]): Drawing {
  const rows = curve.map((point) => ({ ...point, x: percent(point.rwc) }));
  const leaf = rows.filter(({ newLeafLow }) => newLeafLow != null);
  return () => ({
    height: 170, marginLeft: 44, marginRight: 8, marginTop: 12, marginBottom: 34,
    x: { label: null, domain: rwcs.map(percent), ticks: 4 },
    y: { label: null, domain: [...transmittances], ticks: 4 },
    marks: [
      ...millimetrePaper(),
      Plot.areaY(leaf, { x: 'x', y1: 'newLeafLow', y2: 'newLeafHigh', fill: inks.wash, fillOpacity: 0.55 }),
      Plot.line(rows, { x: 'x', y: 'transmittance', stroke: inks.violet, strokeWidth: 2.5 }),
    ],
  });
}
