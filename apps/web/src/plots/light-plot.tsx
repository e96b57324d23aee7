import { lightDrawing, type LightParts } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

type LightPlotProps = Omit<LightParts, 'clock'> & { readonly label: string };

const clock = (at: Date): string => at.toLocaleDateString('en-GB', { day: 'numeric', month: 'short' });

/** The series a light reference was measured as. */
export function LightPlot({ label, readings, maxima, powerNw, relativeSd }: LightPlotProps) {
  const drawing = useMemo(() => lightDrawing({ readings, maxima, powerNw, relativeSd, clock }), [readings, maxima, powerNw, relativeSd]);
  return <PlotFigure label={label} options={drawing} caption="Circles are readings, diamonds the brightest armed reading of each day. The line is the reference, the band one standard deviation either way." />;
}
