import { inks, isNarrow, millimetrePaper, Plot, type Drawing } from './ground.js';

export interface ThresholdLinePoint {
  readonly biasV: number;
  readonly powerNw: number;
  readonly lowNw: number;
  readonly highNw: number;
}

export interface ThresholdParts {
  readonly line: readonly ThresholdLinePoint[];
  readonly tests: readonly { readonly biasV: number; readonly powerNw: number }[];
  /** Range of bias that trip tests cover. */
  readonly testedV: readonly [number, number];
}

/** Threshold power against bias: trip tests, fitted curve, 95 % band, and how far it was tested. */
export function thresholdDrawing({ line, tests, testedV }: ThresholdParts): Drawing {
  return (width) => ({
    height: isNarrow(width) ? 280 : 360,
    x: { label: 'bias, V', nice: true },
    y: { label: 'threshold power, nW', nice: true },
    marks: [
      ...millimetrePaper(),
      Plot.areaY(line, { x: 'biasV', y1: 'lowNw', y2: 'highNw', fill: inks.violet, fillOpacity: 0.25 }),
      Plot.line(line, { x: 'biasV', y: 'powerNw', stroke: inks.violet, strokeWidth: 2 }),
      Plot.ruleX(testedV, { x: (value: number) => value, stroke: inks.ask, strokeDasharray: '3 4', strokeWidth: 1.5 }),
      Plot.text([testedV[0]], { x: (value: number) => value, frameAnchor: 'bottom', dx: 6, dy: -8, textAnchor: 'start', text: () => 'tested between these', fill: inks.ask, stroke: '#fcfcfb', strokeWidth: 5, fontWeight: 650 }),
      Plot.dot(tests, { x: 'biasV', y: 'powerNw', r: 4, stroke: inks.ink, fill: '#fff', strokeWidth: 1.5 }),
    ],
  });
}
