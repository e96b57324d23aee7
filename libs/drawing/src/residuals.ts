import { inks, isNarrow, leavesOf, millimetrePaper, Plot, symbolOf, type Drawing } from './ground.js';

export interface ResidualPoint {
  readonly leaf: string;
  readonly residual: number;
}

export interface ResidualParts {
  /** The scale that was fitted: "ln T". */
  readonly scale: string;
  readonly points: readonly ResidualPoint[];
}

/** Residuals leaf by leaf, once each leaf's own effect is taken off: what scatters within a leaf. */
export function residualDrawing({ scale, points }: ResidualParts): Drawing {
  const leaves = leavesOf(points);
  return (width) => ({
    height: isNarrow(width) ? 220 : 280,
    x: { label: 'leaf', domain: [...leaves], type: 'point', padding: 0.6, ...(isNarrow(width) ? { tickRotate: -40 } : {}) },
    ...(isNarrow(width) ? { marginBottom: 70 } : {}),
    marginLeft: 72,
    y: { label: `residual of ${scale}`, nice: true },
    symbol: { domain: [...leaves], range: leaves.map((_, index) => symbolOf(index)) },
    marks: [
      ...millimetrePaper(),
      Plot.ruleY([0], { stroke: inks.ink }),
      Plot.dot(points, { x: 'leaf', y: 'residual', symbol: 'leaf', r: 4, stroke: inks.ink, fill: '#fff', strokeWidth: 1.5 }),
    ],
  });
}
