import { Plot, sheet, type Drawing } from '#libs/drawing';
import { parseHTML } from 'linkedom';
import { spansOf } from './letters.js';
import { inks, TEXT_WIDTH, written, type Part } from './parts.js';

/** Drawn as on a wide screen, so that lines and letters come out as fine as print wants them. */
const DRAWN_WIDTH = 640;

/** The drawing as an SVG document that needs no style sheet and no colour from around it. */
export function drawingSvg(drawing: Drawing, label: string, width = DRAWN_WIDTH): string {
  const { document } = parseHTML('<!doctype html><html><body></body></html>');
  // Plot builds nodes with the document it is given and never looks for a window.
  const svg = Plot.plot({ ...sheet(width, label), ...drawing(width), document: document as unknown as Document });
  for (const style of svg.querySelectorAll('style')) style.remove();
  svg.setAttribute('font-family', 'Text');
  svg.setAttribute('font-size', '14');
  for (const halo of svg.querySelectorAll('[paint-order="stroke"]')) layHaloUnder(halo);
  for (const text of svg.querySelectorAll('text')) chooseFaces(text, document as unknown as Document);
  // The paper's svg reader knows numeric sizes and whole weights only.
  return svg.outerHTML
    .replaceAll('currentColor', inks.ink)
    .replace(/font-weight="(\d+)"/g, (_, weight: string) => (Number(weight) >= 600 ? 'font-weight="bold"' : ''))
    .replaceAll('font-variant="tabular-nums"', '');
}

/** The paper's svg reader paints outlines over letters: the halo becomes a copy of its own underneath. */
function layHaloUnder(letters: Element): void {
  const halo = letters.cloneNode(true) as Element;
  halo.setAttribute('fill', halo.getAttribute('stroke') ?? '#fff');
  letters.before(halo);
  for (const name of ['stroke', 'stroke-width', 'stroke-linejoin', 'paint-order']) letters.removeAttribute(name);
}

/** Arrows and names that the reading face lacks. */
function chooseFaces(text: Element, document: Document): void {
  if (text.children.length > 0) return;
  const spans = spansOf(text.textContent ?? '', 'Text');
  if (spans.every(({ face }) => face === 'Text')) return;
  text.replaceChildren(...spans.map((span) => {
    const piece = document.createElementNS('http://www.w3.org/2000/svg', 'tspan');
    piece.setAttribute('font-family', span.face);
    piece.textContent = span.text;
    return piece;
  }));
}

export interface FigureTexts {
  /** What is drawn, as a title over it. */
  readonly label: string;
  /** What there is to see, in a sentence under it. */
  readonly caption?: string;
  /** Points; the whole text width when not given. */
  readonly width?: number;
}

/** A drawing from libs/drawing with its title and caption; it stays on one page. */
export const figure = (drawing: Drawing, { label, caption, width = TEXT_WIDTH }: FigureTexts): Part => ({
  stack: [
    { ...written(label, { bold: true, fontSize: 9.5 }), margin: [0, 4, 0, 2] },
    { svg: drawingSvg(drawing, label, Math.max(480, Math.round((DRAWN_WIDTH * width) / TEXT_WIDTH))), width },
    ...(caption ? [{ ...written(caption, { color: inks.soft, fontSize: 8.5 }), margin: [0, 2, 0, 0] as [number, number, number, number] }] : []),
  ],
  unbreakable: true,
  margin: [0, 2, 0, 10],
});
