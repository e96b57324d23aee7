import { calibrationDrawing, leavesOf, type CalibrationParts } from '#libs/drawing';
import { useMemo } from 'react';
import { LeafLegend } from './leaf-symbols.js';
import { PlotFigure } from './plot-figure.js';

export { leavesOf, type CalibrationPlotCurve, type CalibrationPlotPoint, type CalibrationReadBack } from '#libs/drawing';

interface CalibrationPlotProps extends CalibrationParts {
  readonly label: string;
}

/** Transmittance against RWC, with both bands where there is a fit, and which symbol is which leaf. */
export function CalibrationPlot({ label, points, curve, readBack }: CalibrationPlotProps) {
  const drawing = useMemo(() => calibrationDrawing({ points, curve, readBack }), [points, curve, readBack]);
  const leaves = useMemo(() => leavesOf(points), [points]);
  return (
    <>
      <PlotFigure label={label} options={drawing} caption={[curve && 'The narrow band is the mean line; the wide one is where a new leaf may lie.', points.length > 0 && 'Points carry one standard uncertainty either way.'].filter(Boolean).join(' ')} />
      {points.length > 0 ? <LeafLegend leaves={leaves} /> : null}
    </>
  );
}
