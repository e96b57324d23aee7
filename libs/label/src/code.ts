import { sha256 } from '@noble/hashes/sha2.js';
import { checkCharacter, checks } from './check-character.js';

/** Digits and letters without I, L, O and U, which a hand or an eye takes for others. */
const CLEAR = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';
const KEY_BYTES = 6;
const LENGTH = 10;
/** Stands before the code inside a symbol, so that a scanner's text is known for one of ours. */
const MARK = 'TL';

/**
 * What a record is found by when its label is scanned: the first 48 bits of the SHA-256 of its id, as 12 hexadecimal
 * digits. Two records of a lab of a million share one with a chance of about 0.2 %; whoever looks one up must be ready
 * for two.
 *
 * @param id a UUID
 */
export function codeKey(id: string): string {
  const bytes = Uint8Array.from(id.replaceAll('-', '').match(/../g) ?? [], (pair) => Number.parseInt(pair, 16));
  return [...sha256(bytes).slice(0, KEY_BYTES)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** The code of a record: ten characters that follow from its id, and a check character (ISO/IEC 7064 MOD 37,36). */
export function codeOf(id: string): string {
  let rest = BigInt(`0x${codeKey(id)}`);
  let text = '';
  for (let i = 0; i < LENGTH; i += 1) {
    text = CLEAR[Number(rest % 32n)]! + text;
    rest /= 32n;
  }
  return text + checkCharacter(text);
}

/** As it is printed for people: 4K7X9-Q2M83-C. */
export const codeText = (code: string): string => `${code.slice(0, 5)}-${code.slice(5, 10)}-${code.slice(10)}`;

/** As it stands in a symbol. */
export const symbolText = (code: string): string => MARK + code;

function keyOf(code: string): string | null {
  let value = 0n;
  for (const letter of code.slice(0, LENGTH)) {
    const digit = CLEAR.indexOf(letter);
    if (digit < 0) return null;
    value = value * 32n + BigInt(digit);
  }
  return value < 1n << 48n ? value.toString(16).padStart(KEY_BYTES * 2, '0') : null;
}

/** What a scanner or a hand gave. */
export interface Scan {
  /** As it came, without space around it: may be a label. */
  readonly label: string;
  /** The key to look up when it is a code, else null. */
  readonly key: string | null;
  /** True when it has the form of a code but its check character does not fit: it was misread or mistyped. */
  readonly misread: boolean;
}

/**
 * Tells a code from a label: capitals or not, with or without hyphens, spaces and the mark that symbols carry. A text of
 * another form is a label. One of a code's form that does not check may still be somebody's label: look for that first,
 * and only then say that it was misread.
 *
 * @example readScan('TL' + codeOf(id)).key === codeKey(id) // true
 */
export function readScan(text: string): Scan {
  const label = text.trim();
  const plain = label.toUpperCase().replace(/[\s-]/g, '');
  const marked = plain.startsWith(MARK) && plain.length === MARK.length + LENGTH + 1;
  const code = marked ? plain.slice(MARK.length) : plain;
  if (code.length !== LENGTH + 1 || !/^[0-9A-Z]+$/.test(code)) return { label, key: null, misread: false };
  const key = checks(code) ? keyOf(code) : null;
  return { label, key, misread: key === null };
}
