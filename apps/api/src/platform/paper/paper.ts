import pdfmake from 'pdfmake';
import type { Content, TDocumentDefinitions } from 'pdfmake/interfaces.js';
import { facePaths, faces } from './letters.js';
import { inks, TEXT_WIDTH, written, type Part } from './parts.js';

export interface Paper {
  /** What it is, large on the first page and as the document's title. */
  readonly title: string;
  /** What sort of paper: "Evidence thread", "Threshold certificate". Stands over the title and at the head of each page. */
  readonly sort: string;
  readonly lab: string;
  /** One or two sentences under the title. */
  readonly lead?: string;
  /** What a loose sheet is found by, at the foot of each page: id of the record, number of the certificate. */
  readonly reference: string;
  /** The only moment in the file: the same paper made again with it has the same bytes. */
  readonly madeAt: Date;
  readonly parts: readonly Part[];
}

/** A sheet without head and foot: labels. */
export interface BareSheets {
  readonly title: string;
  readonly madeAt: Date;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly marginMm: number;
  /** Each begins a sheet of its own. */
  readonly sheets: readonly Part[];
}

pdfmake.setFonts(faces);
// Nothing but our own letters is ever read while a paper is made, whatever stands in a record.
pdfmake.setUrlAccessPolicy(() => false);
pdfmake.setLocalAccessPolicy((path) => facePaths.has(path));

const points = (millimetres: number): number => (millimetres / 25.4) * 72;

/** The PDF of a paper: A4, pages counted, letters embedded. The same paper gives the same bytes. */
export async function renderPaper({ title, sort, lab, lead, reference, madeAt, parts }: Paper): Promise<Uint8Array> {
  return render({
    ...common(title, madeAt),
    pageSize: 'A4',
    pageMargins: [56, 58, 56, 54],
    header: () => ({ columns: [written(lab), { ...written(sort), alignment: 'right' }], margin: [56, 28, 56, 0], fontSize: 8, color: inks.soft }),
    footer: (page, pages) => ({
      stack: [
        { canvas: [{ type: 'line', x1: 0, y1: 0, x2: TEXT_WIDTH, y2: 0, lineWidth: 0.4, lineColor: inks.strong }], margin: [0, 0, 0, 4] },
        { columns: [written(reference, { face: 'Raw', fontSize: 7 }), { text: `page ${page} of ${pages}`, alignment: 'right', width: 90 }] },
      ],
      margin: [56, 14, 56, 0], fontSize: 8, color: inks.soft,
    }),
    content: [
      { ...written(sort, { color: inks.violet, bold: true, fontSize: 9.5 }), margin: [0, 0, 0, 3] },
      { ...written(title, { bold: true, fontSize: 19 }), lineHeight: 1.08, margin: [0, 0, 0, lead ? 6 : 10] },
      ...(lead ? [{ ...written(lead, { fontSize: 10.5, color: inks.soft }), margin: [0, 0, 0, 10] } satisfies Content] : []),
      ...parts,
    ],
  });
}

/** Labels and other small sheets, one part a sheet. */
export async function renderSheets({ title, madeAt, widthMm, heightMm, marginMm, sheets }: BareSheets): Promise<Uint8Array> {
  return render({
    ...common(title, madeAt),
    pageSize: { width: points(widthMm), height: points(heightMm) },
    pageMargins: points(marginMm),
    content: sheets.map((part, index): Content => ({ stack: [part], ...(index > 0 && { pageBreak: 'before' }) })),
  });
}

const common = (title: string, madeAt: Date): Pick<TDocumentDefinitions, 'info' | 'defaultStyle' | 'version' | 'language' | 'displayTitle'> => ({
  info: { title, creator: 'Threadleaf', producer: 'Threadleaf', creationDate: madeAt },
  version: '1.7',
  language: 'en',
  displayTitle: true,
  defaultStyle: { font: 'Text', fontSize: 9.5, lineHeight: 1.2, color: inks.ink },
});

async function render(definition: TDocumentDefinitions): Promise<Uint8Array> {
  return new Uint8Array(await pdfmake.createPdf(definition).getBuffer());
}
