import { InputError } from '#libs/quantity';
import { isValidAt, type LedgerKey } from './checkpoint.js';
import {
  formatSignedNote, formatVerifierKey, parseSignedNote, parseVerifierKey, signNote, signersOf, type SigningKey, type VerifierKey,
} from './signed-note.js';

/**
 * How a ledger changes its key: a note, signed by the key in use, that names the next one and the size from which it
 * signs. It is what a reader who trusts the old key needs to trust the new one.
 *
 * Two signatures under one checkpoint would not do: signature lines are independent of each other, and anybody can
 * add a line of his own below a good one. The second line of the note is no number, so that it can never pass for a
 * checkpoint, nor a checkpoint for it.
 */
export interface KeyChange {
  /** Name of the ledger. */
  readonly origin: string;
  readonly next: VerifierKey;
  /** Smallest size that the next key signs; the key in use signs up to and including it. */
  readonly firstSize: number;
}

const NEXT_KEY = /^next key (\S+) from (0|[1-9][0-9]*)$/;

/** The text of a key change, signed by the key in use. */
export function signKeyChange({ origin, next, firstSize }: KeyChange, inUse: SigningKey): string {
  const text = `${origin}\nnext key ${formatVerifierKey(next)} from ${firstSize}\n`;
  readChange(text);
  return formatSignedNote(signNote(text, inUse));
}

/** Reads a key change, whoever signed it. @throws InputError `BAD_NOTE`, `BAD_KEY_CHANGE` or `BAD_KEY` */
export function parseKeyChange(text: string): KeyChange {
  return readChange(parseSignedNote(text).text);
}

/**
 * Which key does this text make the next one? Undefined when none of the trusted keys signed it, or signed it beyond
 * its own validity, when any signature of theirs is false, or when it is of another ledger.
 *
 * @throws InputError as {@link parseKeyChange}
 */
export function verifyKeyChange(text: string, origin: string, trusted: readonly LedgerKey[]): KeyChange | undefined {
  const note = parseSignedNote(text);
  const change = readChange(note.text);
  const { signed, forged } = signersOf(note, trusted.map(({ key }) => key));
  const mayName = trusted.some((known) => signed.includes(known.key) && isValidAt(known, change.firstSize));
  return change.origin === origin && forged.length === 0 && mayName ? change : undefined;
}

/**
 * The keys that follow from trusted ones by the changes that they carry, the trusted ones included.
 *
 * @param offered keys of unknown worth, as they come with a pack
 */
export function keysThatFollow(origin: string, trusted: readonly LedgerKey[], offered: readonly LedgerKey[]): readonly LedgerKey[] {
  const found = [...trusted];
  const follows = (known: LedgerKey): boolean => {
    if (known.change === undefined) return false;
    const change = verifyKeyChange(known.change, origin, found);
    return change !== undefined && change.firstSize === known.firstSize && formatVerifierKey(change.next) === formatVerifierKey(known.key);
  };
  for (;;) {
    const next = offered.find((known) => !found.includes(known) && follows(known));
    if (!next) return found;
    found.push(next);
  }
}

function readChange(text: string): KeyChange {
  const [origin = '', line = '', ...rest] = text.slice(0, -1).split('\n');
  const [, key, size] = NEXT_KEY.exec(line) ?? [];
  if (origin === '' || key === undefined || rest.length > 0 || !Number.isSafeInteger(Number(size))) {
    throw new InputError('BAD_KEY_CHANGE', 'line 2', 'expected "next key name+id+base64 from size" below the name of the ledger',
      'Take the key change from its source again, unedited.');
  }
  return { origin, next: parseVerifierKey(key), firstSize: Number(size) };
}
