import { Decimal, multiplyDecimal, ParsedDecimal, parseDecimal, ParseDecimalOptions, shiftDecimal } from './decimal.js';
import { InputError } from './input-error.js';

export type Dimension =
  | 'mass' | 'mass per area' | 'power' | 'irradiance' | 'spectral irradiance' | 'electric potential' | 'electric current'
  | 'length' | 'area' | 'time' | 'temperature' | 'pressure' | 'number';

interface UnitRow {
  readonly dimension: Dimension;
  /** size = factor · 10^powerOfTen in the dimension's reference unit */
  readonly powerOfTen: number;
  readonly factor: number;
  /** as printed for people */
  readonly symbol: string;
}

const unit = (dimension: Dimension, powerOfTen: number, symbol: string, factor = 1): UnitRow => ({ dimension, powerOfTen, factor, symbol });

/**
 * The units in use, by UCUM code (The Unified Code for Units of Measure, case-sensitive form).
 * Temperature knows one unit only, because degrees Celsius differ from kelvin by an offset, not by a factor.
 */
export const UNITS = {
  kg: unit('mass', 3, 'kg'),
  g: unit('mass', 0, 'g'),
  mg: unit('mass', -3, 'mg'),
  ug: unit('mass', -6, 'µg'),
  'g.m-2': unit('mass per area', 0, 'g m⁻²'),
  'mg.cm-2': unit('mass per area', 1, 'mg cm⁻²'),
  W: unit('power', 0, 'W'),
  mW: unit('power', -3, 'mW'),
  uW: unit('power', -6, 'µW'),
  nW: unit('power', -9, 'nW'),
  'W.m-2': unit('irradiance', 0, 'W m⁻²'),
  'W.m-2.nm-1': unit('spectral irradiance', 0, 'W m⁻² nm⁻¹'),
  V: unit('electric potential', 0, 'V'),
  mV: unit('electric potential', -3, 'mV'),
  A: unit('electric current', 0, 'A'),
  mA: unit('electric current', -3, 'mA'),
  uA: unit('electric current', -6, 'µA'),
  nA: unit('electric current', -9, 'nA'),
  pA: unit('electric current', -12, 'pA'),
  m: unit('length', 0, 'm'),
  cm: unit('length', -2, 'cm'),
  mm: unit('length', -3, 'mm'),
  um: unit('length', -6, 'µm'),
  nm: unit('length', -9, 'nm'),
  m2: unit('area', 0, 'm²'),
  cm2: unit('area', -4, 'cm²'),
  mm2: unit('area', -6, 'mm²'),
  ms: unit('time', -3, 'ms'),
  s: unit('time', 0, 's'),
  min: unit('time', 0, 'min', 60),
  h: unit('time', 0, 'h', 3600),
  d: unit('time', 0, 'd', 86400),
  Cel: unit('temperature', 0, '°C'),
  MPa: unit('pressure', 6, 'MPa'),
  bar: unit('pressure', 5, 'bar'),
  kPa: unit('pressure', 3, 'kPa'),
  '1': unit('number', 0, ''),
  '%': unit('number', -2, '%'),
} as const satisfies Record<string, UnitRow>;

/** A UCUM code that this program knows. */
export type Unit = keyof typeof UNITS;

const BY_SYMBOL: ReadonlyMap<string, Unit> = new Map(
  Object.entries(UNITS).filter(([, row]) => row.symbol !== '').map(([code, row]) => [row.symbol, code as Unit]),
);

export function isUnit(text: string): text is Unit {
  return Object.hasOwn(UNITS, text);
}

/**
 * Reads a unit: a UCUM code, or the symbol this program prints for it (`µg`, `°C`, `cm²`). Capitals count:
 * `Mg` is a thousand kilograms, `mW` is not `MW`. Nothing else is guessed.
 * @throws InputError UNKNOWN_UNIT
 * @example
 * parseUnit('µg') // => 'ug'
 */
export function parseUnit(text: string, field = 'unit'): Unit {
  const trimmed = text.trim().replaceAll('\u03bc', 'µ');
  if (isUnit(trimmed)) return trimmed;
  const bySymbol = BY_SYMBOL.get(trimmed);
  if (bySymbol !== undefined) return bySymbol;
  const near = Object.keys(UNITS).filter((code) => code.toLowerCase() === trimmed.toLowerCase());
  const known = near.length > 0 ? `If ${near.join(' or ')} is meant, write it so` : `Use one of ${Object.keys(UNITS).join(', ')}`;
  throw new InputError('UNKNOWN_UNIT', field, `"${text}" is not a unit known here (capitals count)`, `${known}.`);
}

/**
 * The unit as printed for people.
 * @example
 * unitSymbol('Cel') // => '°C'
 */
export function unitSymbol(code: Unit): string {
  return UNITS[code].symbol;
}

function sameDimension(from: Unit, to: Unit): void {
  if (UNITS[from].dimension !== UNITS[to].dimension) {
    throw new InputError(
      'UNITS_DIFFER', 'unit', `${from} is a unit of ${UNITS[from].dimension}, ${to} of ${UNITS[to].dimension}`,
      `Give a unit of ${UNITS[to].dimension}.`,
    );
  }
}

/**
 * Converts an exact decimal without rounding: powers of ten move the point, and a larger time unit is multiplied out.
 * From seconds to minutes the decimal may not end, so that direction is refused: use {@link convertNumber}.
 * @throws InputError UNITS_DIFFER, NOT_EXACT, NOT_A_DECIMAL
 * @example
 * convertDecimal('0.0603', 'g', 'mg') // => '60.3'
 * convertDecimal('82.8', '%', '1') // => '0.828'
 */
export function convertDecimal(decimal: Decimal, from: Unit, to: Unit): Decimal {
  sameDimension(from, to);
  const factor = UNITS[from].factor / UNITS[to].factor;
  if (!Number.isInteger(factor)) {
    throw new InputError('NOT_EXACT', 'unit', `${from} to ${to} has no exact decimal`, 'Convert it as a floating number instead.');
  }
  return multiplyDecimal(shiftDecimal(decimal, UNITS[from].powerOfTen - UNITS[to].powerOfTen), factor);
}

/**
 * Converts a double; the result is within one rounding of the true one.
 * @throws InputError UNITS_DIFFER
 * @example
 * convertNumber(90, 's', 'min') // => 1.5
 */
export function convertNumber(value: number, from: Unit, to: Unit): number {
  sameDimension(from, to);
  const power = UNITS[from].powerOfTen - UNITS[to].powerOfTen;
  // 10 ** -3 is itself rounded, 10 ** 3 is not: dividing by an exact power keeps the error to one rounding.
  const scaled = power >= 0 ? value * Number(`1e${power}`) : value / Number(`1e${-power}`);
  return (scaled * UNITS[from].factor) / UNITS[to].factor;
}

export interface ParsedQuantity extends ParsedDecimal {
  readonly unit: Unit;
}

/**
 * Reads a number with its unit, such as a balance prints: `+   60.30 mg`. With `defaultUnit` the unit may be missing.
 * @throws InputError NOT_A_NUMBER, UNKNOWN_UNIT, MISSING_UNIT and those of {@link parseDecimal}
 * @example
 * parseQuantity('+   60.30 mg').decimal // => '60.3'
 * parseQuantity('0,0603', { defaultUnit: 'g' }).unit // => 'g'
 */
export function parseQuantity(text: string, options: ParseDecimalOptions & { readonly defaultUnit?: Unit } = {}): ParsedQuantity {
  const field = options.field ?? 'value';
  const match = /^([\s+\-\u2212]*[\d.,]+(?:[eE][+-]?\d+)?)\s*(\S.*)?$/.exec(text.trim());
  const number = parseDecimal(match?.[1] ?? text, options);
  const unitText = match?.[2];
  if (unitText === undefined && options.defaultUnit === undefined) {
    throw new InputError('MISSING_UNIT', field, `"${text}" has no unit`, 'Write the unit after the number, for example 60.3 mg.');
  }
  return { ...number, text, unit: unitText === undefined ? options.defaultUnit! : parseUnit(unitText, field) };
}
