import { sweepDrawing, undrawnSteps, type SweepParts } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

interface SweepPlotProps extends SweepParts {
  readonly label: string;
}

/** Current against bias of one sweep. What has no place on its logarithmic axis is counted. */
export function SweepPlot({ label, steps, pullInV }: SweepPlotProps) {
  const drawing = useMemo(() => sweepDrawing({ steps, pullInV }), [steps, pullInV]);
  const left = useMemo(() => undrawnSteps(steps), [steps]);
  return <PlotFigure label={label} options={drawing} caption={left > 0 ? `${left} steps of no current have no place on a logarithmic axis.` : undefined} />;
}
