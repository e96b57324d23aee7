import bwipjs from 'bwip-js/node';
import type { SymbolDrawing } from '#libs/label';
import type { LabelSymbology } from '../../generated/schema.js';

interface Encoding {
  readonly bcid: string;
  readonly options: Readonly<Record<string, string | number | boolean>>;
  /** Light space around it: ISO/IEC 16022 (1 module), 18004 (4), 15417 (10). */
  readonly quietModules: number;
}

const ENCODINGS: Readonly<Record<LabelSymbology, Encoding>> = {
  DATA_MATRIX: { bcid: 'datamatrix', options: {}, quietModules: 1 },
  QR: { bcid: 'qrcode', options: { eclevel: 'M' }, quietModules: 4 },
  CODE_128: { bcid: 'code128', options: {}, quietModules: 10 },
};

interface Matrix {
  readonly pixs: readonly number[];
  readonly pixx: number;
  readonly pixy: number;
}

interface Bars {
  /** Widths of bar and space in turn. */
  readonly sbs: readonly number[];
}

/** The modules of a text in a symbology. */
export function symbolOf(text: string, symbology: LabelSymbology): SymbolDrawing {
  const { bcid, options, quietModules } = ENCODINGS[symbology];
  const [drawn] = bwipjs.raw({ bcid, text, ...options } as never) as unknown as readonly (Matrix | Bars)[];
  return 'sbs' in drawn! ? bars(drawn.sbs, quietModules) : matrix(drawn as Matrix, quietModules);
}

function matrix({ pixs, pixx, pixy }: Matrix, quietModules: number): SymbolDrawing {
  const rows = Array.from({ length: pixy }, (_, y) => runsOf(pixs.slice(y * pixx, (y + 1) * pixx)));
  return { widthModules: pixx, heightModules: pixy, quietModules, linear: false, rows };
}

function bars(widths: readonly number[], quietModules: number): SymbolDrawing {
  const runs: [number, number][] = [];
  let at = 0;
  widths.forEach((width, i) => {
    if (i % 2 === 0) runs.push([at, width]);
    at += width;
  });
  return { widthModules: at, heightModules: 1, quietModules, linear: true, rows: [runs] };
}

function runsOf(modules: readonly number[]): [number, number][] {
  const runs: [number, number][] = [];
  modules.forEach((dark, x) => {
    const last = runs.at(-1);
    if (!dark) return;
    if (last && last[0] + last[1] === x) last[1] += 1;
    else runs.push([x, 1]);
  });
  return runs;
}

/** One label as PNG: the symbol, and below it what a person reads. */
export function symbolPng(text: string, symbology: LabelSymbology, readable: string): Promise<Buffer> {
  const { bcid, options, quietModules } = ENCODINGS[symbology];
  return bwipjs.toBuffer({
    bcid, text, ...options, scale: 4, includetext: true, alttext: readable, textxalign: 'center', padding: quietModules, backgroundcolor: 'FFFFFF',
    ...(symbology === 'CODE_128' && { height: 8 }),
  } as never);
}
