const delimiters = ['\t', ';', ',', '|'] as const;

/** The delimiter that splits the first line most often; null where none does. The server decides by the whole file. */
export function likelyDelimiter(text: string): string | null {
  const first = firstLine(text);
  const counts = delimiters.map((delimiter) => ({ delimiter, count: first.split(delimiter).length - 1 }));
  const best = counts.reduce((a, b) => (b.count > a.count ? b : a));
  return best.count > 0 ? best.delimiter : null;
}

const firstLine = (text: string): string => text.replace(/^\uFEFF/, '').split(/\r\n|\n|\r/, 1)[0] ?? '';

/** The names in the first line, to choose from. Reading the rows is the server's work. */
export function columnsOf(text: string, delimiter: string | null): readonly string[] {
  const by = delimiter ?? likelyDelimiter(text);
  const names = by === null ? [firstLine(text)] : firstLine(text).split(by);
  return names.map((name) => name.trim().replace(/^"(.*)"$/, '$1')).filter((name) => name !== '');
}
