import { thresholdDrawing, type ThresholdParts } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

export type { ThresholdLinePoint } from '#libs/drawing';

interface ThresholdPlotProps extends ThresholdParts {
  readonly label: string;
}

/** Threshold power against bias: trip tests, fitted curve, 95 % band, and how far it was tested. */
export function ThresholdPlot({ label, line, tests, testedV }: ThresholdPlotProps) {
  const drawing = useMemo(() => thresholdDrawing({ line, tests, testedV }), [line, tests, testedV]);
  return <PlotFigure label={label} options={drawing} caption="Circles are trip tests, the line is the fitted curve with its 95 % band. Outside the dotted lines nothing was tested." />;
}
