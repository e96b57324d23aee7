import { byDiscDrawing, type ByDiscParts } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

export type { ByDiscPoint } from '#libs/drawing';

interface ByDiscPlotProps extends ByDiscParts {
  /** "Mass by time", heard and shown. */
  readonly label: string;
  readonly caption?: string;
}

/** One quantity of several discs over the minutes of a run. */
export function ByDiscPlot({ label, quantity, startAt, points, caption }: ByDiscPlotProps) {
  const drawing = useMemo(() => byDiscDrawing({ quantity, startAt, points }), [quantity, startAt, points]);
  return <PlotFigure label={label} options={drawing} caption={caption} />;
}
