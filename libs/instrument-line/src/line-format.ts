import { InputError, isUnit, type Unit } from '#libs/quantity';

/** Longest line that is read; a longer one is noise or a wrong terminator. */
export const LINE_MOST = 200;
const PATTERN_MOST = 200;
const PARTS_MOST = 24;
const MARKS_MOST = 12;
const MARK_MOST = 16;

export type DecimalMark = 'POINT' | 'COMMA' | 'EITHER';

/** A word that an instrument writes for a unit, such as `grm` for `g`. */
export interface UnitWord {
  readonly written: string;
  readonly unit: Unit;
}

/**
 * How one instrument writes a line.
 *
 * The pattern is the line as it looks, with a name in braces where its parts stand: `{mark},{value} {unit}`. A space stands
 * for any white space, also none. The parts:
 *
 * - `{value}` the number, with its sign; spaces may stand between the two
 * - `{unit}` letters, `µ`, `°`, `%`; left out where the instrument writes none
 * - `{mark}` one of the stable or moving marks; it may be absent
 * - `{load}` one of the net or gross marks; it may be absent
 * - `{word}` characters that are no white space
 * - `{any}` whatever stands there
 */
export interface LineFormat {
  readonly pattern: string;
  /** A line is stable when it has one of these; where there are none, when it has no moving mark. */
  readonly stableMarks: readonly string[];
  readonly movingMarks: readonly string[];
  readonly netMarks: readonly string[];
  readonly grossMarks: readonly string[];
  readonly decimalMark: DecimalMark;
  /** The unit of a line that names none. */
  readonly unit: Unit;
  readonly unitWords: readonly UnitWord[];
  /** Many instruments leave the unit out until the value has settled: a line without one is then moving. */
  readonly unitOnlyWhenStable: boolean;
}

export type Part =
  | { readonly kind: 'text'; readonly text: string }
  | { readonly kind: 'space' | 'value' | 'unit' | 'mark' | 'load' | 'word' | 'any' };

const NAMES = ['value', 'unit', 'mark', 'load', 'word', 'any'] as const;
const ONCE = ['value', 'unit', 'mark', 'load'];

const refuse = (code: string, field: string, problem: string, remedy: string): never => {
  throw new InputError(code, field, problem, remedy);
};

/**
 * Takes a pattern apart.
 *
 * @throws InputError `PATTERN_LONG`, `PATTERN_EMPTY`, `UNKNOWN_PART`, `PART_TWICE`, `NO_VALUE`
 * @example
 * partsOf('{mark},{value} {unit}').map(({ kind }) => kind).join(' ') // => 'mark text value space unit'
 */
export function partsOf(pattern: string): readonly Part[] {
  const field = 'pattern';
  if (pattern.trim() === '') refuse('PATTERN_EMPTY', field, 'is empty', 'Write the line as it looks, with {value} where the number stands.');
  if (pattern.length > PATTERN_MOST) refuse('PATTERN_LONG', field, `has ${pattern.length} characters`, `Use at most ${PATTERN_MOST}; {any} stands for the rest of a line.`);
  const parts: Part[] = [];
  for (const [piece, name, space] of pattern.trim().matchAll(/\{([^{}]*)\}|(\s+)|[^\s{]+|\{/g)) {
    if (space !== undefined) parts.push({ kind: 'space' });
    else if (name === undefined) parts.push({ kind: 'text', text: piece });
    else {
      const kind = NAMES.find((known) => known === name.trim());
      if (!kind) return refuse('UNKNOWN_PART', field, `has no part "{${name}}"`, `Use ${NAMES.map((known) => `{${known}}`).join(', ')}.`);
      if (ONCE.includes(kind) && parts.some((part) => part.kind === kind)) refuse('PART_TWICE', field, `has {${kind}} twice`, 'Use it once; {any} skips a second one.');
      parts.push({ kind });
    }
  }
  if (!parts.some(({ kind }) => kind === 'value')) refuse('NO_VALUE', field, 'has no {value}', 'Put {value} where the number stands.');
  if (parts.length > PARTS_MOST) refuse('PATTERN_LONG', field, `has ${parts.length} parts`, `Use at most ${PARTS_MOST}.`);
  return parts;
}

function requireMarks(field: string, marks: readonly string[]): void {
  if (marks.length > MARKS_MOST) refuse('MARKS_MANY', field, `has ${marks.length} marks`, `Give at most ${MARKS_MOST}.`);
  const bad = marks.find((mark) => mark.trim() === '' || mark.length > MARK_MOST);
  if (bad !== undefined) refuse('MARK_FORM', field, `"${bad}" is no mark`, `A mark has 1 to ${MARK_MOST} characters.`);
}

/**
 * Gives the format back when a line can be read by it.
 *
 * @throws InputError as {@link partsOf}; `MARKS_MANY`, `MARK_FORM`, `MARK_TWICE`, `MARKS_MISSING`, `UNKNOWN_UNIT`
 */
export function requireLineFormat(format: LineFormat): LineFormat {
  const parts = partsOf(format.pattern);
  const has = (kind: Part['kind']): boolean => parts.some((part) => part.kind === kind);
  for (const field of ['stableMarks', 'movingMarks', 'netMarks', 'grossMarks'] as const) requireMarks(field, format[field]);
  const both = format.stableMarks.find((mark) => format.movingMarks.includes(mark));
  if (both !== undefined) refuse('MARK_TWICE', 'movingMarks', `"${both}" is a stable mark too`, 'Give each mark one meaning.');
  if (has('mark') && format.stableMarks.length + format.movingMarks.length === 0) {
    refuse('MARKS_MISSING', 'stableMarks', 'is empty while the pattern has {mark}', 'Give what the instrument writes when the value has settled, or while it has not.');
  }
  if (has('load') && format.netMarks.length + format.grossMarks.length === 0) {
    refuse('MARKS_MISSING', 'netMarks', 'is empty while the pattern has {load}', 'Give what the instrument writes for net or for gross.');
  }
  if (format.unitOnlyWhenStable && !has('unit')) refuse('NO_UNIT', 'pattern', 'has no {unit}', 'Put {unit} where the unit stands, or do not tell stable lines by it.');
  for (const { written, unit } of format.unitWords) {
    if (!isUnit(unit)) refuse('UNKNOWN_UNIT', 'unitWords', `"${unit}" is not a unit known here`, 'Use a UCUM code such as mg.');
    if (!/^[\p{L}°%]{1,12}$/u.test(written)) refuse('MARK_FORM', 'unitWords', `"${written}" is no word for a unit`, 'Use 1 to 12 letters.');
  }
  if (!isUnit(format.unit)) refuse('UNKNOWN_UNIT', 'unit', `"${format.unit}" is not a unit known here`, 'Use a UCUM code such as mg.');
  return format;
}
