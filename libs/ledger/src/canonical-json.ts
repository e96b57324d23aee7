import { InputError } from '#libs/quantity';

/**
 * What canonical JSON can carry. An `interface` has no index signature, so a typed document is passed as `unknown`
 * and checked while it is written; this type says what passes.
 */
export type JsonValue =
  | null
  | boolean
  | number
  | string
  | readonly JsonValue[]
  | { readonly [name: string]: JsonValue };

/** Deeper nesting is refused: it is a cycle, or an attack on the verifier's stack. No record comes near it. */
const MAX_DEPTH = 200;

/** A string without these is written between quotes as it stands; with them it needs escapes or a look at its surrogates. */
const NEEDS_CARE = /["\\\u0000-\u001f\ud800-\udfff]/;
/** With the `u` flag a paired surrogate is one code point, so that this matches only a lone one. */
const LONE_SURROGATE = /\p{Surrogate}/u;

/**
 * The canonical JSON text of a value by RFC 8785 (JSON Canonicalization Scheme): no white space, members sorted by
 * the UTF-16 code units of their names, numbers and strings as ECMAScript writes them. Equal values have equal text,
 * so that their hash can be compared by anyone, in any language.
 *
 * Nothing is dropped or mended on the way. `JSON.stringify` leaves out `undefined`, turns NaN into null and calls
 * `toJSON`; a record hashed like that would prove something other than what was handed in, so all of it is refused.
 *
 * @param value null, boolean, finite number, well-formed string, array, or plain object of these
 * @returns text; its UTF-8 bytes are what is hashed. Minus zero is written `0` (RFC 8785, section 3.2.2.3).
 * @throws InputError whose field is the place in the value, such as `$.readings[3].powerNw`:
 *   `NOT_FINITE` (NaN, infinity), `LONE_SURROGATE` (a string or name that UTF-8 cannot carry), `NOT_JSON` (undefined,
 *   hole, bigint, symbol, function), `NOT_PLAIN` (Date, Map, class instance, symbol-named member), `TOO_DEEP`
 *   (cycle, or more than 200 levels).
 * @see https://www.rfc-editor.org/rfc/rfc8785
 * @example
 * canonicalize({ rwc: 0.8, disc: 'D-7' }); // '{"disc":"D-7","rwc":0.8}'
 */
export function canonicalize(value: unknown): string {
  return write(value, []);
}

/**
 * Reads text that must already be canonical, and gives its value.
 *
 * A reader that merely parsed would accept two texts for one value (other order, white space, a member named twice,
 * of which `JSON.parse` keeps the last), and then the bytes kept and the value shown could differ.
 *
 * @throws InputError `NOT_JSON_TEXT` when the text is no JSON, `NOT_CANONICAL` when it is another text for its value.
 */
export function parseCanonical(text: string): JsonValue {
  let value: JsonValue;
  try {
    value = JSON.parse(text) as JsonValue;
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    throw new InputError('NOT_JSON_TEXT', '$', `the text is not JSON (${reason})`, 'Take the file from its source again.');
  }
  if (canonicalize(value) !== text) {
    throw new InputError('NOT_CANONICAL', '$', 'the text is JSON but not in the canonical form of RFC 8785',
      'Take the file from its source again; do not open and save it in an editor.');
  }
  return value;
}

type Path = (string | number)[];

function write(value: unknown, path: Path): string {
  switch (typeof value) {
    case 'string': return writeString(value, path);
    case 'number': return writeNumber(value, path);
    case 'boolean': return value ? 'true' : 'false';
    case 'object': return value === null ? 'null' : writeContainer(value, path);
    default:
      throw new InputError('NOT_JSON', placeOf(path), `JSON has no ${typeof value}`,
        'Leave the member out, or give null, a number or a text.');
  }
}

function writeContainer(value: object, path: Path): string {
  if (path.length >= MAX_DEPTH) {
    throw new InputError('TOO_DEEP', placeOf(path.slice(0, 8)), `more than ${MAX_DEPTH} levels of nesting, or a cycle`,
      'Give a document that does not contain itself.');
  }
  return Array.isArray(value) ? writeArray(value, path) : writeObject(value, path);
}

function writeArray(items: readonly unknown[], path: Path): string {
  let text = '';
  for (let i = 0; i < items.length; i++) {
    path.push(i);
    text += (i === 0 ? '' : ',') + write(items[i], path);
    path.pop();
  }
  return `[${text}]`;
}

function writeObject(value: object, path: Path): string {
  requirePlain(value, path);
  const members = value as Record<string, unknown>;
  // sort() without a comparison orders by UTF-16 code units, which is what RFC 8785 section 3.2.3 asks for.
  const names = Object.keys(members).sort();
  let text = '';
  for (let i = 0; i < names.length; i++) {
    const name = names[i] as string;
    path.push(name);
    text += `${i === 0 ? '' : ','}${writeString(name, path)}:${write(members[name], path)}`;
    path.pop();
  }
  return `{${text}}`;
}

function writeString(text: string, path: Path): string {
  if (!NEEDS_CARE.test(text)) return `"${text}"`;
  if (LONE_SURROGATE.test(text)) {
    throw new InputError('LONE_SURROGATE', placeOf(path), 'the text holds half of a surrogate pair, which UTF-8 cannot carry',
      'Enter the text again; it was cut in the middle of a character.');
  }
  return JSON.stringify(text);
}

function writeNumber(value: number, path: Path): string {
  if (!Number.isFinite(value)) {
    throw new InputError('NOT_FINITE', placeOf(path), `JSON has no ${value}`, 'Give a finite number, or null with a reason.');
  }
  return String(value);
}

/**
 * Plain means: made by a literal, by JSON.parse or without a prototype. The test counts prototypes instead of
 * comparing with `Object.prototype`, because a worker or test realm has another `Object` than the library.
 */
function requirePlain(value: object, path: Path): void {
  const prototype: unknown = Object.getPrototypeOf(value);
  const isPlain = prototype === null || Object.getPrototypeOf(prototype) === null;
  if (!isPlain) {
    const kind = (value as { constructor?: { name?: string } }).constructor?.name ?? 'object';
    throw new InputError('NOT_PLAIN', placeOf(path), `a ${kind} has no single JSON form`,
      'Convert it first: a time to an ISO 8601 text, a map to an object.');
  }
  if (Object.getOwnPropertySymbols(value).length > 0) {
    throw new InputError('NOT_PLAIN', placeOf(path), 'the object has a member named by a symbol', 'Name every member by a text.');
  }
}

/** `$.readings[3].powerNw`; a name that is no identifier is quoted: `$["dry mass"]`. */
function placeOf(path: readonly (string | number)[]): string {
  let place = '$';
  for (const step of path) {
    if (typeof step === 'number') place += `[${step}]`;
    else if (/^[A-Za-z_]\w*$/.test(step)) place += `.${step}`;
    else place += `[${JSON.stringify(step)}]`;
  }
  return place;
}
