/** What a scanner, or a hand at the keyboard, gave as a label. */
export interface Labelled {
  readonly id: string;
  readonly label: string;
}

const plain = (text: string): string => text.trim().toLowerCase().replace(/\s+/g, ' ');

/** The disc whose label or id this is; a label may be typed in either case. */
export function discScanned<D extends Labelled>(discs: readonly D[], text: string): D | null {
  const asked = plain(text);
  return discs.find(({ id, label }) => plain(label) === asked || id === asked) ?? null;
}

/** Whether a text can be a number at all: what cannot was meant as a label. */
export const looksLikeNumber = (text: string): boolean => /^[+-]?[\d\s.,'’]*\d[\d\s.,'’]*(e[+-]?\d+)?$/i.test(text.trim());
