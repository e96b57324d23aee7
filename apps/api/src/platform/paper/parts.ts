import type { Content, ContentTable, CustomTableLayout, TableCell } from 'pdfmake/interfaces.js';
import { spansOf, type Face } from './letters.js';

/** A piece of a page. Built here and by `figure` and `code`; laid out by `renderPaper`. */
export type Part = Content;

export const inks = { ink: '#17141a', soft: '#4a4650', rule: '#cfccd1', strong: '#77727d', violet: '#5b1a63', wash: '#efe6f1', alarm: '#98200f', ask: '#754700' } as const;

interface Look {
  readonly bold?: boolean;
  readonly italics?: boolean;
  readonly color?: string;
  readonly fontSize?: number;
  readonly face?: Face;
}

/** Every text goes through here, so that letters outside the reading face are found. */
export function written(text: string, { face = 'Text', ...look }: Look = {}): { text: { text: string; font: Face }[] } & Omit<Look, 'face'> {
  return { text: spansOf(text, face).map((span) => ({ text: span.text, font: span.face })), ...look };
}

export const paragraph = (text: string, look: Look = {}): Part => ({ ...written(text, look), margin: [0, 0, 0, 6] });

/** Sentences of which some stand out: `sentence(['Trip at ', { text: '80 %', bold: true }])`. */
export const sentence = (pieces: readonly (string | (Look & { readonly text: string }))[]): Part => ({
  text: pieces.flatMap((piece) => {
    const { text, face = 'Text', ...look } = typeof piece === 'string' ? { text: piece } : piece;
    return spansOf(text, face).map((span) => ({ text: span.text, font: span.face, ...look }));
  }),
  margin: [0, 0, 0, 6],
});

/** A chapter, with a rule under it. Begin a long one on a page of its own, and keep a short one with what it heads by `together`. */
export const heading = (text: string, { pageBreak = false } = {}): Part => ({
  stack: [
    { ...written(text, { bold: true, fontSize: 13 }), margin: [0, 14, 0, 3] },
    { canvas: [{ type: 'line', x1: 0, y1: 0, x2: TEXT_WIDTH, y2: 0, lineWidth: 0.8, lineColor: inks.ink }], margin: [0, 0, 0, 7] },
  ],
  ...(pageBreak && { pageBreak: 'before' }),
});

export const subheading = (text: string): Part => ({ ...written(text, { bold: true, fontSize: 10.5 }), margin: [0, 8, 0, 4] });

/** Width between the margins of an A4 page, in points. */
export const TEXT_WIDTH = 483;

export interface Fact {
  readonly name: string;
  readonly value: string;
  readonly face?: Face;
}

/** Names and values, one a line; a value that is not there is left out. */
export const facts = (rows: readonly (Fact | null | undefined | false)[], { nameWidth = 118 } = {}): Part => ({
  table: {
    widths: [nameWidth, '*'],
    body: rows.flatMap((row) => (row ? [[written(row.name, { color: inks.soft }), written(row.value, { ...(row.face && { face: row.face, fontSize: 8 }) })] satisfies TableCell[]] : [])),
    dontBreakRows: true,
  },
  layout: hairlines,
  margin: [0, 0, 0, 8],
});

export interface Column<Row> {
  readonly head: string;
  readonly cell: (row: Row) => string | Part;
  /** Points, `*` for what is left, `auto` for what it needs. */
  readonly width?: number | '*' | 'auto';
  readonly align?: 'left' | 'right';
  readonly face?: Face;
}

interface TableLook {
  readonly fontSize?: number;
  /** Stands over the head, and with it on each page. */
  readonly title?: string;
  /** Stands under the last row. */
  readonly note?: string;
}

/** Rows under a head that is written again on each page and never stands without a row. */
export function table<Row>(columns: readonly Column<Row>[], rows: readonly Row[], { fontSize = 8.5, title, note }: TableLook = {}): Part {
  const cellOf = (column: Column<Row>, row: Row): TableCell => {
    const cell = column.cell(row);
    const aligned = { alignment: column.align ?? 'left' } as const;
    return typeof cell === 'string' ? { ...written(cell, { ...(column.face && { face: column.face, fontSize: fontSize - 1 }) }), ...aligned } : (cell as TableCell);
  };
  const body: ContentTable = {
    table: {
      headerRows: title ? 2 : 1,
      keepWithHeaderRows: 1,
      dontBreakRows: true,
      widths: columns.map(({ width = '*' }) => width),
      body: [...(title ? [[{ ...written(title, { bold: true, fontSize: 10.5 }), colSpan: columns.length, margin: [0, 8, 0, 1] } satisfies TableCell, ...columns.slice(1).map(() => '')]] : []), columns.map(({ head, align = 'left' }): TableCell => ({ ...written(head, { bold: true, color: inks.soft }), alignment: align })), ...rows.map((row) => columns.map((column) => cellOf(column, row)))],
    },
    layout: ruled(title ? 2 : 1),
    fontSize,
    margin: [0, 0, 0, note ? 3 : 9],
  };
  return note ? { stack: [body, { ...written(note, { color: inks.soft, fontSize: 8 }), margin: [0, 0, 0, 9] }] } : body;
}

const hairlines: CustomTableLayout = {
  hLineWidth: (line: number) => (line === 0 ? 0 : 0.4),
  vLineWidth: () => 0,
  hLineColor: () => inks.rule,
  paddingLeft: (column: number) => (column === 0 ? 0 : 6),
  paddingRight: () => 0,
  paddingTop: () => 2.5,
  paddingBottom: () => 2.5,
};

const ruled = (heads: number): CustomTableLayout => ({
  ...hairlines,
  hLineWidth: (line) => (line < heads ? 0 : line === heads ? 0.9 : 0.4),
  hLineColor: (line) => (line === heads ? inks.strong : inks.rule),
});

/** A line of an instrument or a file, letter by letter; control characters are shown by their pictures. */
export const rawLine = (text: string): Part => ({ ...written(text, { face: 'Raw', fontSize: 7.5, color: inks.ink }), margin: [0, 1, 0, 2] });

/** Several lines as they are, for example a signed note. */
export const rawBlock = (text: string, { fontSize = 7.5 } = {}): Part => ({
  table: { widths: ['*'], body: [[{ ...written(text.replace(/\n$/, ''), { face: 'Raw', fontSize }), preserveLeadingSpaces: true }]] },
  layout: { ...hairlines, hLineWidth: () => 0.6, vLineWidth: () => 0.6, vLineColor: () => inks.rule, paddingLeft: () => 7, paddingRight: () => 7, paddingTop: () => 5, paddingBottom: () => 5 },
  margin: [0, 2, 0, 9],
});

/** Something to stop at: a word, a bar at its side, and only then a colour. */
export const notice = (title: string, text: string, tone: 'calm' | 'ask' | 'alarm' = 'calm'): Part => {
  const color = tone === 'calm' ? inks.violet : inks[tone];
  return {
    table: { widths: ['*'], body: [[{ stack: [written(title, { bold: true, color }), ...(text ? [{ ...written(text), margin: [0, 2, 0, 0] as [number, number, number, number] }] : [])] }]], dontBreakRows: true },
    layout: { hLineWidth: () => 0, vLineWidth: (line: number) => (line === 0 ? 3 : 0), vLineColor: () => color, paddingLeft: () => 9, paddingRight: () => 0, paddingTop: () => 2, paddingBottom: () => 2 },
    margin: [0, 3, 0, 9],
  };
};

/** The usual caution; it defers to site rules and licensed practice by itself. */
export const caution = (text: string): Part => notice('Caution', `${text} Follow your site’s rules, local codes and the maker’s instructions; leave licensed work to licensed people.`, 'ask');

/** Parts beside each other, each as wide as told or sharing what is left. */
export const beside = (...parts: readonly { readonly part: Part; readonly width?: number | '*' | 'auto' }[]): Part => ({
  columns: parts.map(({ part, width = '*' }) => ({ stack: [part], width })),
  columnGap: 14,
  margin: [0, 0, 0, 6],
});

/** Parts that stay on one page. */
export const together = (...parts: readonly Part[]): Part => ({ stack: [...parts], unbreakable: true });

/** Room to sign by hand. */
export const signHere = (...names: readonly string[]): Part => ({
  columns: names.map((name) => ({
    stack: [
      { canvas: [{ type: 'line', x1: 0, y1: 0, x2: (TEXT_WIDTH - 14 * (names.length - 1)) / names.length - 6, y2: 0, lineWidth: 0.6, lineColor: inks.strong }], margin: [0, 34, 0, 2] },
      written(name, { color: inks.soft, fontSize: 8 }),
    ],
  })),
  columnGap: 14,
  unbreakable: true,
});
