export interface ReadColumns {
  /** Pairs of bias V and current A. */
  readonly pairs: readonly (readonly [number, number])[];
  /** Lines that could not be read, by number from 1. */
  readonly wrong: readonly { readonly line: number; readonly text: string }[];
}

/**
 * Two columns pasted from a table or a file: bias V and current A, one pair a line, parted by tab, semicolon or blanks
 * (or by a comma, where no other parts them and each side then has a decimal point or none). A decimal comma is read as
 * a point. Empty lines are skipped, and a first line of words as a heading; any other line that is not two numbers is
 * told, never dropped.
 *
 *     readTwoColumns('0,25\t2e-12').pairs   // [[0.25, 2e-12]]
 */
export function readTwoColumns(text: string): ReadColumns {
  const pairs: (readonly [number, number])[] = [];
  const wrong: { line: number; text: string }[] = [];
  const lines = text.split(/\r?\n/);
  const first = lines.findIndex((line) => line.trim() !== '');
  for (const [index, raw] of lines.entries()) {
    const line = raw.trim();
    if (line === '' || (index === first && !/^[-+.,\d]/.test(line))) continue;
    const pair = pairOf(line);
    if (pair) pairs.push(pair);
    else wrong.push({ line: index + 1, text: line });
  }
  return { pairs, wrong };
}

function pairOf(line: string): readonly [number, number] | null {
  const byBlank = line.split(/\s*[\t;]\s*|\s+/).filter((cell) => cell !== '');
  const cells = byBlank.length === 1 ? line.split(',') : byBlank;
  const [bias, current, ...more] = cells.map((cell) => (/^[-+]?(\d+([.,]\d*)?|[.,]\d+)(e[-+]?\d+)?$/i.test(cell) ? Number(cell.replace(',', '.')) : Number.NaN));
  return bias !== undefined && current !== undefined && more.length === 0 && Number.isFinite(bias) && Number.isFinite(current) ? [bias, current] : null;
}
