import { ed25519 } from '@noble/curves/ed25519.js';
import { bytesToHex, concatBytes } from '@noble/hashes/utils.js';
import { InputError } from '#libs/quantity';
import { fromBase64, toBase64 } from './base64.js';
import { defaultSha256 } from './content-hash.js';
import { utf8Bytes } from './utf8.js';

/**
 * Signed notes, the open text form in which transparency logs publish: a text, an empty line, and lines of
 * signatures. By https://c2sp.org/signed-note, with Ed25519 (RFC 8032) as the only kind of signature checked; lines
 * of other kinds and of unknown keys are carried along and ignored, as the form demands. That is how keys change
 * hands, and how a witness adds its own line.
 */
export interface SignedNote {
  /** What is signed, its last newline included, without the empty line. */
  readonly text: string;
  readonly signatures: readonly NoteSignature[];
}

/** One signature line: who says to have signed, and with which of its keys. */
export interface NoteSignature {
  readonly keyName: string;
  /** First four bytes of the key's hash, as 8 lower-case hexadecimal digits. A hint to the key, not a fingerprint. */
  readonly keyId: string;
  /** 64 bytes for Ed25519; other kinds are kept as they are. */
  readonly signature: Uint8Array;
}

/** A key to check with. Its text form `name+id+base64` is the "vkey" of golang.org/x/mod/sumdb/note. */
export interface VerifierKey {
  readonly name: string;
  readonly keyId: string;
  /** 32 bytes: RFC 8032 section 5.1.2. */
  readonly publicKey: Uint8Array;
}

/** A key to sign with. Its text form starts with `PRIVATE+KEY+`: keep it where only the signing process can read it. */
export interface SigningKey extends VerifierKey {
  /** 32 secret bytes: RFC 8032 section 5.1.5. */
  readonly seed: Uint8Array;
}

/** More lines than this are refused unread; the form asks for at least 16. */
const MAX_SIGNATURES = 100;
const ED25519_KIND = 0x01;
const KEY_NAME = /^[^\s+\p{White_Space}\p{Cc}\p{Surrogate}]+$/u;
const EM_DASH = '\u2014';
const REMEDY = 'Take the note from its source again, unedited.';

/**
 * The key of a name: its id is the first four bytes of SHA-256(name || 0x0A || 0x01 || public key).
 *
 * @throws InputError `BAD_KEY_NAME` (empty, white space, plus), `BAD_KEY` (not 32 bytes, no point of the curve, or one
 *   of the few points of small order, whose signatures anybody can make)
 */
export function verifierKeyOf(name: string, publicKey: Uint8Array): VerifierKey {
  if (!KEY_NAME.test(name)) {
    throw new InputError('BAD_KEY_NAME', 'name', `a key cannot be named ${JSON.stringify(name)}`,
      'Use a name without white space or plus, such as lab.example/ledger.');
  }
  if (!isPublicKey(publicKey)) {
    throw new InputError('BAD_KEY', 'publicKey', 'not an Ed25519 public key', 'Give the 32 bytes of RFC 8032 section 5.1.2.');
  }
  const hashed = defaultSha256(concatBytes(utf8Bytes(name), Uint8Array.of(0x0a, ED25519_KIND), publicKey));
  return { name, keyId: bytesToHex(hashed.subarray(0, 4)), publicKey };
}

/** The signing key of a name, from 32 secret random bytes that the caller drew. */
export function signingKeyOf(name: string, seed: Uint8Array): SigningKey {
  if (seed.length !== 32) {
    throw new InputError('BAD_KEY', 'seed', `expected 32 secret bytes, got ${seed.length}`, 'Draw 32 bytes from the system.');
  }
  return { ...verifierKeyOf(name, ed25519.getPublicKey(seed)), seed };
}

/** `name+8 hexadecimal digits+base64(0x01 || public key)`. */
export function formatVerifierKey({ name, keyId, publicKey }: VerifierKey): string {
  return `${name}+${keyId}+${toBase64(concatBytes(Uint8Array.of(ED25519_KIND), publicKey))}`;
}

/** `PRIVATE+KEY+name+8 hexadecimal digits+base64(0x01 || seed)`. A secret. */
export function formatSigningKey({ name, keyId, seed }: SigningKey): string {
  return `PRIVATE+KEY+${name}+${keyId}+${toBase64(concatBytes(Uint8Array.of(ED25519_KIND), seed))}`;
}

/** Reads what {@link formatVerifierKey} writes. @throws InputError `BAD_KEY`, also when the id is not that of the key. */
export function parseVerifierKey(text: string): VerifierKey {
  const { name, keyId, key } = keyParts(text, /^([^+]*)\+([0-9a-f]{8})\+(.*)$/su);
  return withId(verifierKeyOf(name, key), keyId);
}

/** Reads what {@link formatSigningKey} writes. The error never repeats the text, which is secret. */
export function parseSigningKey(text: string): SigningKey {
  const { name, keyId, key } = keyParts(text, /^PRIVATE\+KEY\+([^+]*)\+([0-9a-f]{8})\+(.*)$/su);
  return withId(signingKeyOf(name, key), keyId);
}

/**
 * Reads a signed note, strictly: what is not exactly in the form is refused with the number of its line.
 *
 * @throws InputError `BAD_NOTE`, field `line 7`
 */
export function parseSignedNote(note: string): SignedNote {
  const lines = note.split('\n');
  lines.forEach((line, i) => {
     
    if (/[\u0000-\u001f]/.test(line)) throw badNote(i, 'a control character');
    if (/\p{Surrogate}/u.test(line)) throw badNote(i, 'half of a surrogate pair');
  });
  // split leaves an empty last item exactly when the note ends with its newline.
  if (lines.pop() !== '') throw badNote(lines.length, 'no newline at the end');
  const blank = lines.lastIndexOf('');
  if (blank === -1) throw badNote(lines.length, 'no empty line between the text and the signatures');
  if (blank === 0) throw badNote(0, 'no text before the signatures');
  const signed = lines.slice(blank + 1);
  if (signed.length === 0) throw badNote(blank + 1, 'no signature');
  if (signed.length > MAX_SIGNATURES) throw badNote(blank + 1 + MAX_SIGNATURES, `more than ${MAX_SIGNATURES} signatures`);
  return {
    text: `${lines.slice(0, blank).join('\n')}\n`,
    signatures: signed.map((line, i) => parseSignature(line, blank + 1 + i)),
  };
}

/** The text form of a note. What {@link parseSignedNote} would refuse is refused here too. */
export function formatSignedNote({ text, signatures }: SignedNote): string {
  const lines = signatures.map(({ keyName, keyId, signature }) =>
    `${EM_DASH} ${keyName} ${toBase64(concatBytes(keyIdBytes(keyId), signature))}\n`);
  const note = `${text}\n${lines.join('')}`;
  if (parseSignedNote(note).text !== text) throw badNote(0, 'the text does not end with a newline');
  return note;
}

/**
 * The note with this key's signature added, in place of one that the key gave before.
 *
 * @param text ends with a newline
 * @param others signatures of other keys to keep: the old key's when keys change, a witness's
 */
export function signNote(text: string, key: SigningKey, others: readonly NoteSignature[] = []): SignedNote {
  const kept = others.filter(({ keyName, keyId }) => keyName !== key.name || keyId !== key.keyId);
  const own = { keyName: key.name, keyId: key.keyId, signature: ed25519.sign(utf8Bytes(text), key.seed) };
  const note = { text, signatures: [...kept, own] };
  formatSignedNote(note);
  return note;
}

/**
 * Which of the known keys signed, and which of them appear but did not. Signatures of unknown keys are in neither.
 *
 * The form says to reject a note with any bad signature of a known key, and one without a good one; both are the
 * caller's to judge, who knows which keys count. Ed25519 is checked by the strict rules of RFC 8032, so that one
 * signature cannot be turned into another.
 */
export function signersOf(note: SignedNote, known: readonly VerifierKey[]): {
  readonly signed: readonly VerifierKey[];
  readonly forged: readonly VerifierKey[];
} {
  const message = utf8Bytes(note.text);
  const bearing = (key: VerifierKey): readonly NoteSignature[] =>
    note.signatures.filter(({ keyName, keyId }) => keyName === key.name && keyId === key.keyId);
  const good = (key: VerifierKey): boolean => bearing(key).every(({ signature }) => isSignatureOf(key, message, signature));
  const named = known.filter((key) => bearing(key).length > 0);
  return { signed: named.filter(good), forged: named.filter((key) => !good(key)) };
}

function isPublicKey(bytes: Uint8Array): boolean {
  return bytes.length === 32 && ed25519.utils.isValidPublicKey(bytes, false) && !ed25519.Point.fromBytes(bytes, false).isSmallOrder();
}

function isSignatureOf(key: VerifierKey, message: Uint8Array, signature: Uint8Array): boolean {
  return signature.length === 64 && ed25519.verify(signature, message, key.publicKey, { zip215: false });
}

function parseSignature(line: string, at: number): NoteSignature {
  const parts = line.split(' ');
  const [dash, keyName, encoded] = parts;
  if (parts.length !== 3 || dash !== EM_DASH || keyName === undefined || encoded === undefined) {
    throw badNote(at, `not a signature line, which is "${EM_DASH} name base64"`);
  }
  if (!KEY_NAME.test(keyName)) throw badNote(at, `a key cannot be named ${JSON.stringify(keyName)}`);
  const bytes = fromBase64(encoded);
  if (bytes === undefined) throw badNote(at, 'the signature is not base64');
  if (bytes.length < 5) throw badNote(at, 'the signature is too short to hold a key id and a signature');
  return { keyName, keyId: bytesToHex(bytes.subarray(0, 4)), signature: bytes.slice(4) };
}

function badNote(lineFrom0: number, problem: string): InputError {
  return new InputError('BAD_NOTE', `line ${lineFrom0 + 1}`, problem, REMEDY);
}

function keyIdBytes(keyId: string): Uint8Array {
  if (!/^[0-9a-f]{8}$/.test(keyId)) {
    throw new InputError('BAD_KEY', 'keyId', 'expected 8 lower-case hexadecimal digits', 'Take the id from the key.');
  }
  return Uint8Array.from({ length: 4 }, (_, i) => Number.parseInt(keyId.slice(2 * i, 2 * i + 2), 16));
}

function keyParts(text: string, form: RegExp): { name: string; keyId: string; key: Uint8Array } {
  const [, name = '', keyId = '', encoded = ''] = form.exec(text) ?? [];
  const bytes = fromBase64(encoded);
  if (bytes?.length !== 33 || bytes[0] !== ED25519_KIND) {
    throw new InputError('BAD_KEY', 'key', 'not an Ed25519 key in the form name+id+base64', 'Copy the key whole, as one line.');
  }
  return { name, keyId, key: bytes.slice(1) };
}

function withId<Key extends VerifierKey>(key: Key, keyId: string): Key {
  if (key.keyId !== keyId) {
    throw new InputError('BAD_KEY', 'key', `its id is ${keyId}, but name and key give ${key.keyId}`, 'Copy the key whole, as one line.');
  }
  return key;
}
