import { useCallback } from 'react';
import { inks, millimetrePaper, Plot, PlotFigure } from './plot-figure.js';

interface OperatingPlotProps {
  readonly label: string;
  readonly points: readonly { readonly rwc: number; readonly pTrip: number }[];
  readonly targetRwc: number;
  readonly interval: readonly [number, number];
}

/** Operating characteristic: the chance that the unit has tripped, against the leaf's RWC. */
export function OperatingPlot({ label, points, targetRwc, interval }: OperatingPlotProps) {
  const options = useCallback((width: number) => {
    const rows = points.map(({ rwc, pTrip }) => ({ rwc: 100 * rwc, chance: 100 * pTrip }));
    const [low, high] = interval;
    return {
      height: width < 480 ? 260 : 300,
      x: { label: 'RWC of the leaf, %' },
      y: { label: 'chance that it has tripped, %', domain: [0, 100] },
      marks: [
        ...millimetrePaper(),
        Plot.rectX([{ low: 100 * low, high: 100 * high }], { x1: 'low', x2: 'high', fill: inks.wash, fillOpacity: 0.45 }),
        Plot.ruleX([100 * low, 100 * high], { stroke: inks.violet, strokeDasharray: '7 4' }),
        Plot.ruleX([100 * targetRwc], { stroke: inks.ink, strokeWidth: 1.5 }),
        Plot.text([100 * targetRwc], { x: (value: number) => value, frameAnchor: 'top', dx: 6, dy: 6, textAnchor: 'start', text: () => 'target', fill: inks.ink, stroke: '#fff', strokeWidth: 5, fontWeight: 650 }),
        Plot.line(rows, { x: 'rwc', y: 'chance', stroke: inks.violet, strokeWidth: 2.5 }),
      ],
    };
  }, [points, targetRwc, interval]);
  return <PlotFigure label={label} options={options} caption="Between the dashed lines 95 of 100 leaves trip it." />;
}
