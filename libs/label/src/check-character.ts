import { InputError } from '#libs/quantity';

export const ALPHANUMERIC = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ';

/**
 * The check character of ISO/IEC 7064, MOD M+1,M (a hybrid system, M being the number of characters of the alphabet):
 * with the alphanumeric alphabet MOD 37,36, which finds every single wrong character and nearly every two that changed
 * places.
 *
 * @param text     characters of the alphabet only, at least one
 * @param alphabet characters in order of value
 * @throws InputError `NO_TEXT`, `CHARACTER` for one that the alphabet does not have
 * @example checkCharacter('A12425GABC1234002') // 'M'
 */
export function checkCharacter(text: string, alphabet: string = ALPHANUMERIC): string {
  if (text === '') throw new InputError('NO_TEXT', 'text', 'has no character', 'Give at least one.');
  const m = alphabet.length;
  let product = m;
  for (const letter of text) {
    const value = alphabet.indexOf(letter);
    if (value < 0) throw new InputError('CHARACTER', 'text', `"${letter}" has no value here`, `Use characters among ${alphabet}.`);
    product = ((((product + value) % m) || m) * 2) % (m + 1);
  }
  return alphabet[(m + 1 - product) % m]!;
}

/** Whether the last character is the check character of those before it. */
export function checks(text: string, alphabet: string = ALPHANUMERIC): boolean {
  return text.length > 1 && [...text].every((letter) => alphabet.includes(letter)) && checkCharacter(text.slice(0, -1), alphabet) === text.at(-1);
}
