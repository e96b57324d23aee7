import * as Plot from '@observablehq/plot';

/** Drawn for a width in CSS pixels: below 480 as on a phone. The same function draws on the screen and on paper. */
export type Drawing = (width: number) => Plot.PlotOptions;

/** The inks of a drawing. Series are told apart by shape first: a colour-blind reader and a grey print lose nothing. */
export const inks = {
  ink: '#17141a',
  soft: '#4a4650',
  rule: '#cfccd1',
  violet: '#5b1a63',
  wash: '#dcc7e0',
  well: '#0b5846',
  ask: '#8a5400',
  alarm: '#98200f',
} as const;

/** Millimetre paper: a fine and a strong grid behind the marks. Put it first among the marks. */
export function millimetrePaper(): Plot.Markish[] {
  return [
    Plot.gridX({ stroke: inks.violet, strokeOpacity: 0.18 }),
    Plot.gridY({ stroke: inks.violet, strokeOpacity: 0.18 }),
  ];
}

/** Size, margins and letters that every drawing starts from; its own options go over them. */
export function sheet(width: number, label: string): Plot.PlotOptions {
  return {
    width,
    height: isNarrow(width) ? 260 : 340,
    marginLeft: 56,
    marginBottom: 44,
    marginRight: 20,
    marginTop: 28,
    ariaLabel: label,
  };
}

export const isNarrow = (width: number): boolean => width < 480;

export const percent = (fraction: number): number => 100 * fraction;

/** Symbols by which leaves are told apart, in the order they are given out. */
export const leafSymbols = ['circle', 'square', 'triangle', 'diamond', 'cross', 'star', 'wye'] as const;

export const symbolOf = (index: number): (typeof leafSymbols)[number] => leafSymbols[index % leafSymbols.length]!;

export const leavesOf = (points: readonly { readonly leaf: string }[]): readonly string[] =>
  [...new Set(points.map(({ leaf }) => leaf))].sort((a, b) => a.localeCompare(b, undefined, { numeric: true }));

export { Plot };
