import { InputError } from '#libs/quantity';

// Bound once: these checks stand in inner loops, and some hosts look a global up at every use.
const { isNaN, isSafeInteger } = Number;

/** Throws `NOT_A_NUMBER` for NaN or a non-number; infinities pass. */
export function requireNumber(field: string, value: number): number {
  if (typeof value !== 'number' || isNaN(value)) {
    throw new InputError('NOT_A_NUMBER', field, `expected a number, got ${String(value)}`, 'Give a number; infinity is allowed here.');
  }
  return value;
}

/** Throws `NOT_A_PROBABILITY` unless 0 ≤ value ≤ 1. */
export function requireProbability(field: string, value: number): number {
  if (!(value >= 0 && value <= 1)) {
    throw new InputError('NOT_A_PROBABILITY', field, `expected a probability from 0 to 1, got ${String(value)}`, 'Give a fraction, not per cent.');
  }
  return value;
}

/** Throws `DEGREES_OF_FREEDOM` unless value > 0; Infinity passes. */
export function requireDegreesOfFreedom(field: string, value: number): number {
  if (!(value > 0)) {
    throw new InputError(
      'DEGREES_OF_FREEDOM',
      field,
      `expected degrees of freedom above zero, got ${String(value)}`,
      'Give more observations than fitted parameters.',
    );
  }
  return value;
}

/** Throws `NOT_A_COUNT` unless value is a whole number of at least `least`. */
export function requireCount(field: string, value: number, least = 0): number {
  if (!isSafeInteger(value) || value < least) {
    throw new InputError('NOT_A_COUNT', field, `expected a whole number of at least ${least}, got ${String(value)}`, 'Give a whole number.');
  }
  return value;
}
