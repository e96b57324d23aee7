import { inks, isNarrow, millimetrePaper, Plot, type Drawing } from './ground.js';

export interface ByDiscPoint {
  readonly disc: string;
  /** RFC 3339. */
  readonly at: string;
  readonly value: number;
}

export interface ByDiscParts {
  /** With its unit: "mass, mg". */
  readonly quantity: string;
  readonly startAt: string;
  readonly points: readonly ByDiscPoint[];
}

const symbols = ['circle', 'square', 'triangle', 'diamond', 'cross', 'star', 'wye', 'times'] as const;

interface Row extends ByDiscPoint {
  readonly minutes: number;
}

/** The last point of each disc, its label moved up where it would lie on the one below. */
function spreadLabels(rows: readonly Row[]): readonly (Row & { readonly labelAt: number })[] {
  const last = [...new Map(rows.map((row) => [row.disc, row])).values()].sort((a, b) => a.value - b.value);
  const values = rows.map(({ value }) => value);
  const gap = (Math.max(...values) - Math.min(...values)) * 0.07;
  let floor = -Infinity;
  return last.map((row) => {
    const labelAt = Math.max(row.value, floor);
    floor = labelAt + gap;
    return { ...row, labelAt };
  });
}

/** One quantity of several discs over the minutes of a run; each disc has its own symbol and its label at its last point. */
export function byDiscDrawing({ quantity, startAt, points }: ByDiscParts): Drawing {
  const start = Date.parse(startAt);
  const discs = [...new Set(points.map(({ disc }) => disc))];
  const rows = points.map((point) => ({ ...point, minutes: (Date.parse(point.at) - start) / 60_000 }));
  const last = spreadLabels(rows);
  const longest = Math.max(0, ...discs.map((disc) => disc.length));
  return (width) => ({
    marginRight: Math.min(width * 0.3, 24 + longest * 8),
    x: { label: 'minutes of the run', nice: true },
    y: { label: quantity, nice: true },
    symbol: { domain: discs, range: discs.map((_, index) => symbols[index % symbols.length]!) },
    marks: [
      ...millimetrePaper(),
      Plot.line(rows, { x: 'minutes', y: 'value', z: 'disc', stroke: inks.violet, strokeWidth: 1, strokeOpacity: 0.6 }),
      Plot.dot(rows, { x: 'minutes', y: 'value', symbol: 'disc', r: isNarrow(width) ? 2.5 : 4, stroke: inks.ink, fill: '#fff', strokeWidth: 1.5 }),
      Plot.text(last, { x: 'minutes', y: 'labelAt', text: 'disc', dx: 9, textAnchor: 'start', fill: inks.ink }),
    ],
  });
}
