import {
  hashFromHex, keysThatFollow, leafHash, parseCheckpoint, parseEntry, parseVerifierKey, toHex, verifyCheckpoint, verifyConsistency, verifyInclusion, type LedgerKey,
} from '#libs/ledger';

/** What the page shows of an entry: the proof must be of this, and not of another. */
export interface ShownEntry {
  readonly id: string;
  readonly subjectKind: string;
  readonly subjectId: string;
  readonly action: string;
  readonly contentHash: string;
  readonly personId: string;
}

export interface GivenProof {
  readonly leaf: string;
  readonly place: number;
  readonly proof: readonly string[];
  readonly checkpoint: { readonly size: number; readonly text: string };
}

export interface GivenKey {
  readonly key: string;
  readonly firstSize: number;
  readonly lastSize?: number | null;
  readonly change?: string | null;
}

/** One question about an entry, and what this computer found. */
export interface Found {
  readonly question: string;
  readonly status: 'holds' | 'fails' | 'unproven';
  readonly says: string;
}

const found = (question: string, holds: boolean, says: string): Found => ({ question, status: holds ? 'holds' : 'fails', says });

function keysOf(origin: string, given: readonly GivenKey[]): readonly LedgerKey[] {
  const keys = given.map(({ key, firstSize, lastSize, change }): LedgerKey => ({ key: parseVerifierKey(key), firstSize, lastSize: lastSize ?? null, ...(change ? { change } : {}) }));
  // Each later key counts only as far as the key before it named it.
  return keysThatFollow(origin, keys.slice(0, 1), keys);
}

/** Whatever the server sent is a claim; an answer that cannot even be read is one that fails. */
function tried(question: string, check: () => Found): Found {
  try {
    return check();
  } catch (error) {
    return found(question, false, error instanceof Error ? error.message : String(error));
  }
}

/** Checks on this computer that the entry shown is in the ledger of the signed checkpoint. The server is asked for nothing here. */
export function proveEntry(shown: ShownEntry, given: GivenProof, keys: readonly GivenKey[]): readonly Found[] {
  return [
    tried('Is the proof of this entry?', () => {
      const entry = parseEntry(given.leaf);
      const same = entry.id === shown.id && entry.subjectKind === shown.subjectKind && entry.subjectId === shown.subjectId && entry.contentHash === shown.contentHash
        && entry.action === shown.action && entry.actorId === shown.personId;
      return found('Is the proof of this entry?', same, same ? 'The entry that was hashed names this record, this content, this verb and this person.' : 'The entry that was hashed is not the one shown on this page.');
    }),
    tried('Is the checkpoint signed by the ledger’s key?', () => {
      const { origin } = parseCheckpoint(given.checkpoint.text);
      const verdict = verifyCheckpoint(given.checkpoint.text, `threadleaf/ledger/${parseEntry(given.leaf).labId}`, keysOf(origin, keys));
      return found('Is the checkpoint signed by the ledger’s key?', verdict.holds, verdict.holds ? `The signature over ${verdict.checkpoint.size} entries is good (Ed25519).` : `It does not hold: ${verdict.why}.`);
    }),
    tried('Is the entry in that ledger, at its place?', () => {
      const { size, root } = parseCheckpoint(given.checkpoint.text);
      const verdict = verifyInclusion({ index: given.place, size, leafHash: leafHash(new TextEncoder().encode(given.leaf)), proof: given.proof.map((hash) => hashFromHex('proof', hash)), root });
      return found('Is the entry in that ledger, at its place?', verdict.holds,
        verdict.holds ? `Place ${given.place} of ${size}: ${given.proof.length} hashes lead from the entry to the root ${toHex(root).slice(0, 12)}… of the checkpoint.` : `It does not hold: ${verdict.why}.`);
    }),
  ];
}

/** The keys alone: this page got them from the server that it checks. */
export const keyUnproven: Found = {
  question: 'Is it the lab’s own key?', status: 'unproven',
  says: 'The key came from this server. Compare it with the one the lab published, or load a checkpoint that you kept.',
};

export interface KeptCheckpoint {
  readonly origin: string;
  readonly size: number;
}

/** Reads what a person pasted or loaded. @throws InputError when it is no checkpoint */
export const readKept = (text: string): KeptCheckpoint => parseCheckpoint(text.endsWith('\n') ? text : `${text}\n`);

/** Is what the ledger says now the continuation of what somebody kept? `consistency` is null where the sizes are equal. */
export function proveKept(keptText: string, now: GivenProof['checkpoint'], keys: readonly GivenKey[], consistency: readonly string[] | null): Found {
  const question = 'Does the ledger still begin with what you kept?';
  return tried(question, () => {
    const text = keptText.endsWith('\n') ? keptText : `${keptText}\n`;
    const [kept, newest] = [parseCheckpoint(text), parseCheckpoint(now.text)];
    if (kept.origin !== newest.origin) return found(question, false, `You kept a checkpoint of another ledger: ${kept.origin}.`);
    const signed = verifyCheckpoint(text, newest.origin, keysOf(newest.origin, keys));
    if (!signed.holds) return found(question, false, `The checkpoint that you kept is not signed by a key of this ledger: ${signed.why}. Either it was not made by this ledger, or the keys were exchanged.`);
    if (kept.size > newest.size) return found(question, false, `You kept ${kept.size} entries, the ledger now has ${newest.size}: it was set back.`);
    if (kept.size === newest.size) {
      const same = toHex(kept.root) === toHex(newest.root);
      return found(question, same, same ? `It is the same ledger of ${kept.size} entries.` : `Both have ${kept.size} entries and different roots: history was written anew.`);
    }
    const verdict = verifyConsistency({ oldSize: kept.size, oldRoot: kept.root, newSize: newest.size, newRoot: newest.root, proof: (consistency ?? []).map((hash) => hashFromHex('proof', hash)) });
    return found(question, verdict.holds, verdict.holds ? `All ${kept.size} entries that you kept the root of are the beginning of the ${newest.size} of now, unchanged and in their order.` : `It does not hold: ${verdict.why}. History was written anew.`);
  });
}
