import { InputError } from '#libs/quantity';
import { fromBase64, toBase64 } from './base64.js';
import { HASH_LENGTH } from './content-hash.js';
import {
  formatSignedNote, parseSignedNote, signNote, signersOf, type NoteSignature, type SigningKey, type VerifierKey,
} from './signed-note.js';

/**
 * A checkpoint: "the ledger called `origin` has `size` entries and this root". Its text form is that of
 * https://c2sp.org/tlog-checkpoint, a signed note of three lines, so that it can be printed, kept in a drawer and
 * checked by programs that are not ours.
 */
export interface Checkpoint {
  /** Unique name of the ledger, which is also the name of its keys: `lab.example/ledger/<lab id>`. */
  readonly origin: string;
  /** Entries covered. */
  readonly size: number;
  /** Root of the Merkle tree over them, 32 bytes. */
  readonly root: Uint8Array;
}

/**
 * A key of a ledger, with the checkpoints that it may sign.
 *
 * Validity is counted in entries and not in time: a checkpoint carries no time, and the size is what its signature
 * covers. When keys change at size n, the old one's `lastSize` and the new one's `firstSize` are n, and both sign the
 * checkpoint of size n, so that it serves readers who know either.
 */
export interface LedgerKey {
  readonly key: VerifierKey;
  /** Smallest size it may sign. */
  readonly firstSize: number;
  /** Largest size it may sign; null while it is in use. */
  readonly lastSize: number | null;
  /** The note by which the key before it named it as the next (see key-change.ts); the first key has none. */
  readonly change?: string;
}

/** A checkpoint as read, with the signatures found below it, good or not. */
export interface ReadCheckpoint extends Checkpoint {
  readonly signatures: readonly NoteSignature[];
}

/** What {@link verifyCheckpoint} found; with `holds: false` nothing in the text may be believed. */
export type CheckpointVerdict =
  | { readonly holds: true; readonly checkpoint: ReadCheckpoint; readonly signedBy: readonly VerifierKey[] }
  | { readonly holds: false; readonly why: string };

/**
 * Signs a checkpoint.
 *
 * @param others signatures to keep beside it, as when the key changes (see {@link LedgerKey})
 * @returns the text to publish, to print and to keep
 * @throws InputError `BAD_CHECKPOINT` for an origin of more than one line, a size that is no count, a root that is no hash
 */
export function signCheckpoint(checkpoint: Checkpoint, key: SigningKey, others: readonly NoteSignature[] = []): string {
  return formatSignedNote(signNote(checkpointText(checkpoint), key, others));
}

/**
 * Reads the text form, strictly. It says nothing yet about who signed: see {@link verifyCheckpoint}.
 *
 * @throws InputError `BAD_NOTE` or `BAD_CHECKPOINT`, field `line 2`
 */
export function parseCheckpoint(text: string): ReadCheckpoint {
  const { text: body, signatures } = parseSignedNote(text);
  const lines = body.slice(0, -1).split('\n');
  const [origin = '', sizeLine = '', rootLine = ''] = lines;
  if (origin === '') throw badCheckpoint(1, 'the name of the ledger is missing');
  // No leading zero, no sign: one text for one size.
  if (!/^(0|[1-9][0-9]*)$/.test(sizeLine)) throw badCheckpoint(2, 'expected the number of entries as plain digits');
  const size = Number(sizeLine);
  if (!Number.isSafeInteger(size)) throw badCheckpoint(2, 'the number of entries is beyond 2^53 - 1');
  const root = fromBase64(rootLine);
  if (root?.length !== HASH_LENGTH) throw badCheckpoint(3, 'expected the root hash, 32 bytes in base64');
  // The form allows further lines but advises against them, and we write none. A line not understood is refused here:
  // it might say what the reader should have known.
  if (lines.length > 3) throw badCheckpoint(4, 'a line beyond origin, size and root');
  return { origin, size, root, signatures };
}

/**
 * Is this a checkpoint of that ledger, signed by a key that was valid at its size?
 *
 * Holds when at least one valid key signed. Does not when a known key's signature is false, whatever else is signed:
 * somebody tampered. Signatures of keys that are not known are ignored.
 *
 * @param origin the ledger that it must be of: a key that serves two ledgers must not let one pass for the other
 * @param keys the ledger's keys, from a source other than the text itself
 */
export function verifyCheckpoint(text: string, origin: string, keys: readonly LedgerKey[]): CheckpointVerdict {
  let checkpoint: ReadCheckpoint;
  try {
    checkpoint = parseCheckpoint(text);
  } catch (error) {
    if (error instanceof InputError) return { holds: false, why: error.message };
    throw error;
  }
  if (checkpoint.origin !== origin) {
    return { holds: false, why: `the checkpoint is of the ledger ${checkpoint.origin}, not of ${origin}` };
  }
  const note = { text: checkpointText(checkpoint), signatures: checkpoint.signatures };
  const { signed, forged } = signersOf(note, keys.map(({ key }) => key));
  const [first] = forged;
  if (first) return { holds: false, why: `the signature of the key ${first.name}+${first.keyId} is false` };
  if (signed.length === 0) return { holds: false, why: 'no key known for this ledger signed the checkpoint' };
  const signedBy = keys.filter((known) => signed.includes(known.key) && isValidAt(known, checkpoint.size)).map(({ key }) => key);
  if (signedBy.length === 0) {
    return { holds: false, why: `the key that signed was not valid for a ledger of ${checkpoint.size} entries` };
  }
  return { holds: true, checkpoint, signedBy };
}

/** May this key sign a checkpoint of that size? */
export function isValidAt({ firstSize, lastSize }: LedgerKey, size: number): boolean {
  return size >= firstSize && (lastSize === null || size <= lastSize);
}

/** The three lines that are signed. */
function checkpointText({ origin, size, root }: Checkpoint): string {
  if (origin === '' || /[\u0000-\u001f]/.test(origin)) {  
    throw badCheckpoint(1, 'the name of a ledger is one line of text');
  }
  if (!Number.isSafeInteger(size) || size < 0) throw badCheckpoint(2, `${size} is no number of entries`);
  if (root.length !== HASH_LENGTH) throw badCheckpoint(3, `a root has ${HASH_LENGTH} bytes, not ${root.length}`);
  return `${origin}\n${size}\n${toBase64(root)}\n`;
}

function badCheckpoint(line: number, problem: string): InputError {
  return new InputError('BAD_CHECKPOINT', `line ${line}`, problem, 'Take the checkpoint from its source again, unedited.');
}
