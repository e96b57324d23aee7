import {
  checkLedger, contentHashHex, entryLeaf, rootAt, signCheckpoint, signingKeyOf, toHex, type LedgerCheck, type LedgerEntry, type WholeLedger,
} from '#libs/ledger';
import { LAB, ORIGIN, PERSON, idOf, ledgerKey, signingKey } from './pack-sample.js';
import { storedTree } from './stored-tree.js';

const SIZE = 40;
const entries = Array.from({ length: SIZE }, (_, i): LedgerEntry => ({
  version: 1, labId: LAB, id: idOf(i), actorId: PERSON, action: 'record', subjectKind: 'weighing', subjectId: idOf(1000 + i),
  contentHash: contentHashHex(i), recordedAt: '2026-04-03T08:00:00.000Z',
}));
const tree = storedTree();
entries.forEach((entry) => tree.append(entryLeaf(entry)));
const checkpoint = async (size: number, key = signingKey): Promise<string> => signCheckpoint({ origin: ORIGIN, size, root: await rootAt(tree.read, size) }, key);

async function check(changes: Partial<WholeLedger> = {}): Promise<LedgerCheck> {
  const checkpoints = await Promise.all([40, 8, 17, 0].map((size) => checkpoint(size)));
  return checkLedger({ labId: LAB, origin: ORIGIN, entries, checkpoints, keys: [ledgerKey], read: tree.read, ...changes });
}
const about = ({ flaws }: LedgerCheck): string[] => flaws.map((flaw) => flaw.about);
const put = (at: number, ...others: LedgerEntry[]): LedgerEntry[] => [...entries.slice(0, at), ...others, ...entries.slice(at + 1)];
const entryAt = (at: number): LedgerEntry => entries[at] as LedgerEntry;

describe('a whole ledger', () => {
  test('without a flaw', async () => {
    const found = await check();
    expect(found).toMatchObject({ size: SIZE, flaws: [] });
    expect(toHex(found.root)).toBe(toHex(await rootAt(tree.read, SIZE)));
  });

  test('may come as a stream, and be longer than its last checkpoint', async () => {
    async function* stream(): AsyncGenerator<LedgerEntry> { yield* entries; }
    expect(await check({ entries: stream(), checkpoints: [await checkpoint(17)] })).toMatchObject({ size: SIZE, flaws: [] });
  });

  test('an empty one', async () => {
    expect(await check({ entries: [], checkpoints: [await checkpoint(0)] })).toMatchObject({ size: 0, flaws: [] });
  });
});

describe('attacks on the table of entries, every node left as it was', () => {
  const changed: Partial<LedgerEntry>[] = [
    { actorId: 'somebody' }, { action: 'amend' }, { subjectKind: 'disc' }, { subjectId: idOf(1) }, { contentHash: contentHashHex('x') },
    { reason: 'because' }, { observedAt: '2026-04-03T08:00:00.000Z' }, { recordedAt: '2026-04-03T08:00:00.001Z' },
  ];

  test.each(changed)('a member changed: %j', async (change) => {
    for (const at of [0, 7, 8, 16, 39]) {
      const found = about(await check({ entries: put(at, { ...entryAt(at), ...change }) }));
      expect(found).toContain(`node (0, ${at})`);
      expect(found).toContain('checkpoint over 40 entries');
    }
  });

  test('without stored nodes too, from the first checkpoint that covers it', async () => {
    const found = await check({ entries: put(10, { ...entryAt(10), action: 'amend' }), read: undefined });
    expect(about(found)).toEqual(['checkpoint over 17 entries', 'checkpoint over 40 entries']);
  });

  test('one deleted', async () => {
    expect(about(await check({ entries: put(39) }))).toEqual(['checkpoint over 40 entries']);
    expect(about(await check({ entries: put(20), read: undefined }))).toEqual(['checkpoint over 40 entries']);
  });

  test('one inserted', async () => {
    const found = await check({ entries: put(20, { ...entryAt(20), id: idOf(500) }, entryAt(20)), read: undefined });
    expect(about(found)).toEqual(['checkpoint over 40 entries']);
  });

  test('two in the wrong order', async () => {
    const turned = [...entries.slice(0, 5), entryAt(6), entryAt(5), ...entries.slice(7)];
    expect(about(await check({ entries: turned, read: undefined }))).toEqual(['checkpoint over 8 entries', 'checkpoint over 17 entries', 'checkpoint over 40 entries']);
  });

  test('one of another lab', async () => {
    expect((await check({ entries: put(39, { ...entryAt(39), labId: idOf(7) }) })).flaws[0])
      .toEqual({ about: 'entry at place 39', says: `It is of the lab ${idOf(7)}.` });
  });

  test('one that stands twice', async () => {
    expect((await check({ entries: [...entries, entryAt(3)], read: undefined })).flaws)
      .toEqual([{ about: 'entry at place 40', says: `The entry ${idOf(3)} stands in the ledger twice.` }]);
  });

  test('one that is none', async () => {
    const found = await check({ entries: put(20, { ...entryAt(20), contentHash: 'x' }), read: undefined });
    expect(about(found)).toEqual(['entry at place 20', 'checkpoint over 40 entries']);
  });

  test('the whole set back to an older state', async () => {
    expect((await check({ entries: entries.slice(0, 17) })).flaws).toEqual([
      { about: 'checkpoint over 40 entries', says: 'The ledger has only 17 entries: some are missing, or it was set back.' },
    ]);
  });
});

describe('attacks on nodes and checkpoints', () => {
  test('any stored node changed or gone', async () => {
    for (const key of tree.nodes.keys()) {
      const [level, index] = key.split('/').map(Number);
      for (const damaged of [new Uint8Array(32), undefined]) {
        const read: WholeLedger['read'] = async (places) => {
          const hashes = await tree.read(places);
          return hashes.map((hash, i) => (`${places[i]?.level}/${places[i]?.index}` === key ? damaged as Uint8Array : hash));
        };
        expect(about(await checkLedger({ labId: LAB, origin: ORIGIN, entries, checkpoints: [], keys: [], read }))).toEqual([`node (${level}, ${index})`]);
      }
    }
  });

  test('a checkpoint with another root, of another key, or of another ledger', async () => {
    const forged = signCheckpoint({ origin: ORIGIN, size: 17, root: new Uint8Array(32) }, signingKey);
    expect(about(await check({ checkpoints: [await checkpoint(17), forged] }))).toEqual(['checkpoint over 17 entries']);
    const foreign = await checkpoint(17, signingKeyOf(ORIGIN, new Uint8Array(32).fill(5)));
    expect(about(await check({ checkpoints: [foreign] }))).toEqual(['checkpoint 1 of 1']);
    expect(about(await check({ origin: 'lab.example/ledger/other', checkpoints: [await checkpoint(17)] }))).toEqual(['checkpoint 1 of 1']);
  });
});
