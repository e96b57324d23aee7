/**
 * Matching digits, −log₁₀ |relative error| (the "log relative error" of McCullough, Am. Statistician 52 (1998) 358-366);
 * against zero, −log₁₀ |value|. Capped at the digits the source gives, floored to a tenth.
 */
export function matchingDigits(reached: number, source: number, cap: number): number {
  const error = source === 0 ? Math.abs(reached) : Math.abs((reached - source) / source);
  if (!Number.isFinite(error)) return 0;
  const digits = error === 0 ? cap : Math.min(cap, -Math.log10(error));
  return Math.max(0, Math.floor(digits * 10) / 10);
}

export function fewestDigits(reached: readonly number[], source: readonly number[], cap: number): number {
  return Math.min(...source.map((value, i) => matchingDigits(reached[i] ?? NaN, value, cap)));
}

/** A line of the table that is not a NIST problem. */
export interface OtherRow {
  readonly problem: string;
  readonly digits: number;
  readonly source: string;
}
