import bwipjs from 'bwip-js/node';
import type { Part } from './parts.js';

export type CodeSort = 'qrcode' | 'datamatrix';

/** A square code (ISO/IEC 18004 or 16022) as SVG: black on nothing, its quiet zone included. */
export function codeSvg(text: string, sort: CodeSort = 'qrcode'): string {
  const quiet = sort === 'qrcode' ? 4 : 1;
  return bwipjs.toSVG({ bcid: sort, text, scale: 2, padding: quiet * 2, ...(sort === 'qrcode' && { eclevel: 'M' }) });
}

/** A square code of so many millimetres. */
export const code = (text: string, { sort = 'qrcode', sizeMm = 28 }: { sort?: CodeSort; sizeMm?: number } = {}): Part => ({
  svg: codeSvg(text, sort), width: (sizeMm / 25.4) * 72,
});
