import { useCallback } from 'react';
import { inks, millimetrePaper, Plot, PlotFigure } from './plot-figure.js';

export interface RwcPlotPoint {
  readonly at: string;
  /** Fraction. */
  readonly rwc: number;
  /** Standard uncertainty, fraction. */
  readonly u: number;
}

interface RwcSeriesPlotProps {
  readonly disc: string;
  readonly points: readonly RwcPlotPoint[];
}

/** RWC of one disc over the minutes since its first point, each with one standard uncertainty either way. */
export function RwcSeriesPlot({ disc, points }: RwcSeriesPlotProps) {
  const options = useCallback(() => {
    const start = Math.min(...points.map(({ at }) => Date.parse(at)));
    const rows = points.map(({ at, rwc, u }) => ({ minutes: (Date.parse(at) - start) / 60_000, percent: 100 * rwc, low: 100 * (rwc - u), high: 100 * (rwc + u) }));
    return {
      x: { label: 'minutes since the first weighing', nice: true, zero: true },
      y: { label: 'RWC, %', nice: true },
      marks: [
        ...millimetrePaper(),
        Plot.line(rows, { x: 'minutes', y: 'percent', stroke: inks.violet, strokeWidth: 1 }),
        Plot.ruleX(rows, { x: 'minutes', y1: 'low', y2: 'high', stroke: inks.ink, strokeWidth: 1.5 }),
        Plot.dot(rows, { x: 'minutes', y: 'percent', r: 4, fill: inks.violet, stroke: '#fff' }),
      ],
    };
  }, [points]);
  return <PlotFigure label={`RWC of disc ${disc} over time`} options={options} caption="Points with one standard uncertainty either way. The part of it that comes from turgid and dry mass is shared by all points: they move together." />;
}
