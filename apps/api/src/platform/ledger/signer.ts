import { InputError } from '#libs/quantity';
import { fromBase64, signingKeyOf, type SigningKey } from '#libs/ledger';

/** Name of a lab's ledger, which is also the name of its keys and the first line of its checkpoints. */
export const originOf = (labId: string): string => `threadleaf/ledger/${labId}`;

/** Signs for the labs of one server. One secret serves all of them, under the name of each lab's own ledger. */
export interface Signer {
  keyOf(labId: string): SigningKey;
  /** The key in use before, which hands over to the present one; null when there was none. */
  earlierKeyOf(labId: string): SigningKey | null;
}

/**
 * Reads the server's ledger key: 32 secret bytes in base64, and below it, after a change of keys, the one before.
 *
 * @throws InputError `BAD_KEY`; the error never repeats the text, which is secret
 */
export function signerOf(text: string): Signer {
  const [seed, earlier] = secretsOf(text);
  return {
    keyOf: (labId) => signingKeyOf(originOf(labId), seed),
    earlierKeyOf: (labId) => (earlier ? signingKeyOf(originOf(labId), earlier) : null),
  };
}

/** The secrets in a ledger key's text: the present one, and the one before it where there is one. */
export function secretsOf(text: string): readonly [Uint8Array, ...Uint8Array[]] {
  const [seed, ...earlier] = text.split(/\s+/).filter((word) => word !== '').map(secretOf);
  if (!seed || earlier.length > 1) throw badKey('expected one key, or the present one and the one before it');
  return [seed, ...earlier];
}

function secretOf(word: string): Uint8Array {
  const bytes = fromBase64(word);
  if (bytes?.length !== 32) throw badKey('a key is 32 bytes in base64, 44 characters');
  return bytes;
}

function badKey(problem: string): InputError {
  return new InputError('BAD_KEY', 'ledgerKey', problem, 'Put back the ledger key from your copy of it.');
}
