import { useCallback } from 'react';
import { inks, millimetrePaper, Plot, PlotFigure } from './plot-figure.js';
import { leavesOf } from './calibration-plot.js';
import { symbolOf } from './leaf-symbols.js';

export interface ResidualPoint {
  readonly leaf: string;
  readonly residual: number;
}

interface ResidualPlotProps {
  readonly label: string;
  /** The scale that was fitted: "ln T". */
  readonly scale: string;
  readonly points: readonly ResidualPoint[];
}

/** Residuals leaf by leaf, once each leaf's own effect is taken off: what scatters within a leaf. */
export function ResidualPlot({ label, scale, points }: ResidualPlotProps) {
  const options = useCallback((width: number) => {
    const leaves = leavesOf(points);
    return {
      height: width < 480 ? 220 : 280,
      x: { label: 'leaf', domain: [...leaves], type: 'point' as const, padding: 0.6, ...(width < 480 ? { tickRotate: -40 } : {}) },
      ...(width < 480 ? { marginBottom: 70 } : {}),
      marginLeft: 72,
      y: { label: `residual of ${scale}`, nice: true },
      symbol: { domain: [...leaves], range: leaves.map((_, index) => symbolOf(index)) },
      marks: [
        ...millimetrePaper(),
        Plot.ruleY([0], { stroke: inks.ink }),
        Plot.dot(points, { x: 'leaf', y: 'residual', symbol: 'leaf', r: 4, stroke: inks.ink, fill: '#fff', strokeWidth: 1.5 }),
      ],
    };
  }, [points, scale]);
  return <PlotFigure label={label} options={options} />;
}
