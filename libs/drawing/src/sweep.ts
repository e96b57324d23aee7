import { inks, isNarrow, millimetrePaper, Plot, type Drawing } from './ground.js';

export interface SweepParts {
  /** Pairs of bias V and current A. */
  readonly steps: readonly (readonly number[])[];
  readonly pullInV?: number | null | undefined;
}

/** What is drawn of a sweep: the size of its currents; one of zero has no place on a logarithmic axis. */
const drawnSteps = (steps: SweepParts['steps']): { biasV: number; size: number }[] =>
  steps.map(([biasV = 0, currentA = 0]) => ({ biasV, size: Math.abs(currentA) })).filter(({ size }) => size > 0);

/** How many steps have no place on the axis. */
export const undrawnSteps = (steps: SweepParts['steps']): number => steps.length - drawnSteps(steps).length;

/** Where on the axis the pull-in lies, V: it is told as a size, and a sweep of negative bias pulls in on its own side. */
export const pullInPlace = (steps: SweepParts['steps'], pullInV: number): number => (steps.reduce((sum, [biasV = 0]) => sum + biasV, 0) < 0 ? -pullInV : pullInV);

/** Current against bias of one sweep, on a logarithmic axis: the jump is where the unit pulls in. */
export function sweepDrawing({ steps, pullInV }: SweepParts): Drawing {
  const drawn = drawnSteps(steps);
  const places = pullInV == null ? [] : [pullInPlace(steps, pullInV)];
  const right = (places[0] ?? 0) < 0;
  return (width) => ({
    height: isNarrow(width) ? 240 : 280,
    marginLeft: 68,
    x: { label: 'bias, V', nice: true },
    y: { type: 'log', label: 'current, A', ticks: 6, tickFormat: (value: number) => value.toExponential(0).replace('-', '−') },
    marks: [
      ...millimetrePaper(),
      Plot.ruleX(places, { stroke: inks.violet, strokeWidth: 2, strokeDasharray: '7 4' }),
      Plot.text(places, { x: (value: number) => value, frameAnchor: 'top', dy: 6, dx: right ? 6 : -6, textAnchor: right ? 'start' : 'end', text: (value: number) => `pull-in ${String(value).replace('-', '−')} V`, fill: inks.violet, stroke: '#fcfcfb', strokeWidth: 5, fontWeight: 650 }),
      Plot.line(drawn, { x: 'biasV', y: 'size', stroke: inks.ink, strokeWidth: 1 }),
      Plot.dot(drawn, { x: 'biasV', y: 'size', r: 2.5, stroke: inks.ink, fill: '#fff' }),
    ],
  });
}
