import { decodeOrdinateLine, jcampError, lastDigit, OrdinateForm, OrdinateLine } from './ordinates.js';
import { JcampRecord } from './records.js';

export interface JcampTable {
  readonly kind: 'XYDATA' | 'XYPOINTS' | 'PEAK TABLE';
  /** n abscissae in XUNITS, in the order of the file */
  readonly x: readonly number[];
  /** n ordinates in YUNITS, y = ordinate × YFACTOR; NaN where the file marks one as lost */
  readonly y: readonly number[];
  /** n ordinates as written, before YFACTOR: without any loss */
  readonly ordinates: readonly number[];
  /** positions marked lost with `?` */
  readonly lost: readonly number[];
  readonly forms: readonly OrdinateForm[];
  /** how many y-checks stood in the table; all of them held */
  readonly yChecks: number;
  /** NPOINTS or LASTX states where the table ends; without either a cut end cannot be noticed */
  readonly endStated: boolean;
  readonly xUnits: string | null;
  readonly yUnits: string | null;
}

/** The records of one block, by label; a label given twice is refused where it is asked for. */
export interface Records {
  find(label: string): JcampRecord | undefined;
}

interface Numeric {
  readonly value: number;
  readonly digit: number;
  readonly line: number;
}

const isPlainNumber = (text: string): boolean =>
  /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?$/.test(text) && Number.isFinite(Number(text));

function numeric(records: Records, label: string): Numeric | undefined {
  const record = records.find(label);
  if (record === undefined) return undefined;
  const stray = record.body[0];
  if (stray !== undefined) throw jcampError('BAD_NUMBER', stray.line, `"${stray.text.trim().slice(0, 20)}" stands after ##${label}=, which is one number`, 'Check for lines that were moved or joined.');
  if (!isPlainNumber(record.value)) {
    throw jcampError('BAD_NUMBER', record.line, `##${label}= "${record.value}" is not a number`, 'Give a plain number.');
  }
  return { value: Number(record.value), digit: lastDigit(record.value), line: record.line };
}

function required(records: Records, label: string, table: JcampRecord): Numeric {
  const found = numeric(records, label);
  if (found === undefined) throw jcampError('RECORD_MISSING', table.line, `##${label}= is missing before this table`, `Add ##${label}=: without it the values cannot be told.`);
  return found;
}

function factor(records: Records, label: string, table: JcampRecord): number {
  const { value, line } = required(records, label, table);
  if (value === 0) throw jcampError('ZERO_FACTOR', line, `##${label}= is zero`, 'A factor must not be zero.');
  return value;
}

/**
 * Reads ##XYDATA= (X++(Y..Y)): decodes every line, enforces the y-check after each line that ends in a difference, the
 * x-check of each line's abscissa against FIRSTX + i·ΔX, FIRSTY, MAXY, MINY, DELTAX, LASTX and NPOINTS.
 *
 * @throws InputError JCAMP_Y_CHECK, JCAMP_X_CHECK, JCAMP_POINT_COUNT, JCAMP_FIRST_Y, JCAMP_EXTREME_Y, JCAMP_DELTA_X, JCAMP_LAST_X, JCAMP_RECORD_MISSING,
 *   JCAMP_FORM_UNKNOWN, JCAMP_EMPTY_TABLE, JCAMP_TOO_MANY_POINTS and those of `decodeOrdinateLine`
 */
export function readXyData(record: JcampRecord, records: Records): JcampTable {
  if (record.value.replace(/\s/g, '').toUpperCase() !== '(X++(Y..Y))') {
    throw jcampError('FORM_UNKNOWN', record.line, `##XYDATA= has the form "${record.value}"`, 'Only (X++(Y..Y)) is defined for it.');
  }
  const xFactor = factor(records, 'XFACTOR', record);
  const yFactor = factor(records, 'YFACTOR', record);
  const forms = new Set<OrdinateForm>();
  const { ordinates, starts, yChecks } = joinLines(record, forms);
  requireCount(records, ordinates.length, record);
  const scale = abscissae(records, record, ordinates.length);
  for (const start of starts) checkAbscissa(start, xFactor, scale);
  const y = ordinates.map((ordinate) => ordinate * yFactor);
  checkFirstY(records, y[0]!, yFactor);
  checkExtremes(records, y, yFactor);
  return {
    kind: 'XYDATA', x: ordinates.map((_, i) => scale.at(i)), y, ordinates,
    lost: lostOnes(ordinates), forms: [...forms].sort(), yChecks, endStated: endStated(records), ...units(records),
  };
}

interface LineStart extends Pick<OrdinateLine, 'x' | 'xDigit'> {
  readonly line: number;
  /** position of the line's first ordinate in the whole table */
  readonly index: number;
  /** the line begins by repeating the ordinate before it */
  readonly repeats: boolean;
}

/** Ten times a very fine spectrum: what lies above is damage. */
const MOST_POINTS = 10_000_000;

function joinLines(record: JcampRecord, forms: Set<OrdinateForm>): { ordinates: number[]; starts: LineStart[]; yChecks: number } {
  const ordinates: number[] = [];
  const starts: LineStart[] = [];
  let yChecks = 0;
  let owesCheck = false;
  for (const { text, line } of record.body) {
    const decoded = decodeOrdinateLine(text, line, forms);
    const [first, ...rest] = decoded.ordinates;
    if (owesCheck) {
      const before = ordinates.at(-1)!;
      // Sums of whole ordinates are exact; only fractions may differ in the last bits.
      if (!(Math.abs(first! - before) <= 1e-9 * Math.max(1, Math.abs(before)))) {
        throw jcampError('Y_CHECK', line, `the line begins with ${first} and the one before ended at ${before}`, 'A difference or a line was lost or damaged: get the file again from its source.');
      }
      yChecks += 1;
    }
    starts.push({ x: decoded.x, xDigit: decoded.xDigit, line, index: ordinates.length - (owesCheck ? 1 : 0), repeats: owesCheck });
    for (const ordinate of owesCheck ? rest : decoded.ordinates) ordinates.push(ordinate);
    if (ordinates.length > MOST_POINTS) throw jcampError('TOO_MANY_POINTS', line, `the table passes ${MOST_POINTS} points here`, 'Check the file for damage, or split it.');
    // A line that only carries the check of the one before owes nothing itself.
    owesCheck = decoded.endsInDifference;
  }
  if (ordinates.length === 0) throw jcampError('EMPTY_TABLE', record.line, 'the table has no data line', 'Check that the file was not cut off.');
  return { ordinates, starts, yChecks };
}

interface AbscissaScale {
  readonly at: (i: number) => number;
  readonly step: number;
}

function abscissae(records: Records, record: JcampRecord, n: number): AbscissaScale {
  const first = required(records, 'FIRSTX', record).value;
  const last = numeric(records, 'LASTX');
  const delta = numeric(records, 'DELTAX');
  if (last === undefined && delta === undefined) {
    throw jcampError('RECORD_MISSING', record.line, 'neither ##LASTX= nor ##DELTAX= is given', 'Add ##LASTX=: without it the abscissae cannot be told.');
  }
  if (last !== undefined && numeric(records, 'NPOINTS') !== undefined && n > 1) {
    checkDelta(delta, (last.value - first) / (n - 1));
    return { step: (last.value - first) / (n - 1), at: (i) => (i === n - 1 ? last.value : first + ((last.value - first) * i) / (n - 1)) };
  }
  const step = delta?.value ?? (n > 1 ? (last!.value - first) / (n - 1) : 0);
  const end = first + step * (n - 1);
  if (last !== undefined && Math.abs(end - last.value) > 0.5 * Math.abs(step) + last.digit) {
    throw jcampError('LAST_X', last.line, `##LASTX= is ${last.value}, but ${n} points from ${first} end at ${end}`, 'Points were lost, or the header belongs to other data.');
  }
  return { step, at: (i) => first + step * i };
}

/**
 * The printed abscissa may be off by rounding: half its last digit, or a whole one where that is coarser than a step,
 * since some writers cut instead of rounding; a quarter step covers a rounded FIRSTX. A line that begins with a y-check
 * may carry the abscissa of that repeated ordinate or of the first new one: both are written.
 */
function checkAbscissa(start: LineStart, xFactor: number, { at, step }: AbscissaScale): void {
  const printed = start.x * xFactor;
  const digit = start.xDigit * Math.abs(xFactor);
  const slack = (digit > Math.abs(step) * 1.001 ? 1 : 0.5) * digit + 0.25 * Math.abs(step);
  const candidates = start.repeats ? [start.index, start.index + 1] : [start.index];
  if (candidates.some((i) => Math.abs(printed - at(i)) <= slack)) return;
  throw jcampError(
    'X_CHECK', start.line, `the line's abscissa is ${printed}, but point ${start.index + 1} lies at ${at(start.index)}`,
    'Points or lines were lost or doubled before this line: get the file again from its source.',
  );
}

function requireCount(records: Records, n: number, record: JcampRecord): void {
  const count = numeric(records, 'NPOINTS');
  if (count !== undefined && count.value !== n) {
    throw jcampError('POINT_COUNT', record.line, `##NPOINTS= says ${count.value} and the table has ${n}`, 'Points were lost or doubled: get the file again from its source.');
  }
}

function checkFirstY(records: Records, y0: number, yFactor: number): void {
  const first = numeric(records, 'FIRSTY');
  if (first === undefined || Number.isNaN(y0)) return;
  if (Math.abs(first.value - y0) > Math.abs(yFactor) + 0.5 * first.digit + 1e-6 * Math.abs(y0)) {
    throw jcampError('FIRST_Y', first.line, `##FIRSTY= is ${first.value} and the table begins with ${y0}`, 'The header belongs to other data, or ##YFACTOR= is wrong.');
  }
}

/** ##DELTAX= beside FIRSTX, LASTX and NPOINTS says the same again: half its last digit of rounding, a whole one where writers cut. */
function checkDelta(delta: Numeric | undefined, step: number): void {
  if (delta === undefined || Math.abs(delta.value - step) <= delta.digit + 1e-6 * Math.abs(step)) return;
  throw jcampError('DELTA_X', delta.line, `##DELTAX= is ${delta.value}, but FIRSTX, LASTX and NPOINTS give steps of ${step}`, 'Points were lost, or the header belongs to other data.');
}

/** ##MAXY= and ##MINY= against the table's own, lost ordinates left aside. */
function checkExtremes(records: Records, y: readonly number[], yFactor: number): void {
  const known = y.filter((value) => !Number.isNaN(value));
  if (known.length === 0) return;
  for (const [label, own] of [['MAXY', known.reduce((a, b) => Math.max(a, b))], ['MINY', known.reduce((a, b) => Math.min(a, b))]] as const) {
    const stated = numeric(records, label);
    if (stated === undefined || Math.abs(stated.value - own) <= Math.abs(yFactor) + stated.digit + 1e-6 * Math.abs(own)) continue;
    throw jcampError('EXTREME_Y', stated.line, `##${label}= is ${stated.value} and the table's own is ${own}`, 'An ordinate was damaged, or the header belongs to other data.');
  }
}

/**
 * Reads ##XYPOINTS= or ##PEAK TABLE= (XY..XY): pairs in AFFN, one or more to a line, x and y parted by a comma or blank,
 * pairs by a semicolon or blank. XFACTOR and YFACTOR are applied where given; these forms do not demand them.
 *
 * @throws InputError JCAMP_FORM_UNKNOWN, JCAMP_BAD_PAIR, JCAMP_POINT_COUNT, JCAMP_EXTREME_Y, JCAMP_EMPTY_TABLE
 */
export function readPairs(kind: 'XYPOINTS' | 'PEAK TABLE', record: JcampRecord, records: Records): JcampTable {
  if (record.value.replace(/\s/g, '').toUpperCase() !== '(XY..XY)') {
    throw jcampError('FORM_UNKNOWN', record.line, `##${kind}= has the form "${record.value}"`, 'Only (XY..XY) is read here.');
  }
  const xFactor = numeric(records, 'XFACTOR') === undefined ? 1 : factor(records, 'XFACTOR', record);
  const yFactor = numeric(records, 'YFACTOR') === undefined ? 1 : factor(records, 'YFACTOR', record);
  const pairs = record.body.flatMap(({ text, line }) => {
    const numbers = text.trim().split(/[\s,;]+/).filter((part) => part !== '').map((part) => {
      if (part === '?') return NaN;
      if (!isPlainNumber(part)) {
        throw jcampError('BAD_PAIR', line, `"${part}" is not a number`, 'Write pairs of plain numbers.');
      }
      return Number(part);
    });
    if (numbers.length % 2 !== 0 || numbers.some((value, i) => i % 2 === 0 && Number.isNaN(value))) {
      throw jcampError('BAD_PAIR', line, `${numbers.length} numbers do not make pairs of x and y`, 'Check that the line was not cut off.');
    }
    return Array.from({ length: numbers.length / 2 }, (_, i) => [numbers[2 * i]!, numbers[2 * i + 1]!] as const);
  });
  if (pairs.length === 0) throw jcampError('EMPTY_TABLE', record.line, 'the table has no data line', 'Check that the file was not cut off.');
  requireCount(records, pairs.length, record);
  const ordinates = pairs.map(([, y]) => y);
  checkExtremes(records, ordinates.map((y) => y * yFactor), 0);
  return {
    kind, x: pairs.map(([x]) => x * xFactor), y: ordinates.map((y) => y * yFactor), ordinates,
    lost: lostOnes(ordinates), forms: ['AFFN'], yChecks: 0, endStated: endStated(records), ...units(records),
  };
}

const lostOnes = (ordinates: readonly number[]): number[] => ordinates.flatMap((value, i) => (Number.isNaN(value) ? [i] : []));

const endStated = (records: Records): boolean => records.find('NPOINTS') !== undefined || records.find('LASTX') !== undefined;

const units = (records: Records) => ({ xUnits: records.find('XUNITS')?.value ?? null, yUnits: records.find('YUNITS')?.value ?? null });
