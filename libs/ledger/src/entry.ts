import { utf8ToBytes } from '@noble/hashes/utils.js';
import { InputError } from '#libs/quantity';
import { canonicalize, parseCanonical } from './canonical-json.js';

/**
 * One entry of a lab's ledger: somebody wrote something, when and why. The content itself stays in the fact or result;
 * the entry holds its hash, so that the ledger can be shown to people who may not read the content.
 */
export interface LedgerEntry {
  /** Version of this shape. Its meaning never changes; a new shape gets a new number. */
  readonly version: 1;
  /** UUID of the lab whose ledger it is. In the hash, so that no entry can be moved to another lab's ledger. */
  readonly labId: string;
  /** UUID of the entry. */
  readonly id: string;
  /** Who wrote it: the person's or service's id. */
  readonly actorId: string;
  /** What was done, one word: `record`, `amend`, `approve`. */
  readonly action: string;
  /** What it was done to, as the glossary calls it: `weighing`, `calibrationVersion`. */
  readonly subjectKind: string;
  /** Id of that fact or result. */
  readonly subjectId: string;
  /** {@link contentHashHex} of the canonical payload: 64 lower-case hexadecimal digits. */
  readonly contentHash: string;
  /** Why, in the actor's words; left out where none was asked for. */
  readonly reason?: string;
  /** When it was seen in the world: RFC 3339 with offset. Left out for what is not an observation. */
  readonly observedAt?: string;
  /** When the server took it: RFC 3339 with offset. */
  readonly recordedAt: string;
}

type Check = (value: string) => boolean;

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;
const WORD = /^[a-z][A-Za-z0-9]*([._-][A-Za-z0-9]+)*$/;
 
const ID = /^[^\s\u0000-\u001f\u007f]{1,200}$/u;

/** Each member with what it must look like. */
const MEMBERS: Readonly<Record<string, readonly [check: Check, form: string]>> = {
  labId: [(value) => UUID.test(value), 'a lower-case UUID'],
  id: [(value) => UUID.test(value), 'a lower-case UUID'],
  actorId: [(value) => ID.test(value), 'an id of 1 to 200 characters without white space'],
  action: [isWord, 'one word such as record or amend'],
  subjectKind: [isWord, 'one word such as weighing'],
  subjectId: [(value) => ID.test(value), 'an id of 1 to 200 characters without white space'],
  contentHash: [(value) => /^[0-9a-f]{64}$/.test(value), 'a SHA-256 hash as 64 lower-case hexadecimal digits'],
  reason: [(value) => value.length > 0, 'a text that is not empty'],
  observedAt: [isMoment, 'a time such as 2026-04-03T09:15:00.000+02:00'],
  recordedAt: [isMoment, 'a time such as 2026-04-03T09:15:00.000Z'],
};
const OPTIONAL: ReadonlySet<string> = new Set(['reason', 'observedAt']);

/**
 * The bytes of an entry's leaf: its canonical JSON in UTF-8. {@link leafHash} of them is its place in the tree.
 *
 * Members that are `undefined` are the same as left out.
 *
 * @throws InputError `BAD_ENTRY` with the member's name
 */
export function entryLeaf(entry: LedgerEntry): Uint8Array {
  const present = Object.fromEntries(Object.entries(entry).filter(([, value]) => value !== undefined));
  return utf8ToBytes(canonicalize(requireEntry(present)));
}

/**
 * Reads the text of a leaf, strictly: canonical JSON, no member missing, none unknown.
 *
 * @throws InputError `NOT_JSON_TEXT`, `NOT_CANONICAL` or `BAD_ENTRY`
 */
export function parseEntry(text: string): LedgerEntry {
  return requireEntry(parseCanonical(text));
}

/** Gives the value back as an entry when it is one. @throws InputError `BAD_ENTRY` */
export function requireEntry(value: unknown): LedgerEntry {
  if (value === null || typeof value !== 'object' || Array.isArray(value)) {
    throw badEntry('entry', 'not an object');
  }
  const members = value as Record<string, unknown>;
  if (members['version'] !== 1) {
    throw badEntry('version', `version ${JSON.stringify(members['version'])} is not known`, 'Use a newer Threadleaf to read it.');
  }
  for (const name of Object.keys(members)) {
    if (name !== 'version' && !Object.hasOwn(MEMBERS, name)) throw badEntry(name, 'an entry has no such member');
  }
  for (const [name, [check, form]] of Object.entries(MEMBERS)) {
    const member = members[name];
    if (member === undefined && OPTIONAL.has(name)) continue;
    if (typeof member !== 'string' || !check(member)) throw badEntry(name, `expected ${form}`);
  }
  return members as unknown as LedgerEntry;
}

function isWord(value: string): boolean {
  return value.length <= 64 && WORD.test(value);
}

/** A time by RFC 3339 with its offset, of a day that the calendar has. Leap seconds are not accepted: clocks here smear them. */
function isMoment(value: string): boolean {
  const form = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(\.\d{1,9})?(Z|[+-](\d\d):(\d\d))$/.exec(value);
  if (!form) return false;
  const [year, month, day, hour, minute, second] = form.slice(1, 7).map(Number) as [number, number, number, number, number, number];
  const [offsetHour, offsetMinute] = [Number(form[9] ?? 0), Number(form[10] ?? 0)];
  const monthLength = new Date(Date.UTC(year, month, 0)).getUTCDate();
  return month >= 1 && month <= 12 && day >= 1 && day <= monthLength
    && hour <= 23 && minute <= 59 && second <= 59 && offsetHour <= 23 && offsetMinute <= 59;
}

function badEntry(member: string, problem: string, remedy = 'Take the entry from the ledger again.'): InputError {
  return new InputError('BAD_ENTRY', member, problem, remedy);
}
