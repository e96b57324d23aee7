import { controlDrawing, type ControlParts } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

interface ControlPlotProps extends ControlParts {
  readonly label: string;
}

/** One value a unit of a lot, or a run, between its control limits. */
export function ControlPlot({ label, quantity, centre, low, high, points, order }: ControlPlotProps) {
  const drawing = useMemo(() => controlDrawing({ quantity, centre, low, high, points, ...(order ? { order } : {}) }), [quantity, centre, low, high, points, order]);
  return <PlotFigure label={label} options={drawing} caption="The line is the mean; the dashed lines lie three standard deviations from it, told from how neighbours differ. A cross with its name lies outside." />;
}
