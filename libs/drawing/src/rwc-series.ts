import { inks, millimetrePaper, percent, Plot, type Drawing } from './ground.js';

export interface RwcPlotPoint {
  readonly at: string;
  /** Fraction. */
  readonly rwc: number;
  /** Standard uncertainty, fraction. */
  readonly u: number;
}

/** RWC of one disc over the minutes since its first point, each with one standard uncertainty either way. */
export function rwcSeriesDrawing(points: readonly RwcPlotPoint[]): Drawing {
  const start = Math.min(...points.map(({ at }) => Date.parse(at)));
  const rows = points.map(({ at, rwc, u }) => ({ minutes: (Date.parse(at) - start) / 60_000, percent: percent(rwc), low: percent(rwc - u), high: percent(rwc + u) }));
  return () => ({
    x: { label: 'minutes since the first weighing', nice: true, zero: true },
    y: { label: 'RWC, %', nice: true },
    marks: [
      ...millimetrePaper(),
      Plot.line(rows, { x: 'minutes', y: 'percent', stroke: inks.violet, strokeWidth: 1 }),
      Plot.ruleX(rows, { x: 'minutes', y1: 'low', y2: 'high', stroke: inks.ink, strokeWidth: 1.5 }),
      Plot.dot(rows, { x: 'minutes', y: 'percent', r: 4, fill: inks.violet, stroke: '#fff' }),
    ],
  });
}
