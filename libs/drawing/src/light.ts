import { inks, isNarrow, millimetrePaper, Plot, type Drawing } from './ground.js';

export interface LightParts {
  readonly readings: readonly { readonly at: string; readonly powerNw: number }[];
  /** The brightest armed reading of each day. */
  readonly maxima: readonly { readonly at: string; readonly powerNw: number }[];
  /** The reference told from them, nW, and its relative standard deviation. */
  readonly powerNw: number;
  readonly relativeSd: number;
  /** How a moment is written at the axis. */
  readonly clock: (at: Date) => string;
}

/** Readings of the light over days; the brightest of each day are diamonds, the reference a line with one standard deviation either way. */
export function lightDrawing({ readings, maxima, powerNw, relativeSd, clock }: LightParts): Drawing {
  const drawn = (rows: LightParts['readings']): { at: Date; powerNw: number }[] => rows.map((row) => ({ at: new Date(row.at), powerNw: row.powerNw }));
  const [all, brightest] = [drawn(readings), drawn(maxima)];
  return (width) => ({
    height: isNarrow(width) ? 250 : 300,
    marginLeft: 64,
    x: { type: 'time', label: null, nice: true, ticks: isNarrow(width) ? 3 : 6, tickFormat: clock },
    y: { label: 'power in the band, nW', zero: true, nice: true },
    marks: [
      ...millimetrePaper(),
      Plot.rectY([{ low: powerNw * Math.exp(-relativeSd), high: powerNw * Math.exp(relativeSd) }], { y1: 'low', y2: 'high', fill: inks.wash, fillOpacity: 0.45 }),
      Plot.ruleY([powerNw], { stroke: inks.violet, strokeWidth: 2 }),
      Plot.dot(all, { x: 'at', y: 'powerNw', r: 2.5, stroke: inks.soft, fill: '#fff' }),
      Plot.dot(brightest, { x: 'at', y: 'powerNw', symbol: 'diamond', r: 6, stroke: inks.ink, fill: '#fff', strokeWidth: 2 }),
    ],
  });
}
