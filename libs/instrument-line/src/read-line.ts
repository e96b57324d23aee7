import { convertDecimal, InputError, isUnit, parseDecimal, parseUnit, UNITS, type Decimal, type Unit } from '#libs/quantity';
import { LINE_MOST, partsOf, type LineFormat, type Part } from './line-format.js';

/** What a line says, read by the format of its instrument. */
export interface LineValue {
  /** The number as the instrument wrote it, sign and digits without the space between. */
  readonly valueText: string;
  readonly decimal: Decimal;
  readonly unit: Unit;
  /** The load is told as net (a tare is taken off) or gross; null where the line does not say. */
  readonly load: 'NET' | 'GROSS' | null;
  /** The display shows nothing: an empty pan, or one just tared. */
  readonly zero: boolean;
}

/** stable: may be taken. moving: shown, never taken. unread: not a line of this format, and why. */
export type LineRead =
  | (LineValue & { readonly outcome: 'stable' | 'moving' })
  | { readonly outcome: 'unread'; readonly why: string };

/** Where each part of the pattern was found: what a screen marks in the line. */
interface Found {
  readonly value: string;
  readonly unit: string;
  readonly mark: string;
  readonly load: string;
}

const unread = (why: string): LineRead => ({ outcome: 'unread', why });

const NUMBER = /[+\-\u2212]?[ \t]*(?:\d{1,20}(?:[.,]\d{0,20})?|[.,]\d{1,20})(?:[eE][+-]?\d{1,3})?/y;
const UNIT = /[\p{L}°%]{1,12}/uy;
const WORD = /\S+/y;
/** Anything a terminal cannot print counts as a space: some instruments frame their lines with such characters. */
const SPACE = /[\s\p{Cc}\u2400-\u2421]*/uy;

function endsOf(part: Part, line: string, at: number, format: LineFormat): readonly number[] {
  const span = (form: RegExp): readonly number[] => {
    form.lastIndex = at;
    const match = form.exec(line);
    return match ? [at + match[0].length] : [];
  };
  const oneOf = (words: readonly string[]): readonly number[] =>
    [...words].sort((a, b) => b.length - a.length).filter((word) => line.startsWith(word, at)).map((word) => at + word.length);
  switch (part.kind) {
    case 'text': return line.startsWith(part.text, at) ? [at + part.text.length] : [];
    case 'space': return span(SPACE);
    case 'value': return span(NUMBER);
    case 'unit': return [...span(UNIT), at];
    case 'mark': return [...oneOf([...format.stableMarks, ...format.movingMarks]), at];
    case 'load': return [...oneOf([...format.netMarks, ...format.grossMarks]), at];
    case 'word': return span(WORD);
    case 'any': return Array.from({ length: line.length - at + 1 }, (_, length) => at + length);
  }
}

/**
 * Finds the parts of a line, the first way that fits. Each pair of part and place is tried once, so that the time is bound by
 * parts × length², whatever the pattern: there is nothing to backtrack into without end.
 */
function find(parts: readonly Part[], line: string, format: LineFormat): Found | null {
  const failed = new Set<number>();
  const places: (readonly [number, number])[] = [];
  const fits = (index: number, at: number): boolean => {
    const part = parts[index];
    if (!part) return restIsBlank(line, at);
    const key = index * (LINE_MOST + 1) + at;
    if (failed.has(key)) return false;
    for (const end of endsOf(part, line, at, format)) {
      places[index] = [at, end];
      if (fits(index + 1, end)) return true;
    }
    failed.add(key);
    return false;
  };
  SPACE.lastIndex = 0;
  const start = SPACE.exec(line)?.[0].length ?? 0;
  // A pattern may begin with what looks like white space here, such as a framing character: try both.
  if (!fits(0, start) && !(start > 0 && fits(0, 0))) return null;
  const textOf = (kind: Part['kind']): string => {
    const index = parts.findIndex((part) => part.kind === kind);
    return index < 0 ? '' : line.slice(...places[index]!);
  };
  return { value: textOf('value'), unit: textOf('unit'), mark: textOf('mark'), load: textOf('load') };
}

function restIsBlank(line: string, at: number): boolean {
  SPACE.lastIndex = at;
  return at + (SPACE.exec(line)?.[0].length ?? 0) === line.length;
}

function unitOf(written: string, format: LineFormat): Unit {
  if (written === '') return format.unit;
  return format.unitWords.find((word) => word.written === written)?.unit ?? parseUnit(written);
}

/**
 * Reads one line by the format of its instrument; never throws for what a line says.
 *
 * @param line without its terminator
 * @throws InputError only for a format that {@link requireLineFormat} refuses
 * @example
 * const format = { pattern: '{mark},{value} {unit}', stableMarks: ['ST'], movingMarks: ['US'], netMarks: [], grossMarks: [], decimalMark: 'POINT', unit: 'mg', unitWords: [], unitOnlyWhenStable: false };
 * readLine('ST,+   60.30 mg', format) // => { outcome: 'stable', valueText: '+60.30', decimal: '60.3', unit: 'mg', load: null, zero: false }
 */
export function readLine(line: string, format: LineFormat): LineRead {
  const parts = partsOf(format.pattern);
  if (line.length > LINE_MOST) return unread(`The line has ${line.length} characters; at most ${LINE_MOST} are read. Look at the terminator.`);
  if (restIsBlank(line, 0)) return unread('The line is empty.');
  const found = find(parts, line, format);
  if (!found) return unread(whyNot(parts, line, format));
  return valueOf(found, parts, format);
}

function valueOf(found: Found, parts: readonly Part[], format: LineFormat): LineRead {
  const valueText = found.value.replace(/[ \t]+/g, '');
  try {
    const { decimal } = parseDecimal(valueText, format.decimalMark === 'EITHER' ? {} : { decimalComma: format.decimalMark === 'COMMA' });
    const unit = unitOf(found.unit, format);
    if (UNITS[unit].dimension !== UNITS[format.unit].dimension) {
      return unread(`The unit "${found.unit}" is one of ${UNITS[unit].dimension}; this instrument shows ${UNITS[format.unit].dimension}.`);
    }
    const hasMark = parts.some(({ kind }) => kind === 'mark');
    const marked = format.stableMarks.length > 0 ? format.stableMarks.includes(found.mark) : found.mark === '';
    const settled = (!hasMark || marked) && !(format.unitOnlyWhenStable && found.unit === '');
    const load = found.load === '' ? null : format.netMarks.includes(found.load) ? 'NET' : 'GROSS';
    return { outcome: settled ? 'stable' : 'moving', valueText, decimal, unit, load, zero: decimal === '0' };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return unread(`${error.problem.charAt(0).toUpperCase()}${error.problem.slice(1)}.`);
  }
}

/** How far the line went along with the pattern: the longest beginning of it that fits. */
function whyNot(parts: readonly Part[], line: string, format: LineFormat): string {
  for (let most = parts.length; most > 0; most -= 1) {
    if (!find([...parts.slice(0, most), { kind: 'any' }], line, format)) continue;
    const wanted = parts[most];
    return wanted ? `It fits up to ${spelled(parts[most - 1]!)}; then ${spelled(wanted)} is expected.` : 'It goes on after the end of the pattern. Put {any} there if what follows does not matter.';
  }
  return `It does not begin with ${spelled(parts[0]!)}.`;
}

const spelled = (part: Part): string => (part.kind === 'text' ? `"${part.text}"` : part.kind === 'space' ? 'a space' : `{${part.kind}}`);

/**
 * What a line says in another unit of the same dimension, exactly.
 * @example
 * valueIn({ decimal: '0.0603', unit: 'g' }, 'mg') // => '60.3'
 */
export const valueIn = ({ decimal, unit }: Pick<LineValue, 'decimal' | 'unit'>, other: Unit): Decimal =>
  isUnit(other) ? convertDecimal(decimal, unit, other) : convertDecimal(decimal, unit, parseUnit(other));
