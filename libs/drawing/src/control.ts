import { inks, isNarrow, millimetrePaper, Plot, type Drawing } from './ground.js';

export interface ControlParts {
  /** What the values are, with their unit: "pull-in, V". */
  readonly quantity: string;
  readonly centre: number;
  readonly low: number;
  readonly high: number;
  /** What stands side by side at the axis; units in the order of their labels, if not said. */
  readonly order?: string;
  readonly points: readonly { readonly label: string; readonly value: number; readonly outside: boolean }[];
}

/** Single values in the order of their labels, between control limits; one outside is a cross with its name. */
export function controlDrawing({ quantity, centre, low, high, points, order = 'unit, in order of label' }: ControlParts): Drawing {
  const rows = points.map((point, i) => ({ ...point, n: i + 1 }));
  return (width) => ({
    height: isNarrow(width) ? 240 : 280,
    marginLeft: 64,
    x: { label: order, ticks: Math.min(rows.length, isNarrow(width) ? 5 : 12), tickFormat: (n: number) => (Number.isInteger(n) ? String(n) : '') },
    y: { label: quantity, nice: true },
    symbol: { domain: [false, true], range: ['circle', 'times'] },
    marks: [
      ...millimetrePaper(),
      Plot.ruleY([centre], { stroke: inks.ink }),
      Plot.ruleY([low, high], { stroke: inks.alarm, strokeDasharray: '6 4' }),
      Plot.line(rows, { x: 'n', y: 'value', stroke: inks.soft, strokeWidth: 1 }),
      Plot.dot(rows, { x: 'n', y: 'value', symbol: 'outside', r: 5, stroke: inks.ink, fill: '#fff', strokeWidth: 2 }),
      Plot.text(rows.filter(({ outside }) => outside), { x: 'n', y: 'value', text: 'label', dy: -12, fill: inks.alarm, stroke: '#fff', strokeWidth: 4, fontWeight: 650 }),
    ],
  });
}
