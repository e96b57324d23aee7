/** A column: what it is called in the file, its UCUM unit or null, and what it means. */
export interface TidyColumn<R> {
  readonly name: string;
  readonly unit: string | null;
  readonly type: 'string' | 'number' | 'boolean' | 'integer';
  readonly meaning: string;
  readonly of: (row: R) => string | number | boolean | null;
}

export interface Tidy {
  readonly fileName: string;
  readonly csv: string;
  readonly rowCount: number;
  readonly columns: readonly Omit<TidyColumn<unknown>, 'of'>[];
  readonly meaning: string;
}

/** RFC 4180: quoted where it must be, CRLF, point as decimal mark, nothing where a value is not known. */
const cell = (value: string | number | boolean | null): string => {
  if (value === null) return '';
  const text = String(value);
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
};

/**
 * One level as a table.
 *
 *     tidy('leaves.csv', 'One row for each leaf.', leaves, columns).csv
 */
export function tidy<R>(fileName: string, meaning: string, rows: readonly R[], columns: readonly TidyColumn<R>[]): Tidy {
  const lines = [columns.map(({ name }) => cell(name)), ...rows.map((row) => columns.map(({ of }) => cell(of(row))))];
  return { fileName, meaning, rowCount: rows.length, csv: lines.map((line) => `${line.join(',')}\r\n`).join(''), columns: columns.map(({ of: _, ...column }) => column) };
}

/** The dictionary of some tables as CSVW metadata; the unit stands under the QUDT-free member `unit`, by its UCUM code. */
export function metadataOf(title: string, tables: readonly Tidy[]): string {
  return `${JSON.stringify({
    '@context': ['http://www.w3.org/ns/csvw', { '@language': 'en' }],
    'dc:title': title,
    'tables': tables.map(({ fileName, meaning, columns }) => ({
      'url': fileName,
      'dc:description': meaning,
      'dialect': { encoding: 'utf-8', header: true, delimiter: ',', lineTerminators: ['\r\n'] },
      'tableSchema': { columns: columns.map(({ name, unit, type, meaning: description }) => ({ name, titles: name, datatype: type, 'dc:description': description, ...(unit === null ? {} : { 'schema:unitCode': unit }) })) },
    })),
  }, null, 2)}\n`;
}
