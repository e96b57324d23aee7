import { InputError } from '#libs/quantity';
import { canonicalize, parseCanonical, type JsonValue } from '../canonical-json.js';
import { hashFromHex, toHex } from '../content-hash.js';
import { utf8Bytes } from '../utf8.js';

/** Remedy of every error about a pack. */
export const PACK_REMEDY = 'Ask for the pack again from the lab that made it.';

/** The bytes of a file that holds one document, as canonical JSON. */
export function jsonFile(value: unknown): Uint8Array {
  return utf8Bytes(canonicalize(value));
}

/** The bytes of a file with one document a line (JSON Lines), each canonical, in ascending order of the lines' key. */
export function jsonLinesFile(values: readonly unknown[]): Uint8Array {
  return utf8Bytes(values.map((value) => `${canonicalize(value)}\n`).join(''));
}

/** The text of a file. @throws InputError `NOT_TEXT` for bytes that are no UTF-8. */
export function textOf(path: string, bytes: Uint8Array): string {
  try {
    // Without ignoreBOM a byte order mark would vanish, and two files would have one text.
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    throw new InputError('NOT_TEXT', path, 'the file is not UTF-8 text', PACK_REMEDY);
  }
}

/** The document in a file that must hold canonical JSON. */
export function readJson(path: string, bytes: Uint8Array): JsonValue {
  return namingThePlace(path, () => parseCanonical(textOf(path, bytes)));
}

/** A document with its own text and its place in the file, for errors. */
export interface JsonLine {
  readonly value: JsonValue;
  readonly line: string;
  readonly place: string;
}

/** The documents of a file with one a line; each must be canonical and end with a newline. */
export function readJsonLines(path: string, bytes: Uint8Array): JsonLine[] {
  const lines = textOf(path, bytes).split('\n');
  if (lines.pop() !== '') throw new InputError('NOT_LINES', path, 'the last line does not end', PACK_REMEDY);
  return lines.map((line, i) => {
    const place = `${path} line ${i + 1}`;
    return { value: namingThePlace(place, () => parseCanonical(line)), line, place };
  });
}

/** Hashes as a file holds them. */
export function hashesToText(hashes: readonly Uint8Array[]): string[] {
  return hashes.map(toHex);
}

/** Hashes as a file holds them. */
export function hashesFromText(place: string, value: unknown): Uint8Array[] {
  if (!Array.isArray(value)) throw new InputError('BAD_PACK', place, 'expected a list of hashes', PACK_REMEDY);
  return value.map((hex, i) => hashFromHex(`${place}[${i}]`, hex));
}

function namingThePlace<T>(place: string, read: () => T): T {
  try {
    return read();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    throw new InputError(error.code, error.field === '$' ? place : `${place} ${error.field}`, error.problem, error.remedy);
  }
}
