import { appendLeaf, EMPTY_FRONTIER, entryLeaf, formatVerifierKey, frontierRoot, leafHash, proveConsistency, proveInclusion, signCheckpoint, signingKeyOf, toHex, type Frontier, type LedgerEntry, type NodePlace } from '#libs/ledger';
import { proveEntry, proveKept, type GivenKey, type GivenProof, type ShownEntry } from '../src/features/ledger/parts/prove.js';

const LAB = '01a21855-7ffc-7000-8000-000000000001';
const ORIGIN = `threadleaf/ledger/${LAB}`;
const SIZE = 11;
const key = signingKeyOf(ORIGIN, new Uint8Array(32).fill(7));
const stranger = signingKeyOf(ORIGIN, new Uint8Array(32).fill(8));
const keys: readonly GivenKey[] = [{ key: formatVerifierKey(key), firstSize: 0, lastSize: null, change: null }];

const uuid = (n: number): string => `01a21855-7ffc-7000-8000-${String(n).padStart(12, '0')}`;
const entries = Array.from({ length: SIZE }, (_, n): LedgerEntry => ({
  version: 1, labId: LAB, id: uuid(100 + n), actorId: uuid(7), action: 'record', subjectKind: 'weighing', subjectId: uuid(200 + n), contentHash: String(n % 10).repeat(64), recordedAt: '2026-06-03T09:05:00.000Z',
}));

/** A ledger grown entry by entry, as the server grows it. */
function grow(leaves: readonly Uint8Array[]) {
  const nodes = new Map<string, Uint8Array>();
  const roots: Uint8Array[] = [frontierRoot(EMPTY_FRONTIER)];
  let frontier: Frontier = EMPTY_FRONTIER;
  for (const leaf of leaves) {
    const step = appendLeaf(frontier, leafHash(leaf));
    for (const { level, index, hash } of step.nodes) nodes.set(`${level} ${index}`, hash);
    frontier = step.frontier;
    roots.push(frontierRoot(frontier));
  }
  return { roots, read: async (places: readonly NodePlace[]) => places.map(({ level, index }) => nodes.get(`${level} ${index}`)!) };
}

const ledger = grow(entries.map(entryLeaf));
const checkpointAt = (size: number, by = key): string => signCheckpoint({ origin: ORIGIN, size, root: ledger.roots[size]! }, by);

async function given(place: number): Promise<GivenProof> {
  return {
    leaf: new TextDecoder().decode(entryLeaf(entries[place]!)), place, proof: (await proveInclusion(ledger.read, place, SIZE)).map(toHex),
    checkpoint: { size: SIZE, text: checkpointAt(SIZE) },
  };
}

const shown = (place: number): ShownEntry => ({ ...entries[place]!, personId: entries[place]!.actorId });
const statuses = (findings: readonly { status: string }[]): string[] => findings.map(({ status }) => status);

describe('the proof of an entry, on the reader’s computer', () => {
  it('holds for every entry of a ledger that is as it should be', async () => {
    for (let place = 0; place < SIZE; place += 1) expect(statuses(proveEntry(shown(place), await given(place), keys))).toEqual(['holds', 'holds', 'holds']);
  });

  it('is found out when it is of another entry, content, person or place', async () => {
    const proof = await given(4);
    expect(statuses(proveEntry(shown(5), proof, keys))[0]).toBe('fails');
    expect(statuses(proveEntry({ ...shown(4), contentHash: 'f'.repeat(64) }, proof, keys))[0]).toBe('fails');
    expect(statuses(proveEntry({ ...shown(4), personId: uuid(8) }, proof, keys))[0]).toBe('fails');
    expect(statuses(proveEntry(shown(4), { ...proof, leaf: proof.leaf.replace('"record"', '"retract"') }, keys))).toEqual(['fails', 'holds', 'fails']);
    expect(statuses(proveEntry(shown(4), { ...proof, place: 5 }, keys))[2]).toBe('fails');
    expect(statuses(proveEntry(shown(4), { ...proof, proof: proof.proof.slice(1) }, keys))[2]).toBe('fails');
    expect(statuses(proveEntry(shown(4), { ...proof, proof: ['not hex'] }, keys))[2]).toBe('fails');
  });

  it('is found out when another key signed, or nobody did', async () => {
    const proof = await given(4);
    expect(statuses(proveEntry(shown(4), { ...proof, checkpoint: { size: SIZE, text: checkpointAt(SIZE, stranger) } }, keys))[1]).toBe('fails');
    expect(statuses(proveEntry(shown(4), { ...proof, checkpoint: { size: SIZE, text: 'no note' } }, keys)).slice(1)).toEqual(['fails', 'fails']);
  });
});

describe('a kept checkpoint', () => {
  const now = { size: SIZE, text: checkpointAt(SIZE) };

  it('of any size agrees with the ledger that grew from it', async () => {
    for (let size = 1; size < SIZE; size += 1) expect(proveKept(checkpointAt(size), now, keys, (await proveConsistency(ledger.read, size, SIZE)).map(toHex))).toMatchObject({ status: 'holds' });
    expect(proveKept(now.text.trimEnd(), now, keys, null)).toMatchObject({ status: 'holds' });
  });

  it('finds out a history that was written anew, or set back', async () => {
    const other = grow(entries.map((entry, n) => entryLeaf(n === 2 ? { ...entry, contentHash: 'e'.repeat(64) } : entry)));
    const kept = signCheckpoint({ origin: ORIGIN, size: 6, root: other.roots[6]! }, key);
    expect(proveKept(kept, now, keys, (await proveConsistency(ledger.read, 6, SIZE)).map(toHex))).toMatchObject({ status: 'fails', says: expect.stringContaining('written anew') });
    expect(proveKept(signCheckpoint({ origin: ORIGIN, size: SIZE, root: other.roots[SIZE]! }, key), now, keys, null)).toMatchObject({ status: 'fails' });
    expect(proveKept(now.text, { size: 5, text: checkpointAt(5) }, keys, null)).toMatchObject({ status: 'fails', says: expect.stringContaining('set back') });
  });

  it('of another ledger or signed by another key does not agree', () => {
    const elsewhere = signingKeyOf('threadleaf/ledger/other', new Uint8Array(32).fill(7));
    expect(proveKept(signCheckpoint({ origin: 'threadleaf/ledger/other', size: 3, root: ledger.roots[3]! }, elsewhere), now, keys, [])).toMatchObject({ status: 'fails' });
    expect(proveKept(checkpointAt(3, stranger), now, keys, [])).toMatchObject({ status: 'fails' });
  });
});
