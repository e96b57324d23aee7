import { Injectable } from '@nestjs/common';
import { codeOf, codeText, pageSvg, pagesOf, perPage, readScan, requireStock, symbolText, type LabelContent, type LabelStock } from '#libs/label';
import { InputError } from '#libs/quantity';
import type { LabelSymbology, PrintLabelsInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { optionalText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { renderSheets } from '../../platform/paper/index.js';
import { LabelPrint } from './label.entity.js';
import { byCodeKey, byLabel, labelLines, printCounts, type Scannable } from './label.repository.js';
import { symbolOf, symbolPng } from './symbol.js';

/** Of one print; a roll of a thousand is changed before that. */
const MOST_LABELS = 1_000;
const POINTS_A_MM = 72 / 25.4;

export interface PrintedLabel extends LabelContent {
  readonly id: string;
  readonly label: string;
  /** In the symbol. */
  readonly text: string;
}

/** Labels: what a scan names, and what is printed. */
@Injectable()
export class LabelService {
  constructor(private readonly recorder: Recorder) {}

  /** Labels that people wrote come first: one that looks like a code is still the label. */
  async scan(tx: Tx, text: string): Promise<{ found: Scannable[]; misread: boolean }> {
    const { label, key, misread } = readScan(text);
    if (label === '') return { found: [], misread: false };
    const called = await byLabel(tx, label);
    const found = called.length > 0 || key === null ? called : await byCodeKey(tx, key);
    return { found, misread: misread && found.length === 0 };
  }

  print(tx: Tx, actor: Actor, input: PrintLabelsInput): Promise<Written<LabelPrint>> {
    const kind = input.subjectKind.toLowerCase() as LabelPrint['subjectKind'];
    const stock = requireStock({ ...input.stock });
    const firstPlace = input.firstPlace ?? 0;
    const given = { id: input.id, subjectKind: kind, subjectIds: input.subjectIds, symbology: input.symbology, stock, firstPlace, reason: optionalText(input.reason) };
    return this.recorder.record(tx, actor, LabelPrint, given, async () => {
      if (input.subjectIds.length === 0 || input.subjectIds.length > MOST_LABELS) {
        throw new InputError('COUNT', 'subjectIds', `names ${input.subjectIds.length} of them`, `Print 1 to ${MOST_LABELS} labels at once.`);
      }
      if (new Set(input.subjectIds).size !== input.subjectIds.length) throw new InputError('REPEATED', 'subjectIds', 'names one twice', 'Name each once.');
      if (!Number.isInteger(firstPlace) || firstPlace < 0 || firstPlace >= perPage(stock)) {
        throw new InputError('OUT_OF_RANGE', 'firstPlace', `is ${firstPlace}`, `Count the places of a sheet from 0 to ${perPage(stock) - 1}.`);
      }
      if ((await labelLines(tx, kind, input.subjectIds)).size < input.subjectIds.length) throw notFound('subjectIds', `One of the ${kind}s`);
      // Refuses a label too small for its symbol before anything is recorded.
      pageSvg([{ symbol: symbolOf(symbolText(codeOf(input.subjectIds[0]!)), input.symbology), lines: [] }], stock, 0);
      const before = await printCounts(tx, input.subjectIds);
      if (before.size > 0 && !given.reason) {
        throw new ProblemError('INPUT', 'reason', `${before.size} of these labels ${before.size === 1 ? 'was' : 'were'} printed before.`, 'Say why again, for example: came off in the oven. Destroy the old one.');
      }
      return { uses: input.subjectIds.map((id) => ({ kind, id, role: 'label of' })), action: 'print', reason: given.reason };
    });
  }

  /** The labels of a print in order; a reprint says how many went before it. */
  async labelsOf(tx: Tx, print: LabelPrint): Promise<PrintedLabel[]> {
    const lines = await labelLines(tx, print.subjectKind, print.subjectIds);
    const before = await printCounts(tx, print.subjectIds, print.id);
    return print.subjectIds.map((id) => {
      const { label, beside } = lines.get(id)!;
      const code = codeOf(id);
      const again = before.get(id) ?? 0;
      return {
        id, label, text: symbolText(code), symbol: symbolOf(symbolText(code), print.symbology),
        lines: [label, codeText(code), `${beside}${again > 0 ? `${beside ? ', ' : ''}print ${again + 1}` : ''}`],
      };
    });
  }
}

export const pages = (print: Pick<LabelPrint, 'subjectIds' | 'stock' | 'firstPlace'>): number => pagesOf(print.subjectIds.length, print.stock, print.firstPlace);

export const svgOf = (labels: readonly PrintedLabel[], { stock, firstPlace }: LabelPrint, page: number): string => pageSvg(labels, stock, page, firstPlace);

/** The paper's letters are called Text. */
const onPaper = (svg: string): string => svg.replaceAll('font-family="Roboto, Arial, sans-serif"', 'font-family="Text"');

export function pdfOf(labels: readonly PrintedLabel[], print: LabelPrint): Promise<Uint8Array> {
  const { pageWidthMm, pageHeightMm }: LabelStock = print.stock;
  return renderSheets({
    title: `Labels ${print.id}`, madeAt: print.recordedAt, widthMm: pageWidthMm, heightMm: pageHeightMm, marginMm: 0,
    sheets: Array.from({ length: pages(print) }, (_, page) => ({ svg: onPaper(svgOf(labels, print, page)), width: pageWidthMm * POINTS_A_MM })),
  });
}

export const pngOf = ({ text, lines }: PrintedLabel, symbology: LabelSymbology): Promise<Buffer> => symbolPng(text, symbology, lines.slice(0, 2).join('  '));
