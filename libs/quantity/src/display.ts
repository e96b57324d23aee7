import { Decimal, decimalOf, roundDecimal, shiftDecimal } from './decimal.js';
import { InputError, requireFinite } from './input-error.js';

const MINUS = '\u2212';
const SUPERSCRIPTS: Readonly<Record<string, string>> = {
  '-': '⁻', 0: '⁰', 1: '¹', 2: '²', 3: '³', 4: '⁴', 5: '⁵', 6: '⁶', 7: '⁷', 8: '⁸', 9: '⁹',
};

/** A value and its standard uncertainty rounded together, as texts with a typographic minus. */
export interface RoundedPair {
  readonly value: string;
  readonly u: string;
  /** places after the decimal point that both were rounded to; negative for tens, hundreds */
  readonly decimalPlaces: number;
}

export interface RoundingOptions {
  /** significant digits of the uncertainty that are kept, 1 or 2; default 2 (GUM 7.2.6: at most two usually suffice) */
  readonly uncertaintyDigits?: 1 | 2;
}

/** The power of ten of the first significant digit, e.g. -2 for 0.0104. */
function leadingPower(decimal: Decimal): number {
  const [whole = '', fraction = ''] = decimal.replace('-', '').split('.');
  return whole !== '0' ? whole.length - 1 : -(fraction.search(/[1-9]/) + 1);
}

function requireUncertainty(u: number): void {
  if (requireFinite('u', u) < 0) {
    throw new InputError('NEGATIVE_UNCERTAINTY', 'u', `standard uncertainty ${u} is below zero`, 'Give a standard uncertainty of zero or more.');
  }
}

function roundPair(value: Decimal, u: Decimal, digits: 1 | 2): RoundedPair {
  let places = digits - 1 - leadingPower(u);
  // 0.0996 rounds up to 0.100: one digit too many, so round one place earlier.
  if (leadingPower(roundDecimal(u, places)) > leadingPower(u)) places -= 1;
  return { value: typeset(roundDecimal(value, places)), u: typeset(roundDecimal(u, places)), decimalPlaces: places };
}

function typeset(digits: string): string {
  return digits.replace('-', MINUS);
}

/**
 * Rounds a value to the place where its standard uncertainty has its second (or first) significant digit, ties to even.
 * A zero uncertainty leaves the value as it is.
 * @throws InputError NOT_FINITE, NEGATIVE_UNCERTAINTY
 * @example
 * roundByUncertainty(0.82759, 0.0104).value // => '0.828'
 * roundByUncertainty(0.82759, 0.0104).u // => '0.010'
 */
export function roundByUncertainty(value: number, u: number, options: RoundingOptions = {}): RoundedPair {
  requireUncertainty(u);
  const decimal = decimalOf(value);
  if (u === 0) return { value: typeset(decimal), u: '0', decimalPlaces: decimal.split('.')[1]?.length ?? 0 };
  return roundPair(decimal, decimalOf(u), options.uncertaintyDigits ?? 2);
}

/**
 * "value ± u" with u the standard uncertainty (k = 1), both rounded by u. Very small and very large numbers are written
 * with one power of ten for both. Say beside it that the ± is a standard uncertainty: it is not an interval of 95 %.
 * @throws InputError NOT_FINITE, NEGATIVE_UNCERTAINTY
 * @example
 * formatByUncertainty(0.82759, 0.0104) // => '0.828 ± 0.010'
 * formatByUncertainty(8.854e-12, 3.1e-14) // => '(8.854 ± 0.031) × 10⁻¹²'
 */
export function formatByUncertainty(value: number, u: number, options: RoundingOptions = {}): string {
  requireUncertainty(u);
  requireFinite('value', value);
  const decimal = decimalOf(value);
  const power = leadingPower(decimalOf(Math.max(Math.abs(value), u)));
  const plain = (value === 0 && u === 0) || (power > -5 && power < 7);
  if (plain || u === 0) {
    const pair = roundByUncertainty(value, u, options);
    return `${pair.value} ± ${pair.u}`;
  }
  const pair = roundPair(shiftDecimal(decimal, -power), shiftDecimal(decimalOf(u), -power), options.uncertaintyDigits ?? 2);
  return `(${pair.value} ± ${pair.u}) × 10${[...String(power)].map((c) => SUPERSCRIPTS[c]).join('')}`;
}

/**
 * A fraction shown in per cent with its standard uncertainty in the same per cent: the brackets say that the ± is in
 * points, not a share of the value.
 * @throws InputError NOT_FINITE, NEGATIVE_UNCERTAINTY
 * @example
 * formatPercent(0.82759, 0.0104) // => '(82.8 ± 1.0) %'
 */
export function formatPercent(fraction: number, u: number, options: RoundingOptions = {}): string {
  requireUncertainty(u);
  const percent = shiftDecimal(decimalOf(fraction), 2);
  if (u === 0) return `(${typeset(percent)} ± 0) %`;
  const pair = roundPair(percent, shiftDecimal(decimalOf(u), 2), options.uncertaintyDigits ?? 2);
  return `(${pair.value} ± ${pair.u}) %`;
}

/**
 * A fraction in per cent to a fixed number of places, for a number that carries no uncertainty of its own (a limit).
 * @throws InputError NOT_FINITE
 * @example
 * formatPercentPlain(0.8) // => '80 %'
 * formatPercentPlain(0.82759, 1) // => '82.8 %'
 */
export function formatPercentPlain(fraction: number, places = 0): string {
  return `${typeset(roundDecimal(shiftDecimal(decimalOf(fraction), 2), places))} %`;
}

/**
 * A number rounded to a fixed number of places for a message, trailing zeros dropped.
 * @throws InputError NOT_FINITE
 * @example
 * formatNumber(60.30000000000001, 3) // => '60.3'
 */
export function formatNumber(value: number, places: number): string {
  const digits = roundDecimal(decimalOf(value), places);
  return typeset(places > 0 ? digits.replace(/\.?0+$/, '') : digits);
}
