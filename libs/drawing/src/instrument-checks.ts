import { inks, isNarrow, millimetrePaper, Plot, type Drawing } from './ground.js';

export interface CheckPoint {
  readonly observedAt: string;
  /** Exact decimals as text. */
  readonly nominal: string;
  readonly shown: string;
  readonly tolerance: string;
  readonly passed: boolean;
}

export interface InstrumentCheckParts {
  readonly unit: string;
  readonly checks: readonly CheckPoint[];
  /** How a moment is written at the axis, on the reader's clock. */
  readonly clock: (at: Date) => string;
  /** Limits within which its deviations have lain so far, in the order made; null while there are too few. */
  readonly control: { readonly centre: number; readonly low: number; readonly high: number } | null;
}

/** Deviation of each check from its nominal value, between its tolerance lines and its own control limits: the control chart of one instrument. */
export function instrumentCheckDrawing({ unit, checks, clock, control }: InstrumentCheckParts): Drawing {
  const rows = checks.map((check) => ({ at: new Date(check.observedAt), deviation: Number(check.shown) - Number(check.nominal), tolerance: Number(check.tolerance), passed: check.passed }));
  return (width) => ({
    x: { type: 'time', label: null, nice: true, ticks: isNarrow(width) ? 3 : 6, tickFormat: clock },
    y: { label: `shown − nominal, ${unit}`, nice: true },
    symbol: { domain: [true, false], range: ['circle', 'times'] },
    marks: [
      ...millimetrePaper(),
      Plot.ruleY([0], { stroke: inks.ink }),
      Plot.line(rows, { x: 'at', y: 'tolerance', stroke: inks.alarm, strokeDasharray: '6 4', curve: 'step' }),
      Plot.line(rows, { x: 'at', y: ({ tolerance }: { tolerance: number }) => -tolerance, stroke: inks.alarm, strokeDasharray: '6 4', curve: 'step' }),
      ...(control ? [Plot.ruleY([control.low, control.high], { stroke: inks.ink, strokeDasharray: '2 4' }), Plot.ruleY([control.centre], { stroke: inks.soft, strokeWidth: 1 })] : []),
      Plot.dot(rows, { x: 'at', y: 'deviation', symbol: 'passed', r: 5, stroke: inks.ink, fill: '#fff', strokeWidth: 2 }),
    ],
  });
}
