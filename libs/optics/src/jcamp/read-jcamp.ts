import { raise } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import { Spectrum } from '../spectrum.js';
import { jcampError } from './ordinates.js';
import { JcampRecord, splitRecords } from './records.js';
import { JcampTable, readPairs, readXyData, Records } from './table.js';

/** One block, ##TITLE= to ##END=; a LINK block holds others. */
export interface JcampBlock {
  readonly title: string;
  readonly dataType: string | null;
  /** line of ##TITLE=, counted from 1 */
  readonly line: number;
  /** every record of the block but its tables, by compared label; a record over several lines keeps them */
  readonly records: ReadonlyMap<string, string>;
  readonly table: JcampTable | null;
  readonly blocks: readonly JcampBlock[];
}

interface OpenBlock {
  readonly title: JcampRecord;
  readonly own: JcampRecord[];
  readonly blocks: JcampBlock[];
}

const UNREAD = new Set(['NTUPLES', 'PAGE', 'DATATABLE', 'RADATA', 'PEAKASSIGNMENTS']);

/**
 * Reads a JCAMP-DX 4.24 file: simple, several blocks in a row, or nested blocks (LINK). Tables: XYDATA in AFFN, PAC, SQZ,
 * DIF and DUP form, XYPOINTS, PEAK TABLE. What the file checks about itself is enforced: y-checks, x-checks, NPOINTS,
 * FIRSTY, LASTX, BLOCKS. A broken file is refused with the line number; no part of it is dropped in silence.
 *
 * Source: McDonald & Wilks, Appl. Spectrosc. 42 (1988) 151-162.
 *
 * @returns the outermost blocks in the order of the file
 * @throws InputError JCAMP_… naming the line
 * @example
 * const [block] = readJcamp('##TITLE= leaf\n##XUNITS= NANOMETERS\n##NPOINTS= 2\n##XYPOINTS= (XY..XY)\n1400, 0.2; 1500, 0.4\n##END=');
 * block.table.y // => [0.2, 0.4]
 */
export function readJcamp(text: string): JcampBlock[] {
  const outer: JcampBlock[] = [];
  const open: OpenBlock[] = [];
  for (const record of splitRecords(text)) {
    const inner = open.at(-1);
    if (record.label === 'TITLE') {
      open.push({ title: record, own: [], blocks: [] });
    } else if (inner === undefined) {
      throw jcampError('TEXT_BEFORE_RECORD', record.line, `##${record.label}= stands outside any block`, 'A block begins with ##TITLE= and ends with ##END=.');
    } else if (record.label === 'END') {
      const stray = record.body[0];
      if (stray !== undefined) throw jcampError('TEXT_AFTER_END', stray.line, `"${stray.text.trim().slice(0, 20)}" stands after ##END=`, 'Only ##TITLE= or another ##END= may follow: check for lines that were moved or joined.');
      open.pop();
      (open.at(-1)?.blocks ?? outer).push(closeBlock(inner));
    } else {
      inner.own.push(record);
    }
  }
  const unclosed = open.at(-1);
  if (unclosed !== undefined) {
    throw jcampError('NO_END', unclosed.title.line, `the block "${unclosed.title.value}" has no ##END=`, 'The file was cut off: get it again from its source.');
  }
  return outer;
}

function closeBlock({ title, own, blocks }: OpenBlock): JcampBlock {
  const byLabel = new Map<string, JcampRecord>();
  for (const record of own) {
    const known = byLabel.get(record.label);
    if (known !== undefined && !record.label.startsWith('$')) {
      throw jcampError('RECORD_TWICE', record.line, `##${record.label}= was given on line ${known.line} already`, 'Keep the one that is right.');
    }
    byLabel.set(record.label, record);
    if (UNREAD.has(record.label)) {
      throw jcampError('NOT_READ', record.line, `##${record.label}= is not part of what is read here`, 'Export the spectrum as XYDATA or XYPOINTS.');
    }
  }
  requireBlockCount(byLabel.get('BLOCKS'), blocks.length);
  const table = readTable({ find: (label) => byLabel.get(label) }, own);
  const records = new Map(own
    .filter((record) => !TABLE_LABELS.has(record.label))
    .map((record) => [record.label, [record.value, ...record.body.map((line) => line.text)].filter((part) => part !== '').join('\n')]));
  return { title: [title.value, ...title.body.map((line) => line.text.trim())].join(' ').trim(), dataType: byLabel.get('DATATYPE')?.value ?? null, line: title.line, records, table, blocks };
}

const TABLE_LABELS: ReadonlySet<string> = new Set(['XYDATA', 'XYPOINTS', 'PEAKTABLE']);

function readTable(records: Records, own: readonly JcampRecord[]): JcampTable | null {
  const [record, second] = own.filter(({ label }) => TABLE_LABELS.has(label));
  if (record === undefined) return null;
  if (second !== undefined) {
    throw jcampError('TWO_TABLES', second.line, `##${second.label}= is the second table of this block`, 'Give each table a block of its own.');
  }
  if (record.label === 'XYDATA') return readXyData(record, records);
  return readPairs(record.label === 'XYPOINTS' ? 'XYPOINTS' : 'PEAK TABLE', record, records);
}

/** Writers count the LINK block itself in or leave it out: either is taken, anything else means a lost block. */
function requireBlockCount(record: JcampRecord | undefined, inner: number): void {
  if (record === undefined) return;
  const count = Number(record.value);
  if (count !== inner && count !== inner + 1) {
    throw jcampError('BLOCK_COUNT', record.line, `##BLOCKS= says ${record.value} and there are ${inner}`, 'A block was lost or doubled: get the file again from its source.');
  }
}

/** How an abscissa becomes a wavelength in nm, by the unit as JCAMP-DX names it. */
const TO_NM: Readonly<Record<string, (x: number) => number>> = {
  NANOMETERS: (x) => x,
  MICROMETERS: (x) => x * 1000,
  '1/CM': (x) => 1e7 / x,
};

/**
 * A table as a spectrum over rising wavelengths. Transmittance stays as it is, ABSORBANCE A becomes 10^(−A); other units
 * of y are passed on for the caller to know.
 *
 * @throws InputError JCAMP_UNITS_UNKNOWN, JCAMP_LOST_POINTS, JCAMP_NOT_POSITIVE_X
 * @example
 * const [block] = readJcamp('##TITLE= leaf\n##XUNITS= MICROMETERS\n##YUNITS= ABSORBANCE\n##XYPOINTS= (XY..XY)\n1.5 1\n1.4 0\n##END=');
 * jcampSpectrum(block.table).spectrum // => { wavelengthNm: [1400, 1500], values: [1, 0.1] }
 */
export function jcampSpectrum(table: JcampTable): { readonly spectrum: Spectrum; readonly yUnits: string | null } {
  const unit = (table.xUnits ?? '').toUpperCase().replace(/\s/g, '');
  const toNm = Object.hasOwn(TO_NM, unit) ? TO_NM[unit] : undefined;
  if (toNm === undefined) {
    throw new InputError('JCAMP_UNITS_UNKNOWN', 'xUnits', `"${table.xUnits ?? ''}" is no unit of wavelength or wavenumber`, `Give ##XUNITS= as one of ${Object.keys(TO_NM).join(', ')}.`);
  }
  if (table.lost.length > 0) {
    throw new InputError('JCAMP_LOST_POINTS', `y[${table.lost[0]}]`, `${table.lost.length} points are marked lost in the file`, 'Measure again, or remove the points and say so.');
  }
  const bad = table.x.findIndex((x) => !(x > 0));
  if (bad >= 0) throw new InputError('JCAMP_NOT_POSITIVE_X', `x[${bad}]`, `${table.x[bad]} is no wavelength`, 'Check FIRSTX, LASTX and XUNITS.');
  const absorbance = (table.yUnits ?? '').trim().toUpperCase() === 'ABSORBANCE';
  const points = table.x
    .map((x, i) => [toNm(x), absorbance ? raise(10, -table.y[i]!) : table.y[i]!] as const)
    .sort(([a], [b]) => a - b);
  return { spectrum: { wavelengthNm: points.map(([nm]) => nm), values: points.map(([, value]) => value) }, yUnits: absorbance ? 'TRANSMITTANCE' : table.yUnits };
}
