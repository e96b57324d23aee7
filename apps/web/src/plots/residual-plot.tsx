import { residualDrawing, type ResidualParts } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

export type { ResidualPoint } from '#libs/drawing';

interface ResidualPlotProps extends ResidualParts {
  readonly label: string;
}

/** Residuals leaf by leaf, once each leaf's own effect is taken off. */
export function ResidualPlot({ label, scale, points }: ResidualPlotProps) {
  const drawing = useMemo(() => residualDrawing({ scale, points }), [scale, points]);
  return <PlotFigure label={label} options={drawing} />;
}
