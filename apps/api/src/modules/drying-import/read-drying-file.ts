import { CsvError, parse } from 'csv-parse/sync';
import { convertDecimal, InputError, parseDecimal, parseUnit, type Unit } from '#libs/quantity';
import type { DryingImportMappingInput, ImportRowError } from '../../generated/schema.js';
import { parseMoment, type Moment } from '../../platform/graphql/moment.js';

export const MOST_BYTES = 5_000_000;
export const MOST_ROWS = 20_000;
/** Row errors told at once; the rest are counted. */
const MOST_ERRORS = 200;
const DELIMITERS = [',', ';', '\t', '|'] as const;
const MS_PER: Readonly<Record<string, number>> = { h: 3_600_000, min: 60_000, s: 1_000 };

export interface FileMass {
  readonly text: string;
  readonly massMg: string;
}

export interface FileRow {
  /** Line of the file, counted from 1. */
  readonly line: number;
  /** The line's text, as it stands in the file. */
  readonly raw: string;
  readonly moment: Moment;
  readonly mass: FileMass;
}

export interface FileDisc {
  readonly name: string;
  readonly rows: readonly FileRow[];
  readonly turgid: FileMass | null;
  readonly dry: FileMass | null;
}

export interface DryingFile {
  readonly delimiter: string;
  readonly columns: readonly string[];
  readonly rowCount: number;
  /** In order of first appearance; rows of each in order of time. */
  readonly discs: readonly FileDisc[];
  readonly errors: readonly ImportRowError[];
}

interface Line {
  readonly line: number;
  readonly raw: string;
  readonly cells: readonly string[];
}

/**
 * Reads a drying series from CSV or TSV text by a mapping. Bad rows are told one by one with their line; nothing is
 * guessed beyond the delimiter, and that only where the header leaves no doubt.
 *
 * @throws InputError where the file or the mapping as a whole is unusable
 */
export function readDryingFile(text: string, mapping: DryingImportMappingInput): DryingFile {
  if (text.length > MOST_BYTES) throw new InputError('TOO_LARGE', 'text', `has ${text.length} characters`, `Split the file: at most ${MOST_BYTES} are read at once.`);
  const lines = text.replace(/^\uFEFF/, '').split(/\r\n|\n|\r/);
  const delimiter = mapping.delimiter || findDelimiter(lines[0] ?? '');
  if (mapping.decimalComma && delimiter === ',') {
    throw new InputError('DELIMITER', 'mapping.delimiter', 'is a comma, and so is the decimal mark', 'Save the file with semicolons or tabs between columns.');
  }
  const [header, ...body] = split(lines, delimiter);
  if (!header || body.length === 0) throw new InputError('EMPTY', 'text', 'has no rows below its header', 'The first line names the columns, each further line is one weighing.');
  if (body.length > MOST_ROWS) throw new InputError('TOO_MANY_ROWS', 'text', `has ${body.length} rows`, `Split the file: at most ${MOST_ROWS} are imported at once.`);
  const columns = header.cells.map((cell) => cell.trim());
  const reader = new RowReader(mapping, columns);
  const discs = groupByDisc(body, reader);
  return { delimiter, columns, rowCount: body.length, discs, errors: reader.errors };
}

function findDelimiter(header: string): string {
  const present = DELIMITERS.filter((delimiter) => header.includes(delimiter));
  if (present.length === 1) return present[0]!;
  throw new InputError(
    'DELIMITER', 'mapping.delimiter',
    present.length === 0 ? 'could not be found: the header has no comma, semicolon, tab or bar' : `is not clear: the header has ${present.map((mark) => (mark === '\t' ? 'tab' : mark)).join(' and ')}`,
    'Choose the delimiter.',
  );
}

/** Cells of each line that has any. Quoted cells may span lines; the number is that of the first. */
function split(lines: readonly string[], delimiter: string): Line[] {
  try {
    const records = parse(lines.join('\n'), {
      delimiter, relax_column_count: true, skip_empty_lines: true, info: true, raw: true,
    }) as unknown as { raw: string; info: { lines: number }; record: string[] }[];
    return records.map(({ raw, info, record }) => {
      const own = raw.replace(/\n$/, '');
      return { line: info.lines - own.split('\n').length + 1, raw: own, cells: record };
    });
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    throw new InputError('NOT_CSV', 'text', `cannot be read as a table: ${error.message}`, 'Check the quotation marks of that line.');
  }
}

/** Reads the cells of one line by the mapping and keeps what is wrong with them. */
class RowReader {
  readonly errors: ImportRowError[] = [];
  private readonly disc: readonly number[];
  private readonly time: number;
  private readonly mass: number;
  private readonly turgid: number | null;
  private readonly dry: number | null;
  private readonly massUnit: Unit;
  private readonly start: Moment | null;

  constructor(
    private readonly mapping: DryingImportMappingInput,
    private readonly columns: readonly string[],
  ) {
    const repeated = columns.find((column, i) => columns.indexOf(column) !== i);
    if (repeated !== undefined) throw new InputError('REPEATED_COLUMN', 'text', `has the column "${repeated}" twice`, 'Give each column a name of its own.');
    this.disc = mapping.discColumn.split('+').map((name) => this.find('discColumn', name));
    this.time = this.find('timeColumn', mapping.timeColumn);
    this.mass = this.find('massColumn', mapping.massColumn);
    this.turgid = mapping.turgidMassColumn ? this.find('turgidMassColumn', mapping.turgidMassColumn) : null;
    this.dry = mapping.dryMassColumn ? this.find('dryMassColumn', mapping.dryMassColumn) : null;
    this.massUnit = parseUnit(mapping.massUnit, 'mapping.massUnit');
    if (!['mg', 'g', 'ug', 'kg'].includes(this.massUnit)) throw new InputError('WRONG_UNIT', 'mapping.massUnit', `${mapping.massUnit} is no unit of mass`, 'Choose mg, g or ug.');
    if (mapping.timeUnit !== 'moment' && !MS_PER[mapping.timeUnit]) {
      throw new InputError('WRONG_UNIT', 'mapping.timeUnit', `"${mapping.timeUnit}" is not known`, "Choose min, h, s or 'moment'.");
    }
    if (mapping.timeUnit !== 'moment' && !mapping.startAt) {
      throw new InputError('MISSING', 'mapping.startAt', 'is missing for elapsed times', 'Give the moment that they count from.');
    }
    this.start = mapping.startAt ? parseMoment('mapping.startAt', mapping.startAt) : null;
  }

  discOf({ cells }: Line): string {
    return this.disc.map((index) => (cells[index] ?? '').trim()).join(' ');
  }

  /** The row, or null after its errors were kept. */
  row(line: Line): FileRow | null {
    const before = this.errors.length;
    if (line.cells.length !== this.columns.length) {
      this.fail(line.line, null, `The line has ${line.cells.length} cells, the header ${this.columns.length}.`, 'Check the delimiter and quotation marks of this line.');
      return null;
    }
    if (!this.discOf(line)) this.fail(line.line, this.mapping.discColumn, 'No leaf or disc is named.', 'Name it in every row.');
    const moment = this.attempt(line, this.time, (cell) => this.moment(cell));
    const mass = this.attempt(line, this.mass, (cell) => this.readMass(cell));
    return this.errors.length === before ? { line: line.line, raw: line.raw, moment: moment!, mass: mass! } : null;
  }

  turgidOf(lines: readonly Line[]): FileMass | null {
    return this.constant(lines, this.turgid);
  }

  dryOf(lines: readonly Line[]): FileMass | null {
    return this.constant(lines, this.dry);
  }

  fail(line: number, column: string | null, message: string, remedy: string): void {
    if (this.errors.length < MOST_ERRORS) this.errors.push({ line, column, message, remedy });
  }

  /** A mass that is repeated in every row of a disc: the rows must agree. */
  private constant(lines: readonly Line[], index: number | null): FileMass | null {
    if (index === null) return null;
    const first = lines[0]!;
    const text = (first.cells[index] ?? '').trim();
    for (const line of lines) {
      if ((line.cells[index] ?? '').trim() !== text) {
        this.fail(line.line, this.columns[index]!, `${(line.cells[index] ?? '').trim()} differs from ${text} in line ${first.line} of the same disc.`, 'One disc has one turgid and one dry mass: correct the file, or name the discs apart.');
        return null;
      }
    }
    return text ? this.attempt(first, index, (cell) => this.readMass(cell)) : null;
  }

  private attempt<T>(line: Line, index: number, read: (cell: string) => T): T | null {
    try {
      return read((line.cells[index] ?? '').trim());
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      this.fail(line.line, this.columns[index]!, `${error.problem.charAt(0).toUpperCase()}${error.problem.slice(1)}.`, error.remedy);
      return null;
    }
  }

  private readMass(cell: string): FileMass {
    const { decimal, value } = parseDecimal(cell, { field: 'mass', decimalComma: this.mapping.decimalComma ?? false });
    if (value <= 0) throw new InputError('NOT_POSITIVE', 'mass', `${cell} is not above zero`, 'A mass is a number above zero.');
    return { text: cell, massMg: convertDecimal(decimal, this.massUnit, 'mg') };
  }

  private moment(cell: string): Moment {
    if (this.mapping.timeUnit !== 'moment') {
      const elapsed = parseDecimal(cell, { field: 'time', decimalComma: this.mapping.decimalComma ?? false }).value;
      return { at: new Date(this.start!.at.getTime() + Math.round(elapsed * MS_PER[this.mapping.timeUnit]!)), offsetMin: this.start!.offsetMin };
    }
    const full = cell.replace(/^(\d{4}-\d{2}-\d{2})[ T](\d{2}:\d{2})(:\d{2}(?:\.\d+)?)?/, (_, day: string, hour: string, second?: string) => `${day}T${hour}${second ?? ':00'}`);
    const hasOffset = /(Z|[+-]\d{2}:\d{2})$/.test(full);
    if (!hasOffset && !this.mapping.utcOffset) {
      throw new InputError('NO_OFFSET', 'time', `${cell} has no offset from UTC`, 'Give the offset of these times in the mapping, for example +02:00.');
    }
    return parseMoment('time', hasOffset ? full : `${full}${this.mapping.utcOffset}`);
  }

  private find(field: string, name: string): number {
    const index = this.columns.indexOf(name.trim());
    if (index < 0) throw new InputError('NO_SUCH_COLUMN', `mapping.${field}`, `the file has no column "${name.trim()}"`, `Choose one of: ${this.columns.join(', ')}.`);
    return index;
  }
}

function groupByDisc(body: readonly Line[], reader: RowReader): FileDisc[] {
  const lines = new Map<string, Line[]>();
  for (const line of body) {
    const name = reader.discOf(line);
    lines.set(name, [...(lines.get(name) ?? []), line]);
  }
  return [...lines].map(([name, own]) => {
    const rows = own.flatMap((line) => reader.row(line) ?? []).sort((a, b) => a.moment.at.getTime() - b.moment.at.getTime());
    rows.forEach((row, i) => {
      if (i > 0 && row.moment.at.getTime() === rows[i - 1]!.moment.at.getTime()) {
        reader.fail(row.line, null, `Two rows of ${name} have the same time (lines ${rows[i - 1]!.line} and ${row.line}).`, 'Remove one, or name the discs apart.');
      }
    });
    return { name, rows, turgid: reader.turgidOf(own), dry: reader.dryOf(own) };
  });
}
