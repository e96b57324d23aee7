import { InputError } from '#libs/quantity';

/** How labels lie on the stock, all in mm. A roll has one label a page and no margin. */
export interface LabelStock {
  readonly pageWidthMm: number;
  readonly pageHeightMm: number;
  readonly columns: number;
  readonly rows: number;
  readonly marginLeftMm: number;
  readonly marginTopMm: number;
  /** From the left edge of a label to that of the next. */
  readonly pitchXMm: number;
  readonly pitchYMm: number;
  readonly labelWidthMm: number;
  readonly labelHeightMm: number;
}

/** A symbol as its bars or modules: dark runs of each row, in modules from the left. */
export interface SymbolDrawing {
  readonly widthModules: number;
  readonly heightModules: number;
  /** Light space that must stay around it, in modules. */
  readonly quietModules: number;
  /** One row stands for the whole height: a linear code. */
  readonly linear: boolean;
  readonly rows: readonly (readonly (readonly [start: number, length: number])[])[];
}

export interface LabelContent {
  readonly symbol: SymbolDrawing;
  /** What a person reads: the first line larger. */
  readonly lines: readonly string[];
}

/** ISO/IEC 15415 leaves the size to the application; common practice on tubes and discs, no source. */
export const LEAST_MODULE_MM = 0.25;
const EDGE_MM = 1;
/** Advance of a character of the lettering in heights of it: an upper bound for a plain sans serif; common practice, no source. */
const ADVANCE = 0.62;

/** A roll of labels of one size. */
export const rollOf = (labelWidthMm: number, labelHeightMm: number): LabelStock => ({
  pageWidthMm: labelWidthMm, pageHeightMm: labelHeightMm, columns: 1, rows: 1, marginLeftMm: 0, marginTopMm: 0,
  pitchXMm: labelWidthMm, pitchYMm: labelHeightMm, labelWidthMm, labelHeightMm,
});

/** @throws InputError `SIZE` for a measure that is no length, `OFF_PAGE` for labels that do not lie on the page or on each other */
export function requireStock(stock: LabelStock): LabelStock {
  for (const [name, value] of Object.entries(stock)) {
    const least = name.startsWith('margin') ? 0 : Number.EPSILON;
    if (!Number.isFinite(value) || value < least || value > 1200) throw new InputError('SIZE', `stock.${name}`, `is ${value} mm`, 'Give a length in mm.');
  }
  const { columns, rows } = stock;
  if (!Number.isInteger(columns) || !Number.isInteger(rows)) throw new InputError('SIZE', 'stock.columns', 'rows and columns are not whole', 'Count the labels across and down.');
  const right = stock.marginLeftMm + (columns - 1) * stock.pitchXMm + stock.labelWidthMm;
  const bottom = stock.marginTopMm + (rows - 1) * stock.pitchYMm + stock.labelHeightMm;
  if (right > stock.pageWidthMm + 0.01 || bottom > stock.pageHeightMm + 0.01) {
    throw new InputError('OFF_PAGE', 'stock.pageWidthMm', `the labels take ${round(right)} by ${round(bottom)} mm of a page of ${stock.pageWidthMm} by ${stock.pageHeightMm}`, 'Measure margins and pitch again.');
  }
  if ((columns > 1 && stock.pitchXMm < stock.labelWidthMm - 0.01) || (rows > 1 && stock.pitchYMm < stock.labelHeightMm - 0.01)) {
    throw new InputError('OFF_PAGE', 'stock.pitchXMm', 'the labels lie on each other', 'The pitch is from edge to edge: at least the size of a label.');
  }
  return stock;
}

export const perPage = ({ columns, rows }: LabelStock): number => columns * rows;

/** Pages that so many labels take, when the first of them lies on the place `first` (0 is the top left) of the first page. */
export const pagesOf = (count: number, stock: LabelStock, first = 0): number => Math.ceil((count + first) / perPage(stock));

interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/**
 * One page as SVG, in mm. Page 0 is the first.
 *
 * @param first place of the first label on the first page, for a sheet that was begun
 * @throws InputError `TOO_SMALL` when the modules would be smaller than 0.25 mm, and those of {@link requireStock}
 */
export function pageSvg(labels: readonly LabelContent[], stock: LabelStock, page: number, first = 0): string {
  requireStock(stock);
  const parts: string[] = [];
  for (let place = 0; place < perPage(stock); place += 1) {
    const label = labels[page * perPage(stock) + place - first];
    if (!label) continue;
    parts.push(labelParts(label, {
      x: stock.marginLeftMm + (place % stock.columns) * stock.pitchXMm, y: stock.marginTopMm + Math.floor(place / stock.columns) * stock.pitchYMm,
      width: stock.labelWidthMm, height: stock.labelHeightMm,
    }));
  }
  const { pageWidthMm: width, pageHeightMm: height } = stock;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${width}mm" height="${height}mm" viewBox="0 0 ${width} ${height}">`
    + `<rect width="${width}" height="${height}" fill="#ffffff"/>${parts.join('')}</svg>`;
}

function labelParts({ symbol, lines }: LabelContent, { x, y, width, height }: Box): string {
  const inner: Box = { x: x + EDGE_MM, y: y + EDGE_MM, width: width - 2 * EDGE_MM, height: height - 2 * EDGE_MM };
  const { drawing, text } = symbol.linear ? linear(symbol, inner) : matrix(symbol, inner);
  return drawing + letters(lines, text);
}

/** Module on a grid of 0.01 mm, so that all of them are equal. */
function moduleMm(mm: number): number {
  const module = Math.floor(mm * 100) / 100;
  if (module < LEAST_MODULE_MM) {
    throw new InputError('TOO_SMALL', 'stock.labelWidthMm', `the symbol would have modules of ${Math.max(module, 0)} mm`, `Choose a larger label, or Data Matrix: modules of ${LEAST_MODULE_MM} mm and more can be read.`);
  }
  return module;
}

function matrix(symbol: SymbolDrawing, box: Box): { drawing: string; text: Box } {
  const side = symbol.widthModules + 2 * symbol.quietModules;
  const module = moduleMm(Math.min(box.height, box.width * 0.6) / side);
  const [left, top] = [box.x + symbol.quietModules * module, box.y + (box.height - symbol.heightModules * module) / 2];
  const used = side * module;
  return { drawing: drawn(symbol, left, top, module, module), text: { x: box.x + used, y: box.y, width: box.width - used, height: box.height } };
}

function linear(symbol: SymbolDrawing, box: Box): { drawing: string; text: Box } {
  const module = Math.min(moduleMm(box.width / (symbol.widthModules + 2 * symbol.quietModules)), 0.5);
  const left = box.x + (box.width - symbol.widthModules * module) / 2;
  const height = box.height * 0.55;
  return { drawing: drawn(symbol, left, box.y, module, height), text: { x: box.x, y: box.y + height, width: box.width, height: box.height - height } };
}

function drawn({ rows }: SymbolDrawing, left: number, top: number, width: number, height: number): string {
  const path = rows.flatMap((runs, row) => runs.map(([start, length]) =>
    `M${round(left + start * width)} ${round(top + row * height)}h${round(length * width)}v${round(height)}h${round(-length * width)}z`)).join('');
  return `<path d="${path}" fill="#000000"/>`;
}

/** Lines below each other, the first one larger, each no wider than its place. */
function letters(lines: readonly string[], { x, y, width, height }: Box): string {
  const shown = lines.filter((line) => line !== '');
  const unit = height / (shown.length + 0.6);
  let top = y;
  return shown.map((line, i) => {
    const share = unit * (i === 0 ? 1.6 : 1);
    const size = Math.min(share * 0.78, (width - 0.5) / (ADVANCE * line.length), 6);
    top += share;
    return `<text x="${round(x + 0.5)}" y="${round(top - share * 0.25)}" font-family="Roboto, Arial, sans-serif" font-size="${round(size)}"${i === 0 ? ' font-weight="bold"' : ''} fill="#000000">${escaped(line)}</text>`;
  }).join('');
}

const round = (value: number): number => Math.round(value * 1000) / 1000;

const escaped = (text: string): string =>
  text.replace(/[&<>"]/g, (sign) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[sign]!);
