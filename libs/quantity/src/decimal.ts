import { InputError } from './input-error.js';

/**
 * An exact decimal number in one canonical spelling: optional `-`, digits without needless leading zeros, and, where
 * there is a fraction, a point and digits that do not end in zero. Equal numbers have equal strings, so the string can
 * be compared, stored as SQL `numeric` and hashed. Zero is `0`, never `-0`.
 */
export type Decimal = string;

export interface ParsedDecimal {
  /** exactly what was typed or sent, untouched */
  readonly text: string;
  /** the nearest double, for computing */
  readonly value: number;
  /** the exact number, canonical */
  readonly decimal: Decimal;
  /** digits after the decimal mark as written (an exponent taken in): what the display resolved; never below 0 */
  readonly decimalPlaces: number;
}

export interface ParseDecimalOptions {
  /** `true`: the mark is a comma; `false`: a point; left out: either, but an ambiguous comma is refused */
  readonly decimalComma?: boolean;
  /** name of the field for the error, default `value` */
  readonly field?: string;
}

const MAX_DIGITS = 34;
const MAX_EXPONENT = 30;
const NUMBER = /^([+-]?)[ \t]*(\d*)(?:([.,])(\d*))?(?:[eE]([+-]?\d{1,3}))?$/;

/**
 * Reads a number as people and balances write it, without guessing.
 *
 * Rules: spaces around the number and between sign and digits are ignored; the typographic minus counts as `-`;
 * an exponent (`6.03e-2`) is read. Grouping marks are never read, so a text with both a point and a comma, or with one
 * of them twice, is refused, whatever the setting. With `decimalComma: true` a point is refused, with `false` a comma.
 * Left open, a point is a decimal point; a comma is a decimal comma unless one to three digits that do not start with
 * zero stand before it and exactly three after it (`1,234` is 1.234 to one reader and 1234 to another): refused.
 * At most 34 digits and an exponent within ±30, so that nothing is lost between text, database and hash.
 *
 * @throws InputError NOT_A_NUMBER, AMBIGUOUS_NUMBER, WRONG_DECIMAL_MARK, NUMBER_TOO_LONG
 * @example
 * parseDecimal(' 60,30 ').decimal // => '60.3'
 * parseDecimal('6.03e-2').decimal // => '0.0603'
 * parseDecimal('1,234', { decimalComma: true }).value // => 1.234
 */
export function parseDecimal(text: string, options: ParseDecimalOptions = {}): ParsedDecimal {
  const field = options.field ?? 'value';
  const trimmed = text.replaceAll('\u2212', '-').replace(/^[\s\u00a0\u202f]+|[\s\u00a0\u202f]+$/g, '');
  refuseGrouping(trimmed, text, field);
  const match = NUMBER.exec(trimmed);
  const [, sign = '', whole = '', mark, fraction = '', exponentText = '0'] = match ?? [];
  if (!match || whole + fraction === '') {
    throw new InputError('NOT_A_NUMBER', field, `"${text}" is not a number`, 'Enter digits with one decimal mark, for example 60.3.');
  }
  refuseMark(mark, whole, fraction, options.decimalComma, text, field);
  const exponent = Number(exponentText);
  const digits = (whole + fraction).replace(/^0+/, '');
  if (digits.length > MAX_DIGITS || Math.abs(exponent) > MAX_EXPONENT) {
    throw new InputError(
      'NUMBER_TOO_LONG', field, `"${text}" has more than ${MAX_DIGITS} digits or an exponent beyond ±${MAX_EXPONENT}`,
      'Enter the number in a unit of fitting size.',
    );
  }
  const decimal = spell(sign === '-', whole + fraction, exponent - fraction.length);
  return { text, value: Number(decimal), decimal, decimalPlaces: Math.max(0, fraction.length - exponent) };
}

function refuseGrouping(trimmed: string, text: string, field: string): void {
  const points = trimmed.split('.').length - 1;
  const commas = trimmed.split(',').length - 1;
  if (points + commas > 1 && /^[\d+\-., eE]+$/.test(trimmed)) {
    throw new InputError(
      'AMBIGUOUS_NUMBER', field, `"${text}" has more than one mark, so its decimal mark cannot be told`,
      'Leave out marks that group thousands and keep only the decimal mark.',
    );
  }
}

function refuseMark(
  mark: string | undefined, whole: string, fraction: string, decimalComma: boolean | undefined, text: string, field: string,
): void {
  const expected = decimalComma === undefined ? undefined : decimalComma ? ',' : '.';
  if (mark !== undefined && expected !== undefined && mark !== expected) {
    throw new InputError(
      'WRONG_DECIMAL_MARK', field, `"${text}" has "${mark}" where the decimal mark is "${expected}"`,
      'Change the number, or the decimal mark of this import.',
    );
  }
  if (mark === ',' && expected === undefined && fraction.length === 3 && /^[1-9]\d{0,2}$/.test(whole)) {
    throw new InputError(
      'AMBIGUOUS_NUMBER', field, `"${text}" may mean ${whole}.${fraction} or ${whole}${fraction}`,
      'Write a decimal point, or say that the decimal mark is a comma.',
    );
  }
}

/** Canonical spelling of ±digits·10^exponent. */
function spell(negative: boolean, digits: string, exponent: number): Decimal {
  const trimmed = digits.replace(/^0+/, '');
  if (trimmed === '') return '0';
  const padded = exponent >= 0 ? trimmed + '0'.repeat(exponent) : trimmed.padStart(1 - exponent, '0');
  const cut = exponent >= 0 ? padded.length : padded.length + exponent;
  const fraction = padded.slice(cut).replace(/0+$/, '');
  return `${negative ? '-' : ''}${padded.slice(0, cut)}${fraction === '' ? '' : `.${fraction}`}`;
}

/** ±coefficient·10^exponent, exactly. */
interface Scaled {
  readonly coefficient: bigint;
  readonly exponent: number;
}

function scaled(decimal: Decimal): Scaled {
  const match = /^(-?)(\d+)(?:\.(\d+))?$/.exec(decimal);
  if (!match) {
    throw new InputError('NOT_A_DECIMAL', 'decimal', `"${decimal}" is not a canonical decimal`, 'Read it with parseDecimal first.');
  }
  const [, sign, whole = '', fraction = ''] = match;
  return { coefficient: BigInt(`${sign}${whole}${fraction}`), exponent: -fraction.length };
}

function fromScaled({ coefficient, exponent }: Scaled): Decimal {
  const negative = coefficient < 0n;
  return spell(negative, (negative ? -coefficient : coefficient).toString(), exponent);
}

/**
 * Multiplies an exact decimal by a power of ten.
 * @example
 * shiftDecimal('0.0603', 3) // => '60.3'
 */
export function shiftDecimal(decimal: Decimal, powerOfTen: number): Decimal {
  const { coefficient, exponent } = scaled(decimal);
  return fromScaled({ coefficient, exponent: exponent + powerOfTen });
}

/**
 * Multiplies an exact decimal by an integer, exactly.
 * @example
 * multiplyDecimal('1.5', 60) // => '90'
 */
export function multiplyDecimal(decimal: Decimal, factor: number): Decimal {
  const { coefficient, exponent } = scaled(decimal);
  return fromScaled({ coefficient: coefficient * BigInt(factor), exponent });
}

/**
 * The difference of two exact decimals, exactly.
 * @example
 * subtractDecimals('60.3', '60.1') // => '0.2'
 */
export function subtractDecimals(minuend: Decimal, subtrahend: Decimal): Decimal {
  const a = scaled(minuend);
  const b = scaled(subtrahend);
  const exponent = Math.min(a.exponent, b.exponent);
  const lift = (s: Scaled) => s.coefficient * 10n ** BigInt(s.exponent - exponent);
  return fromScaled({ coefficient: lift(a) - lift(b), exponent });
}

/**
 * -1, 0 or 1 as the first decimal is below, equal to or above the second.
 * @example
 * compareDecimals('9.9', '10') // => -1
 */
export function compareDecimals(first: Decimal, second: Decimal): -1 | 0 | 1 {
  const difference = subtractDecimals(first, second);
  return difference === '0' ? 0 : difference.startsWith('-') ? -1 : 1;
}

/**
 * The exact decimal that JavaScript prints for a double (the shortest that reads back as the same double).
 * @throws InputError NOT_FINITE
 * @example
 * decimalOf(1e-7) // => '0.0000001'
 */
export function decimalOf(value: number, field = 'value'): Decimal {
  if (!Number.isFinite(value)) {
    throw new InputError('NOT_FINITE', field, `expected a finite number, got ${String(value)}`, 'Enter a number.');
  }
  const [mantissa = '', exponent = '0'] = value.toString().split('e');
  const [whole = '', fraction = ''] = mantissa.replace('-', '').split('.');
  return spell(value < 0, whole + fraction, Number(exponent) - fraction.length);
}

/**
 * Rounds an exact decimal to a number of places after the point (negative: to tens, hundreds), ties to the even digit
 * (ISO 80000-1, annex B, rule A; from memory). Returns the digits with trailing zeros kept, for display.
 * @example
 * roundDecimal('0.8276', 3) // => '0.828'
 * roundDecimal('12345', -1) // => '12340'
 * roundDecimal('0.5', 3) // => '0.500'
 */
export function roundDecimal(decimal: Decimal, places: number): string {
  const { coefficient, exponent } = scaled(decimal);
  const drop = -places - exponent;
  const rounded = drop > 0 ? divideTiesToEven(coefficient, 10n ** BigInt(drop)) : coefficient * 10n ** BigInt(-drop);
  const exact = fromScaled({ coefficient: rounded, exponent: -places });
  if (places <= 0) return exact;
  const [whole = '', fraction = ''] = exact.split('.');
  return `${whole}.${fraction.padEnd(places, '0')}`;
}

function divideTiesToEven(numerator: bigint, denominator: bigint): bigint {
  const negative = numerator < 0n;
  const magnitude = negative ? -numerator : numerator;
  const quotient = magnitude / denominator;
  const twice = 2n * (magnitude % denominator);
  const up = twice > denominator || (twice === denominator && quotient % 2n === 1n);
  const result = up ? quotient + 1n : quotient;
  return negative ? -result : result;
}
