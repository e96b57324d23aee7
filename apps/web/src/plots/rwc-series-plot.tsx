import { rwcSeriesDrawing, type RwcPlotPoint } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

export type { RwcPlotPoint } from '#libs/drawing';

interface RwcSeriesPlotProps {
  readonly disc: string;
  readonly points: readonly RwcPlotPoint[];
}

/** RWC of one disc over the minutes since its first point. */
export function RwcSeriesPlot({ disc, points }: RwcSeriesPlotProps) {
  const drawing = useMemo(() => rwcSeriesDrawing(points), [points]);
  return <PlotFigure label={`RWC of disc ${disc} over time`} options={drawing} caption="Points with one standard uncertainty either way. The part of it that comes from turgid and dry mass is shared by all points: they move together." />;
}
