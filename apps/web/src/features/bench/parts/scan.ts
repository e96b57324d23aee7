import { codeKey, readScan } from '#libs/label';

/** What a scanner, or a hand at the keyboard, gave as a label. */
export interface Labelled {
  readonly id: string;
  readonly label: string;
}

const plain = (text: string): string => text.trim().toLowerCase().replace(/\s+/g, ' ');

/** The disc whose label, code or id this is; a label may be typed in either case. Needs no server: the bench scans offline too. */
export function discScanned<D extends Labelled>(discs: readonly D[], text: string): D | null {
  const asked = plain(text);
  const { key } = readScan(text);
  return discs.find(({ id, label }) => plain(label) === asked || id === asked) ?? (key === null ? null : discs.find(({ id }) => codeKey(id) === key)) ?? null;
}

/** Whether a scanned text has the form of a code but its check character does not fit. */
export const wasMisread = (text: string): boolean => readScan(text).misread;

/** Whether a text can be a number at all: what cannot was meant as a label. */
export const looksLikeNumber = (text: string): boolean => /^[+-]?[\d\s.,'’]*\d[\d\s.,'’]*(e[+-]?\d+)?$/i.test(text.trim());
