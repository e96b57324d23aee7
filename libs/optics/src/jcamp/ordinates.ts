import { InputError } from '#libs/quantity';

/** The forms in which JCAMP-DX writes ordinates; a line may mix them. */
export type OrdinateForm = 'AFFN' | 'PAC' | 'SQZ' | 'DIF' | 'DUP';

/** Refusal of a JCAMP-DX file, naming the line (counted from 1). */
export function jcampError(code: string, line: number, problem: string, remedy: string): InputError {
  return new InputError(`JCAMP_${code}`, `line ${line}`, problem, remedy);
}

export interface OrdinateLine {
  /** the abscissa as printed, before XFACTOR */
  readonly x: number;
  /** one unit of the last printed digit of x */
  readonly xDigit: number;
  /** ordinates before YFACTOR; NaN where the file marks a lost one with `?` */
  readonly ordinates: readonly number[];
  /** the last one was written as a difference: the next line must begin by repeating it */
  readonly endsInDifference: boolean;
}

const SQZ = new Map([...'@ABCDEFGHIabcdefghi'].map((char, i) => [char, i <= 9 ? `${i}` : `-${i - 9}`]));
const DIF = new Map([...'%JKLMNOPQRjklmnopqr'].map((char, i) => [char, i <= 9 ? `${i}` : `-${i - 9}`]));
const DUP = new Map([...'STUVWXYZs'].map((char, i) => [char, `${i + 1}`]));

/**
 * E is also the squeezed digit 5: only an E with a sign after it is an exponent. A sign that PAC uses as a delimiter
 * cannot follow a squeezed E, since that already carries its sign.
 */
const NUMBER = /[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]\d{1,3}(?!\d))?/y;
const SEPARATOR = /[\s,;]/;
/** More than any line holds; a damaged repeat count would otherwise fill the memory. */
const MOST_PER_LINE = 1_000_000;
const TAIL = /\d*(?:\.\d*)?/y;

/** What stands at one place of a data line; `length` characters of it. */
interface Token {
  readonly kind: 'value' | 'difference' | 'repeat' | 'lost';
  readonly form: OrdinateForm | null;
  readonly value: number;
  readonly length: number;
}

function tokenAt(text: string, at: number): Token | null {
  const char = text[at]!;
  const lettered = (kind: Token['kind'], form: OrdinateForm, lead: string): Token => {
    const tail = match(TAIL, text, at + 1);
    return { kind, form, value: Number(lead + tail), length: 1 + tail.length };
  };
  const [squeezed, differing, repeating] = [SQZ.get(char), DIF.get(char), DUP.get(char)];
  if (squeezed !== undefined) return lettered('value', 'SQZ', squeezed);
  if (differing !== undefined) return lettered('difference', 'DIF', differing);
  if (repeating !== undefined) return lettered('repeat', 'DUP', repeating);
  if (char === '?') return { kind: 'lost', form: null, value: NaN, length: 1 };
  const number = match(NUMBER, text, at);
  // The abscissa stands before every ordinate, so there is always a character before this one.
  return number === '' ? null : { kind: 'value', form: SEPARATOR.test(text[at - 1]!) ? 'AFFN' : 'PAC', value: Number(number), length: number.length };
}

/**
 * Decodes one line of an (X++(Y..Y)) table: an abscissa and its ordinates in AFFN, PAC, SQZ, DIF and DUP form
 * (McDonald & Wilks, Appl. Spectrosc. 42 (1988) 151-162, JCAMP-DX 4.24).
 *
 * @throws InputError JCAMP_BAD_ABSCISSA, JCAMP_BAD_ORDINATE, JCAMP_NO_ORDINATE, JCAMP_DIF_WITHOUT_START, JCAMP_DUP_WITHOUT_START
 * @example
 * decodeOrdinateLine('5 1JJ%jX', 1, new Set()).ordinates // => [1, 2, 3, 3, 2, 1, 0, -1, -2, -3]
 */
export function decodeOrdinateLine(text: string, line: number, seen: Set<OrdinateForm>): OrdinateLine {
  const lead = text.length - text.trimStart().length;
  const abscissa = match(NUMBER, text, lead);
  if (abscissa === '' || !Number.isFinite(Number(abscissa))) {
    throw jcampError('BAD_ABSCISSA', line, `"${text.trim().slice(0, 20)}" does not begin with a number`, 'A data line begins with its abscissa: check that no line was broken or lost.');
  }
  const ordinates: number[] = [];
  let previous: Token | null = null;
  /** what a repeat would repeat, and what the line ends in: a repeated difference is still a difference */
  let last: Token | null = null;
  for (let at = lead + abscissa.length; at < text.length; ) {
    if (SEPARATOR.test(text[at]!)) {
      at += 1;
      continue;
    }
    const token = tokenAt(text, at);
    if (token === null || token.value === Infinity || token.value === -Infinity) throw jcampError('BAD_ORDINATE', line, `column ${at + 1}: "${text.slice(at, at + (token?.length ?? 1)).slice(0, 20)}" is no number in any form`, 'Check the file for damage: only JCAMP-DX digits may stand in a data line.');
    requireStart(token, previous, last, ordinates.length, line, at);
    append(ordinates, token, last);
    if (token.form !== null) seen.add(token.form);
    previous = token;
    if (token.kind !== 'repeat') last = token;
    at += token.length;
  }
  if (ordinates.length === 0) throw jcampError('NO_ORDINATE', line, 'the line has an abscissa and no ordinate', 'Check that the line was not cut off.');
  return { x: Number(abscissa), xDigit: lastDigit(abscissa), ordinates, endsInDifference: last?.kind === 'difference' };
}

/** A difference needs an ordinate to differ from, a repeat count one to repeat. */
function requireStart(token: Token, previous: Token | null, last: Token | null, length: number, line: number, at: number): void {
  const fail = (code: string, problem: string, remedy: string) => jcampError(code, line, `column ${at + 1}: ${problem}`, remedy);
  if (token.kind === 'difference' && (last === null || last.kind === 'lost')) {
    throw fail('DIF_WITHOUT_START', 'a difference has no ordinate before it', 'Each line begins with a whole ordinate.');
  }
  if (token.kind !== 'repeat') return;
  if (previous === null || previous.kind === 'repeat') {
    throw fail('DUP_WITHOUT_START', 'a repeat count follows no ordinate', 'A repeat count stands directly after the ordinate it repeats.');
  }
  if (!Number.isInteger(token.value) || length + token.value > MOST_PER_LINE) {
    throw fail('BAD_ORDINATE', `the repeat count ${token.value} is not whole, or beyond what a line can hold`, 'Check the file for damage.');
  }
}

/** A repeat count counts its first ordinate in; after a difference it is the difference that repeats. */
function append(ordinates: number[], token: Token, last: Token | null): void {
  if (token.kind === 'value' || token.kind === 'lost') ordinates.push(token.value);
  if (token.kind === 'difference') ordinates.push(ordinates.at(-1)! + token.value);
  if (token.kind === 'repeat') {
    const step = last!.kind === 'difference' ? last!.value : 0;
    for (let i = 1; i < token.value; i += 1) ordinates.push(ordinates.at(-1)! + step);
  }
}

function match(pattern: RegExp, text: string, at: number): string {
  pattern.lastIndex = at;
  return pattern.exec(text)?.[0] ?? '';
}

/** One unit of the last digit of a printed number: 0.01 for "599.86", 100 for "1.25E+4". */
export function lastDigit(printed: string): number {
  const [mantissa = '', exponent = '0'] = printed.toLowerCase().split('e');
  return Number(`1e${Number(exponent) - (mantissa.split('.')[1]?.length ?? 0)}`);
}
