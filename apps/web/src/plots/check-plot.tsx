import { instrumentCheckDrawing, type CheckPoint } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

export type { CheckPoint } from '#libs/drawing';

interface CheckPlotProps {
  readonly instrument: string;
  readonly unit: string;
  readonly checks: readonly CheckPoint[];
}

/** "06-03 14:20", on this computer's clock. */
function dayAndClock(date: Date): string {
  const two = (value: number) => String(value).padStart(2, '0');
  return `${two(date.getMonth() + 1)}-${two(date.getDate())} ${two(date.getHours())}:${two(date.getMinutes())}`;
}

/** The control chart of one instrument. */
export function CheckPlot({ instrument, unit, checks }: CheckPlotProps) {
  const drawing = useMemo(() => instrumentCheckDrawing({ unit, checks, clock: dayAndClock }), [checks, unit]);
  return <PlotFigure label={`Checks of ${instrument} by time`} options={drawing} caption="A circle passed, a cross failed; the dashed lines are the tolerance." />;
}
