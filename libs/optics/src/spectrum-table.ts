import { InputError, parseDecimal } from '#libs/quantity';
import { Spectrum } from './spectrum.js';

export interface SpectrumTableOptions {
  /** unit of the first column */
  readonly wavelengthUnit: 'nm' | 'um';
  /** unit of the others: `%` is turned into fractions, `1` is taken as it is */
  readonly valueUnit: '1' | '%';
  /** left out: tab, semicolon or comma, whichever the first row of numbers has, in this order */
  readonly delimiter?: '\t' | ';' | ',';
  /** the decimal mark is a comma; default false */
  readonly decimalComma?: boolean;
}

export interface NamedSpectrum {
  /** heading of its column, or `column 2` and so on where there is none */
  readonly name: string;
  readonly spectrum: Spectrum;
}

export interface SpectrumTable {
  readonly spectra: readonly NamedSpectrum[];
  /** lines above the column headings, as they stand */
  readonly preamble: readonly string[];
  /** the rows fell in wavelength and were turned round */
  readonly reversed: boolean;
}

interface Row {
  readonly line: number;
  readonly cells: readonly string[];
}

/**
 * Reads spectra from delimited text: wavelengths in the first column, a spectrum in each further one. Lines above the
 * first row of numbers are preamble, the last of them the headings if it has as many cells. Empty lines and lines that
 * begin with `#` are left out. Every row must be complete: a gap is refused with its line, not filled.
 *
 * @throws InputError NO_DATA, ROW_LENGTH, UNSORTED_WAVELENGTHS, WRONG_DELIMITER and those of `parseDecimal`, naming line and column
 * @example
 * const table = readSpectrumTable('nm;leaf\n1400;12,5\n1500;30', { wavelengthUnit: 'nm', valueUnit: '%', decimalComma: true });
 * table.spectra[0] // => { name: 'leaf', spectrum: { wavelengthNm: [1400, 1500], values: [0.125, 0.3] } }
 */
export function readSpectrumTable(text: string, options: SpectrumTableOptions): SpectrumTable {
  const lines = text.replace(/^\ufeff/, '').split(/\r\n|\n|\r/)
    .map((content, i) => ({ line: i + 1, content }))
    .filter(({ content }) => content.trim() !== '' && !content.startsWith('#'));
  const decimalComma = options.decimalComma ?? false;
  const start = lines.findIndex(({ content }) => /^\s*"?[+-]?[.,]?\d/.test(content) && /[\t;,]/.test(content));
  if (start < 0) {
    throw new InputError('NO_DATA', 'text', 'no line has a wavelength and a value', 'Export the spectrum with a wavelength in the first column.');
  }
  const delimiter = options.delimiter ?? (['\t', ';', ','] as const).find((mark) => lines[start]!.content.includes(mark))!;
  if (decimalComma && delimiter === ',') {
    throw new InputError('WRONG_DELIMITER', 'delimiter', 'the comma cannot part columns and mark decimals at once', 'Export with a semicolon or tab between columns.');
  }
  const split = (content: string): string[] => content.split(delimiter).map((cell) => cell.trim().replace(/^"(.*)"$/, '$1'));
  const rows = lines.slice(start).map(({ line, content }): Row => ({ line, cells: split(content) }));
  const width = rows[0]!.cells.length;
  const heading = start > 0 ? split(lines[start - 1]!.content) : [];
  const titled = heading.length === width;
  const read = readColumns(rows, width, options, decimalComma);
  return {
    reversed: read.reversed,
    preamble: lines.slice(0, titled ? start - 1 : start).map(({ content }) => content),
    spectra: read.columns.map((values, i) => ({
      name: titled && heading[i + 1] !== '' ? heading[i + 1]! : `column ${i + 2}`,
      spectrum: { wavelengthNm: read.wavelengthNm, values },
    })),
  };
}

/** Moving the point on the exact decimal keeps 12.5 % at 0.125 and not a rounding beside it. */
const toNumber = (cell: string, powerOfTen: number, decimalComma: boolean, field: string): number =>
  Number(`${parseDecimal(cell, { decimalComma, field }).decimal}e${powerOfTen}`);

function readColumns(rows: readonly Row[], width: number, { wavelengthUnit, valueUnit }: SpectrumTableOptions, decimalComma: boolean) {
  if (rows.length < 2) {
    throw new InputError('NO_DATA', `line ${rows[0]!.line}`, 'one row makes no spectrum', 'Export at least two wavelengths.');
  }
  const numbers = rows.map(({ line, cells }) => {
    if (cells.length !== width) {
      throw new InputError('ROW_LENGTH', `line ${line}`, `the row has ${cells.length} columns and the first had ${width}`, 'Complete or remove the row; check the delimiter and the decimal mark.');
    }
    return cells.map((cell, column) => toNumber(cell, column === 0 ? (wavelengthUnit === 'um' ? 3 : 0) : valueUnit === '%' ? -2 : 0, decimalComma, `line ${line}, column ${column + 1}`));
  });
  const reversed = numbers[1]![0]! < numbers[0]![0]!;
  numbers.forEach(([nm], i) => {
    const before = numbers[i - 1]?.[0];
    if (before !== undefined && (reversed ? nm! >= before : nm! <= before)) {
      throw new InputError('UNSORTED_WAVELENGTHS', `line ${rows[i]!.line}`, `${nm} nm does not go on from ${before} nm`, 'Give the wavelengths rising or falling throughout, each once.');
    }
  });
  const ordered = reversed ? numbers.toReversed() : numbers;
  return {
    reversed,
    wavelengthNm: ordered.map((row) => row[0]!),
    columns: Array.from({ length: width - 1 }, (_, i) => ordered.map((row) => row[i + 1]!)),
  };
}
