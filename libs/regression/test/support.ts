import { InputError } from '#libs/quantity';

/** The code of the InputError that `work` throws; fails where it throws none. */
export function codeOf(work: () => unknown): string {
  try {
    work();
  } catch (error) {
    if (error instanceof InputError) return error.code;
    throw error;
  }
  throw new Error('expected an InputError, none was thrown');
}

/** Half a unit in the last digit that `printed` shows: what rounding alone explains. */
export function roundingOf(printed: number): number {
  const [mantissa, exponent] = printed.toString().split('e');
  const decimals = mantissa!.includes('.') ? mantissa!.split('.')[1]!.length : 0;
  return 0.5000001 * 10 ** (Number(exponent ?? 0) - decimals);
}

export function relativeErrors(ours: readonly number[], reference: readonly number[]): number {
  expect(ours).toHaveLength(reference.length);
  return Math.max(...reference.map((value, i) => Math.abs(ours[i]! - value) / (Math.abs(value) || 1)));
}

/** A seeded stand-in for a noise source, so that a simulation is the same every time. */
export { createStream } from '#libs/numeric';
