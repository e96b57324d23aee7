import { InputError } from '#libs/quantity';
import { canonicalize, parseCanonical } from './canonical-json.js';
import { HASH_HEX, ID, MOMENT, TEXT, UUID, WORD, requireShape, shapeOf } from './shape.js';
import { utf8Bytes } from './utf8.js';

/**
 * One entry of a lab's ledger: somebody wrote something, when and why. The content itself stays in the fact or result;
 * the entry holds its hash, so that the ledger can be shown to people who may not read the content.
 */
export interface LedgerEntry {
  /** Version of this shape. Its meaning never changes; a new shape gets a new number. 2 has a `tokenId`, 1 has none. */
  readonly version: 1 | 2;
  /** UUID of the lab whose ledger it is. In the hash, so that no entry can be moved to another lab's ledger. */
  readonly labId: string;
  /** UUID of the entry. */
  readonly id: string;
  /** Who wrote it: the person's or service's id. */
  readonly actorId: string;
  /** The access token of that person through which it came, as from a bench computer; left out for what came from a signed-in hand. */
  readonly tokenId?: string;
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

const REMEDY = 'Take the entry from the ledger again.';
const ENTRY = shapeOf({
  version: [(value) => value === 1 || value === 2, 'version 1 or 2; a newer Threadleaf may know others'],
  labId: UUID,
  id: UUID,
  actorId: ID,
  'tokenId?': UUID,
  action: WORD,
  subjectKind: WORD,
  subjectId: ID,
  contentHash: HASH_HEX,
  'reason?': TEXT,
  'observedAt?': MOMENT,
  recordedAt: MOMENT,
});

/**
 * The bytes of an entry's leaf: its canonical JSON in UTF-8. {@link leafHash} of them is its place in the tree.
 *
 * Members that are `undefined` are the same as left out.
 *
 * @throws InputError `BAD_ENTRY` with the member's name
 */
export function entryLeaf(entry: LedgerEntry): Uint8Array {
  const hasGaps = Object.values(entry).includes(undefined);
  const present = hasGaps ? Object.fromEntries(Object.entries(entry).filter(([, value]) => value !== undefined)) : entry;
  return utf8Bytes(canonicalize(requireEntry(present)));
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
  const entry = requireShape(value, ENTRY, 'BAD_ENTRY', '', REMEDY) as unknown as LedgerEntry;
  if ((entry.version === 2) !== (entry.tokenId !== undefined)) {
    throw new InputError('BAD_ENTRY', 'tokenId', `version ${entry.version} has ${entry.version === 2 ? 'one' : 'none'}`, REMEDY);
  }
  return entry;
}
