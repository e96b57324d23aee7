/**
 * The one error every pure library throws for input it cannot compute with.
 *
 * It names the field, says what is wrong with it and what the caller can do about it, so that a screen, a script
 * or a log can show it unchanged. Libraries never clamp, rescale or default silently: they throw this instead.
 *
 * @example
 * throw new InputError('DRY_NOT_BELOW_TURGID', 'dryMassMg', 'dry mass 71 mg is not below turgid mass 70 mg',
 *   'Check that the turgid and dry weighings belong to this disc.');
 */
export class InputError extends Error {
  override readonly name = 'InputError';

  /**
   * @param code    stable, SCREAMING_SNAKE_CASE; callers may branch on it
   * @param field   the name of the offending input as the caller knows it, e.g. `dryMassMg` or `points[3].rwc`
   * @param problem one clause that says what is wrong, with the value and its unit
   * @param remedy  one sentence that says what to do
   */
  constructor(
    readonly code: string,
    readonly field: string,
    readonly problem: string,
    readonly remedy: string,
  ) {
    super(`${field}: ${problem}. ${remedy}`);
  }
}

/** Throws {@link InputError} `NOT_FINITE` unless `value` is a finite number; returns it otherwise. */
export function requireFinite(field: string, value: number): number {
  if (typeof value !== 'number' || !Number.isFinite(value)) {
    throw new InputError('NOT_FINITE', field, `expected a finite number, got ${String(value)}`, 'Enter a number.');
  }
  return value;
}

/** Throws {@link InputError} `NOT_POSITIVE` unless `value` is finite and above zero; returns it otherwise. */
export function requirePositive(field: string, value: number): number {
  requireFinite(field, value);
  if (value <= 0) {
    throw new InputError('NOT_POSITIVE', field, `expected a number above zero, got ${value}`, 'Enter a value above zero.');
  }
  return value;
}
