import { sha256 as nobleSha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, hexToBytes } from '@noble/hashes/utils.js';
import { InputError } from '#libs/quantity';
import { canonicalize } from './canonical-json.js';
import { utf8Bytes } from './utf8.js';

/**
 * SHA-256 (FIPS 180-4) of some bytes, 32 bytes long.
 *
 * Every function of this library that hashes takes one as its last argument. The default is portable JavaScript, the
 * same in the browser and in Node; a server may hand in its native one, which gives the same bytes in less time:
 * `(bytes) => createHash('sha256').update(bytes).digest()`.
 */
export type Sha256 = (bytes: Uint8Array) => Uint8Array;

/** The portable SHA-256, synchronous, without native code. */
export const defaultSha256: Sha256 = (bytes) => nobleSha256(bytes);

/** Bytes of a SHA-256 hash. */
export const HASH_LENGTH = 32;

/**
 * The content hash of a document: SHA-256 of the UTF-8 bytes of its canonical JSON text.
 *
 * @returns 32 bytes
 * @throws InputError as {@link canonicalize} does
 * @example
 * toHex(contentHash([])); // '4f53cda18c2baa0c0354bb5f9a3ecbe5ed12ab4d8e11ba873c2f11161202b945' = SHA-256("[]")
 */
export function contentHash(value: unknown, sha256: Sha256 = defaultSha256): Uint8Array {
  return sha256(utf8Bytes(canonicalize(value)));
}

/** {@link contentHash} as 64 lower-case hexadecimal digits, the form in which records carry it. */
export function contentHashHex(value: unknown, sha256: Sha256 = defaultSha256): string {
  return toHex(contentHash(value, sha256));
}

/** Lower-case hexadecimal digits of some bytes. */
export function toHex(bytes: Uint8Array): string {
  return bytesToHex(bytes);
}

/**
 * The 32 bytes that 64 lower-case hexadecimal digits stand for.
 *
 * Upper case is refused: two texts for one hash would let two documents that differ pass for equal.
 *
 * @param field how the caller names the value, for the error
 * @throws InputError `NOT_A_HASH`
 */
export function hashFromHex(field: string, hex: unknown): Uint8Array {
  if (typeof hex !== 'string' || !/^[0-9a-f]{64}$/.test(hex)) {
    throw new InputError('NOT_A_HASH', field, 'expected a SHA-256 hash as 64 lower-case hexadecimal digits', 'Copy the hash whole.');
  }
  return hexToBytes(hex);
}

/** True when both are hashes of equal bytes. The comparison need not hide its duration: hashes here are public. */
export function sameHash(a: Uint8Array, b: Uint8Array): boolean {
  if (a.length !== HASH_LENGTH || b.length !== HASH_LENGTH) return false;
  for (let i = 0; i < HASH_LENGTH; i++) if (a[i] !== b[i]) return false;
  return true;
}
