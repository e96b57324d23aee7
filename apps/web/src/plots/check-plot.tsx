import { instrumentCheckDrawing, type CheckPoint, type InstrumentCheckParts } from '#libs/drawing';
import { useMemo } from 'react';
import { PlotFigure } from './plot-figure.js';

export type { CheckPoint } from '#libs/drawing';

interface CheckPlotProps {
  readonly instrument: string;
  readonly unit: string;
  readonly checks: readonly CheckPoint[];
  readonly control: InstrumentCheckParts['control'];
}

/** "06-03 14:20", on this computer's clock. */
function dayAndClock(date: Date): string {
  const two = (value: number) => String(value).padStart(2, '0');
  return `${two(date.getMonth() + 1)}-${two(date.getDate())} ${two(date.getHours())}:${two(date.getMinutes())}`;
}

/** The control chart of one instrument. */
export function CheckPlot({ instrument, unit, checks, control }: CheckPlotProps) {
  const drawing = useMemo(() => instrumentCheckDrawing({ unit, checks, clock: dayAndClock, control }), [checks, unit, control]);
  return <PlotFigure label={`Checks of ${instrument} by time`} options={drawing} caption={`A circle passed, a cross failed; the long dashes are the tolerance.${control ? ' The dots are the limits of the instrument’s own habit (mean ± three standard deviations, told from how neighbours differ): a check outside them is worth a look though it passes.' : ''}`} />;
}
