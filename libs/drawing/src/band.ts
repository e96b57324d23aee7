import { inks, isNarrow, millimetrePaper, Plot, type Drawing } from './ground.js';

/** One wavelength of a band: fractions, and weights on any one scale. */
export interface BandPoint {
  readonly nm: number;
  readonly leaf: number;
  readonly lampWeight: number;
  readonly sunWeight?: number | null | undefined;
  readonly water?: number | null | undefined;
}

/** Leaf, weights of lamp and sun (largest value 1), and where water absorbs: told apart by dash, named in the caption. */
export function bandDrawing(points: readonly BandPoint[]): Drawing {
  const top = Math.max(...points.flatMap(({ lampWeight, sunWeight }) => [lampWeight, sunWeight ?? 0]), Number.MIN_VALUE);
  const rows = points.map((point) => ({ ...point, lamp: point.lampWeight / top, sun: point.sunWeight == null ? null : point.sunWeight / top }));
  return (width) => ({
    height: isNarrow(width) ? 280 : 380,
    x: { label: 'wavelength, nm', tickFormat: 'd' },
    y: { label: 'fraction', domain: [0, 1], nice: true },
    marks: [
      ...millimetrePaper(),
      Plot.areaY(rows, { x: 'nm', y: 'water', fill: inks.rule, fillOpacity: 0.55 }),
      Plot.line(rows.filter(({ sun }) => sun !== null), { x: 'nm', y: 'sun', stroke: inks.ask, strokeWidth: 2, strokeDasharray: '2 4' }),
      Plot.line(rows, { x: 'nm', y: 'lamp', stroke: inks.ink, strokeWidth: 1.75, strokeDasharray: '7 4' }),
      Plot.line(rows, { x: 'nm', y: 'leaf', stroke: inks.violet, strokeWidth: 2.5 }),
    ],
  });
}
