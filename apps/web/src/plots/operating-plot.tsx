import { operatingDrawing, type OperatingParts } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

interface OperatingPlotProps extends OperatingParts {
  readonly label: string;
}

/** Operating characteristic: the chance that the unit has tripped, against the leaf's RWC. */
export function OperatingPlot({ label, points, targetRwc, interval }: OperatingPlotProps) {
  const drawing = useMemo(() => operatingDrawing({ points, targetRwc, interval }), [points, targetRwc, interval]);
  return <PlotFigure label={label} options={drawing} caption="Between the dashed lines 95 of 100 leaves trip it." />;
}
