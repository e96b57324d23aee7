import { inks, isNarrow, millimetrePaper, percent, Plot, type Drawing } from './ground.js';

export interface OperatingParts {
  readonly points: readonly { readonly rwc: number; readonly pTrip: number }[];
  readonly targetRwc: number;
  readonly interval: readonly [number, number];
}

/** Operating characteristic: the chance that the unit has tripped, against the leaf's RWC. */
export function operatingDrawing({ points, targetRwc, interval: [low, high] }: OperatingParts): Drawing {
  const rows = points.map(({ rwc, pTrip }) => ({ rwc: percent(rwc), chance: percent(pTrip) }));
  return (width) => ({
    height: isNarrow(width) ? 260 : 300,
    x: { label: 'RWC of the leaf, %' },
    y: { label: 'chance that it has tripped, %', domain: [0, 100] },
    marks: [
      ...millimetrePaper(),
      Plot.rectX([{ low: percent(low), high: percent(high) }], { x1: 'low', x2: 'high', fill: inks.wash, fillOpacity: 0.45 }),
      Plot.ruleX([percent(low), percent(high)], { stroke: inks.violet, strokeDasharray: '7 4' }),
      Plot.ruleX([percent(targetRwc)], { stroke: inks.ink, strokeWidth: 1.5 }),
      Plot.text([percent(targetRwc)], { x: (value: number) => value, frameAnchor: 'top', dx: 6, dy: 6, textAnchor: 'start', text: () => 'target', fill: inks.ink, stroke: '#fff', strokeWidth: 5, fontWeight: 650 }),
      Plot.line(rows, { x: 'rwc', y: 'chance', stroke: inks.violet, strokeWidth: 2.5 }),
    ],
  });
}
