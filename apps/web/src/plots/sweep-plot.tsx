import { useCallback, useMemo } from 'react';
import { inks, millimetrePaper, Plot, PlotFigure } from './plot-figure.js';

interface SweepPlotProps {
  readonly label: string;
  /** Pairs of bias V and current A. */
  readonly steps: readonly (readonly number[])[];
  readonly pullInV?: number | null;
}

/** Current against bias of one sweep, on a logarithmic axis: the jump is where the unit pulls in. Its size is drawn; a current of zero has no place on the axis and is left off, counted. */
export function SweepPlot({ label, steps, pullInV }: SweepPlotProps) {
  const drawn = useMemo(() => steps.map(([biasV = 0, currentA = 0]) => ({ biasV, size: Math.abs(currentA) })).filter(({ size }) => size > 0), [steps]);
  const options = useCallback((width: number) => ({
    height: width < 480 ? 240 : 280,
    marginLeft: 68,
    x: { label: 'bias, V', nice: true },
    y: { type: 'log' as const, label: 'current, A', ticks: 6, tickFormat: (value: number) => value.toExponential(0).replace('-', '−') },
    marks: [
      ...millimetrePaper(),
      ...(pullInV == null ? [] : [
        Plot.ruleX([pullInV], { stroke: inks.violet, strokeWidth: 2, strokeDasharray: '7 4' }),
        Plot.text([pullInV], { x: (value: number) => value, frameAnchor: 'top', dy: 6, dx: -6, textAnchor: 'end', text: (value: number) => `pull-in ${value} V`, fill: inks.violet, stroke: '#fcfcfb', strokeWidth: 5, fontWeight: 650 }),
      ]),
      Plot.line(drawn, { x: 'biasV', y: 'size', stroke: inks.ink, strokeWidth: 1 }),
      Plot.dot(drawn, { x: 'biasV', y: 'size', r: 2.5, stroke: inks.ink, fill: '#fff' }),
    ],
  }), [drawn, pullInV]);
  const left = steps.length - drawn.length;
  return <PlotFigure label={label} options={options} caption={left > 0 ? `${left} steps of no current have no place on a logarithmic axis.` : undefined} />;
}
