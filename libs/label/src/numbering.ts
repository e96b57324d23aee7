import { InputError } from '#libs/quantity';

/** A run of # counts in digits, padded to its length; a run of @ counts in letters: A, B … Z, AA. */
const PLACE = /#+|@+/;

function letters(n: number): string {
  let text = '';
  for (let rest = n; rest > 0; rest = Math.floor((rest - 1) / 26)) text = String.fromCharCode(65 + ((rest - 1) % 26)) + text;
  return text;
}

/**
 * Labels by a pattern: its run of # or @ is replaced by the number.
 *
 * @param pattern one run of # or @ among any other characters
 * @param from    the first number, 1 or more
 * @throws InputError `NO_PLACE` when a pattern for several has no run, `TWO_PLACES`, `COUNT`
 * @example numbered('T-##', 9, 3) // ['T-09', 'T-10', 'T-11']
 * @example numbered('@', 1, 3)    // ['A', 'B', 'C']
 */
export function numbered(pattern: string, from: number, count: number, field = 'pattern'): string[] {
  if (!Number.isInteger(count) || count < 0) throw new InputError('COUNT', field, `cannot count ${count} labels`, 'Give a whole number.');
  if (!Number.isInteger(from) || from < 1) throw new InputError('COUNT', field, `cannot start at ${from}`, 'Start at 1 or above.');
  const place = PLACE.exec(pattern);
  if (!place) {
    if (count > 1) throw new InputError('NO_PLACE', field, `"${pattern}" has no place for the number`, 'Put # where the number stands (## for two digits), or @ for a letter.');
    return Array.from({ length: count }, () => pattern);
  }
  if (PLACE.test(pattern.slice(place.index + place[0].length))) {
    throw new InputError('TWO_PLACES', field, `"${pattern}" has two places for the number`, 'Leave one run of # or @.');
  }
  const write = (n: number): string => (place[0].startsWith('#') ? String(n).padStart(place[0].length, '0') : letters(n));
  return Array.from({ length: count }, (_, i) => pattern.slice(0, place.index) + write(from + i) + pattern.slice(place.index + place[0].length));
}
