import { useCallback } from 'react';
import { inks, millimetrePaper, Plot, PlotFigure } from './plot-figure.js';

export interface CheckPoint {
  readonly observedAt: string;
  /** Exact decimals as text. */
  readonly nominal: string;
  readonly shown: string;
  readonly tolerance: string;
  readonly passed: boolean;
}

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

/** Deviation of each check from its nominal value, between its tolerance lines: the control chart of one instrument. */
export function CheckPlot({ instrument, unit, checks }: CheckPlotProps) {
  const options = useCallback((width: number) => {
    const rows = checks.map((check) => ({ at: new Date(check.observedAt), deviation: Number(check.shown) - Number(check.nominal), tolerance: Number(check.tolerance), passed: check.passed }));
    return {
      x: { type: 'time' as const, label: null, nice: true, ticks: width < 480 ? 3 : 6, tickFormat: dayAndClock },
      y: { label: `shown − nominal, ${unit}`, nice: true },
      symbol: { domain: [true, false], range: ['circle' as const, 'times' as const] },
      marks: [
        ...millimetrePaper(),
        Plot.ruleY([0], { stroke: inks.ink }),
        Plot.line(rows, { x: 'at', y: 'tolerance', stroke: inks.alarm, strokeDasharray: '6 4', curve: 'step' }),
        Plot.line(rows, { x: 'at', y: ({ tolerance }: { tolerance: number }) => -tolerance, stroke: inks.alarm, strokeDasharray: '6 4', curve: 'step' }),
        Plot.dot(rows, { x: 'at', y: 'deviation', symbol: 'passed', r: 5, stroke: inks.ink, fill: '#fff', strokeWidth: 2 }),
      ],
    };
  }, [checks, unit]);
  return <PlotFigure label={`Checks of ${instrument} by time`} options={options} caption="A circle passed, a cross failed; the dashed lines are the tolerance." />;
}
