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
/** More than any line holds; a damaged repeat count would otherwise fill the memory. */
const MOST_PER_LINE = 1_000_000;
const TAIL = /\d*(?:\.\d*)?/y;

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
  if (abscissa === '') {
    throw jcampError('BAD_ABSCISSA', line, `"${text.trim().slice(0, 20)}" does not begin with a number`, 'A data line begins with its abscissa: check that no line was broken or lost.');
  }
  const ordinates: number[] = [];
  let previous: { readonly kind: 'value' | 'difference' | 'repeat' | 'lost'; readonly by: number } | null = null;
  let at = lead + abscissa.length;
  const fail = (code: string, problem: string, remedy: string) => jcampError(code, line, `column ${at + 1}: ${problem}`, remedy);

  while (at < text.length) {
    const char = text[at]!;
    if (/[\s,;]/.test(char)) {
      at += 1;
      continue;
    }
    const [squeezed, differing, repeating] = [SQZ.get(char), DIF.get(char), DUP.get(char)];
    if (squeezed !== undefined || differing !== undefined || repeating !== undefined) {
      const tail = match(TAIL, text, at + 1);
      const value = Number(`${squeezed ?? differing ?? repeating}${tail}`);
      if (squeezed !== undefined) {
        ordinates.push(value);
        previous = { kind: 'value', by: value };
        seen.add('SQZ');
      } else if (differing !== undefined) {
        if (previous === null || previous.kind === 'lost') throw fail('DIF_WITHOUT_START', 'a difference has no ordinate before it', 'Each line begins with a whole ordinate.');
        ordinates.push(ordinates.at(-1)! + value);
        previous = { kind: 'difference', by: value };
        seen.add('DIF');
      } else {
        if (previous === null || previous.kind === 'repeat') throw fail('DUP_WITHOUT_START', 'a repeat count follows no ordinate', 'A repeat count stands directly after the ordinate it repeats.');
        if (!Number.isInteger(value) || ordinates.length + value > MOST_PER_LINE) {
          throw fail('BAD_ORDINATE', `the repeat count ${value} is not whole, or beyond what a line can hold`, 'Check the file for damage.');
        }
        repeat(ordinates, previous, value);
        previous = { kind: 'repeat', by: previous.kind === 'difference' ? previous.by : NaN };
        seen.add('DUP');
      }
      at += 1 + tail.length;
      continue;
    }
    if (char === '?') {
      ordinates.push(NaN);
      previous = { kind: 'lost', by: NaN };
      at += 1;
      continue;
    }
    const number = match(NUMBER, text, at);
    if (number === '') throw fail('BAD_ORDINATE', `"${char}" belongs to no number form`, 'Check the file for damage: only JCAMP-DX digits may stand in a data line.');
    seen.add(/[\s,;]/.test(text[at - 1]!) ? 'AFFN' : 'PAC');
    ordinates.push(Number(number));
    previous = { kind: 'value', by: Number(number) };
    at += number.length;
  }
  if (ordinates.length === 0) throw jcampError('NO_ORDINATE', line, 'the line has an abscissa and no ordinate', 'Check that the line was not cut off.');
  const endsInDifference = previous !== null && (previous.kind === 'difference' || (previous.kind === 'repeat' && !Number.isNaN(previous.by)));
  return { x: Number(abscissa), xDigit: lastDigit(abscissa), ordinates, endsInDifference };
}

/** DUP counts its first ordinate in; after a difference it is the difference that repeats. */
function repeat(ordinates: number[], previous: { readonly kind: string; readonly by: number }, count: number): void {
  for (let i = 1; i < count; i += 1) ordinates.push(previous.kind === 'difference' ? ordinates.at(-1)! + previous.by : ordinates.at(-1)!);
}

function match(pattern: RegExp, text: string, at: number): string {
  pattern.lastIndex = at;
  return pattern.exec(text)?.[0] ?? '';
}

/** One unit of the last digit of a printed number: 0.01 for "599.86", 100 for "1.25E+4". */
export function lastDigit(printed: string): number {
  const [mantissa = '', exponent = '0'] = printed.toLowerCase().split('e');
  return 10 ** (Number(exponent) - (mantissa.split('.')[1]?.length ?? 0));
}
