import {
  buildPack, canonicalize, contentHashHex, packHolds, proveConsistency, sealPack, signKeyChange, signingKeyOf, toHex, defaultSha256, verifierKeyOf, verifyPack,
  type AuditorHolds, type Finding, type LedgerKey, type PackFiles, type PackRecord,
} from '#libs/ledger';
import {
  LAB, ORIGIN, PERSON, RECORDS, checkpointAt, entryOf, idOf, ledgerKey, sampleContents, sampleLedger, samplePack, signingKey,
} from './pack-sample.js';

const utf8 = (text: string): Uint8Array => new TextEncoder().encode(text);
const textOf = (files: PackFiles, path: string): string => new TextDecoder().decode(files.get(path));
const holds: AuditorHolds = { keys: [ledgerKey] };

/**
 * The pack with some files put in, taken out (null) or changed, and the manifest made to agree: what a forger
 * would do. The seal he can only leave away.
 */
function forged(files: PackFiles, changes: Readonly<Record<string, string | Uint8Array | null | ((text: string) => string)>>): PackFiles {
  const pack = new Map(files);
  for (const [path, change] of Object.entries(changes)) {
    if (change === null) pack.delete(path);
    else if (change instanceof Uint8Array) pack.set(path, change);
    else pack.set(path, utf8(typeof change === 'string' ? change : change(textOf(pack, path))));
  }
  return relisted(pack);
}

function relisted(pack: Map<string, Uint8Array>): PackFiles {
  const manifest = JSON.parse(textOf(pack, 'manifest.json')) as { files: { path: string; mediaType: string; title: string }[] };
  const known = new Map(manifest.files.map((file) => [file.path, file]));
  const files = [...pack.keys()].filter((path) => path !== 'manifest.json' && path !== 'seal.txt').sort().map((path) => {
    const bytes = pack.get(path) as Uint8Array;
    return { mediaType: 'text/plain', title: 'x', ...known.get(path), path, bytes: bytes.length, sha256: toHex(defaultSha256(bytes)) };
  });
  const mended = new Map([...pack, ['manifest.json', utf8(canonicalize({ ...manifest, files }))]]);
  mended.delete('seal.txt');
  return mended;
}

const failing = (findings: readonly Finding[]): string[] => [...new Set(findings.filter(({ status }) => status === 'fails').map(({ check }) => check))];
const checks = (findings: readonly Finding[], status: Finding['status']): string[] => [...new Set(findings.filter((f) => f.status === status).map(({ check }) => check))];
const replaceOnce = (from: string, to: string) => (text: string): string => {
  if (!text.includes(from)) throw new Error(`the sample has no ${from}`);
  return text.replace(from, to);
};

describe('a true pack', () => {
  test('holds, and says what it does not prove', async () => {
    const findings = verifyPack(await samplePack(), holds);
    expect(failing(findings)).toEqual([]);
    expect(packHolds(findings)).toBe(true);
    expect(checks(findings, 'holds')).toEqual(['form', 'files', 'seal', 'checkpoint', 'key', 'entries', 'records', 'lineage', 'tables', 'provenance']);
    expect(findings.filter(({ status }) => status === 'unproven').map(({ about }) => about))
      .toEqual(['tables/datapackage.json', 'agents.json', 'ro-crate-metadata.json', 'thread.pdf']);
  });

  test('says so in plain words', async () => {
    const findings = verifyPack(await samplePack(), { ...holds, checkpoint: await checkpointAt(sampleLedger(), 17) });
    expect(findings.filter(({ status }) => status === 'holds').map(({ says }) => says)).toEqual([
      `The pack is about decision ${idOf(5)} and can be read whole.`,
      'All 13 files are as the manifest lists them.',
      'The pack as a whole is as the ledger\'s key sealed it.',
      `The checkpoint of ${ORIGIN} over 41 entries is signed by ${ORIGIN}+${signingKey.keyId}.`,
      `The checkpoint is signed with a key that you hold, or with one that it named as the next: ${ORIGIN}+${signingKey.keyId}.`,
      'The ledger begins with the 17 entries of your checkpoint: none of them was changed, dropped or moved since.',
      'All 5 entries are in the ledger of the checkpoint, each at its place.',
      'All 5 records have the content that the ledger entered, and the author.',
      'Whatever a record in the pack rests on, by its 5 lines of lineage, is in the pack.',
      'The 2 tables say, cell by cell, what the records say.',
      'The provenance says what records, entries and lineage say.',
    ]);
  });

  test('without anything of the auditor\'s own, the key is told to be unproven, and which it is', async () => {
    const findings = verifyPack(await samplePack());
    expect(packHolds(findings)).toBe(true);
    expect(findings.find(({ check }) => check === 'key')).toMatchObject({ status: 'unproven', says: expect.stringContaining(`${ORIGIN}+${signingKey.keyId}+`) });
  });

  test('the same contents give the same bytes, whatever their order', async () => {
    const contents = await sampleContents();
    const turned = {
      ...contents, records: [...contents.records].reverse(), edges: [...contents.edges].reverse(), entries: [...contents.entries].reverse(),
    };
    expect(buildPack(turned)).toEqual(buildPack(contents));
  });

  test('no findings is not "holds"', () => {
    expect(packHolds([])).toBe(false);
  });
});

describe('a changed file is found by manifest and seal', () => {
  test('every file, bytes all over it changed, cut, or taken away', async () => {
    const pack = await samplePack();
    for (const [path, bytes] of pack) {
      const step = Math.ceil(bytes.length / 12);
      for (let at = 0; at < bytes.length; at += step) {
        const changed = bytes.slice();
        changed[at] = (changed[at] as number) ^ (1 << (at % 8));
        expect(packHolds(verifyPack(new Map([...pack, [path, changed]]), holds))).toBe(false);
      }
      expect(packHolds(verifyPack(new Map([...pack, [path, bytes.slice(1)]]), holds))).toBe(false);
      const without = verifyPack(new Map([...pack].filter(([other]) => other !== path)), holds);
      // Without its seal a pack is not false, only less proven, and that is said.
      expect(packHolds(without)).toBe(path === 'seal.txt');
      if (path === 'seal.txt') expect(without.find(({ check }) => check === 'seal')?.status).toBe('unproven');
    }
  });

  test('a file that is not listed', async () => {
    const pack = new Map([...await samplePack(), ['extra.txt', utf8('x')]]);
    expect(failing(verifyPack(pack, holds))).toEqual(['files']);
  });
});

describe('a forger who also mends the manifest', () => {
  const MASS = '"massMg":"71.24"';
  test.each<[string, Parameters<typeof forged>[1], string[]]>([
    ['changes a mass everywhere', {
      'records.jsonl': replaceOnce(MASS, '"massMg":"71.25"'), 'tables/weighing.csv': replaceOnce('71.24', '71.25'),
    }, ['records']],
    ['changes a mass in the table', { 'tables/weighing.csv': replaceOnce('71.24', '71.25') }, ['tables']],
    ['swaps two rows of the table', {
      'tables/weighing.csv': (text) => { const [head, a, ...rest] = text.split('\r\n'); return [head, ...rest.slice(0, -1), a, ''].join('\r\n'); },
    }, ['tables']],
    ['changes the provenance', { 'prov.json': replaceOnce('"prov:role":"turgid"', '"prov:role":"dry"') }, ['provenance']],
    ['changes an entry\'s author', { 'ledger/entries.jsonl': replaceOnce(PERSON, idOf(77)) }, ['entries', 'records', 'provenance']],
    ['changes an entry\'s time', { 'ledger/entries.jsonl': replaceOnce('09:15:01.250Z', '09:15:01.251Z') }, ['entries', 'provenance']],
    ['changes an entry\'s place', { 'ledger/entries.jsonl': replaceOnce('"index":3', '"index":2') }, ['entries']],
    ['changes an entry\'s proof', { 'ledger/entries.jsonl': (text) => text.replace(/("proof":\["..)/, '$1').replace(/"proof":\["(.)/, (_m, c: string) => `"proof":["${c === '0' ? '1' : '0'}`) }, ['entries']],
    ['drops an entry', { 'ledger/entries.jsonl': (text) => text.slice(text.indexOf('\n') + 1) }, ['records', 'provenance']],
    ['drops a weighing', { 'records.jsonl': (text) => text.split('\n').filter((line) => !line.includes('"state":"turgid"')).join('\n') }, ['lineage', 'tables', 'provenance']],
    ['drops a weighing and all lines of lineage with it', {
      'records.jsonl': (text) => text.split('\n').filter((line) => !line.includes('"state":"turgid"')).join('\n'),
      'lineage.jsonl': (text) => text.split('\n').filter((line) => !line.includes(idOf(2))).join('\n'),
    }, ['lineage', 'tables', 'provenance']],
    ['drops a line of lineage', { 'lineage.jsonl': (text) => text.slice(text.indexOf('\n') + 1) }, ['lineage', 'provenance']],
    ['drops the decision', { 'records.jsonl': (text) => text.split('\n').filter((line) => !line.includes('"kind":"decision"')).join('\n') }, ['records', 'lineage', 'provenance']],
    ['changes the size in the checkpoint', { 'ledger/checkpoint.txt': replaceOnce('\n41\n', '\n42\n') }, ['checkpoint']],
    ['says that the ledger is another lab\'s', { 'manifest.json': replaceOnce(`"origin":"${ORIGIN}"`, '"origin":"lab.example/ledger/other"') }, ['checkpoint']],
    ['renames the person', { 'agents.json': replaceOnce('A. Weigher', 'B. Weigher') }, ['provenance']],
    ['changes a unit in the dictionary\'s form', { 'tables/datapackage.json': replaceOnce('"delimiter":","', '"delimiter":";"') }, ['tables']],
  ])('%s', async (_name, changes, expected) => {
    expect(failing(verifyPack(forged(await samplePack(), changes), holds))).toEqual(expected);
  });

  test('cannot keep the seal', async () => {
    const pack = await samplePack();
    const changed = new Map([...forged(pack, { 'thread.pdf': replaceOnce('sample', 'forged') }), ['seal.txt', pack.get('seal.txt') as Uint8Array]]);
    expect(failing(verifyPack(changed, holds))).toEqual(['seal']);
    const own = signingKeyOf(ORIGIN, new Uint8Array(32).fill(66));
    expect(failing(verifyPack(sealPack(changed, ORIGIN, own), holds))).toEqual(['seal']);
    expect(failing(verifyPack(sealPack(pack, 'lab.example/ledger/other', signingKey), holds))).toEqual(['seal']);
  });

  test('brings a whole pack signed with a key of his own', async () => {
    const own = signingKeyOf(ORIGIN, new Uint8Array(32).fill(66));
    const ownKey: LedgerKey = { key: verifierKeyOf(ORIGIN, own.publicKey), firstSize: 0, lastSize: null };
    const records = RECORDS.map((record) => (record.id === idOf(2) ? { ...record, massMg: '80.00' } : record));
    const ledger = sampleLedger(records);
    const pack = buildPack(await sampleContents({ records, keys: [ownKey] }, ledger, own));
    expect(failing(verifyPack(pack, holds))).toEqual(['checkpoint']);
    expect(failing(verifyPack(pack, { checkpoint: await checkpointAt(sampleLedger(), 17) }))).toEqual(['kept checkpoint']);
    expect(verifyPack(pack).find(({ check }) => check === 'key')?.status).toBe('unproven');
  });

  test('continues the true ledger with entries under a key of his own', async () => {
    const own = signingKeyOf(ORIGIN, new Uint8Array(32).fill(66));
    const ownKey: LedgerKey = { key: verifierKeyOf(ORIGIN, own.publicKey), firstSize: 18, lastSize: null };
    const pack = buildPack(await sampleContents({ keys: [ledgerKey, ownKey] }, sampleLedger(), own));
    expect(failing(verifyPack(pack, { checkpoint: await checkpointAt(sampleLedger(), 17) }))).toEqual(['key']);
  });
});

describe('the wrong record', () => {
  const swap = (changes: Partial<PackRecord>): readonly PackRecord[] => RECORDS.map((record) => (record.id === idOf(2) ? { ...record, ...changes } as PackRecord : record));

  test('one that was never entered', async () => {
    const stray: PackRecord = { kind: 'disc', id: idOf(6), labId: LAB, recordedBy: PERSON, label: 'x', uses: [] };
    const findings = verifyPack(await samplePack({ records: [...RECORDS, stray] }), holds);
    expect(findings.filter(({ status }) => status === 'fails')).toEqual([
      { check: 'records', status: 'fails', about: `disc ${idOf(6)}`, says: 'The pack shows no ledger entry for it.' },
    ]);
  });

  test('one whose content was changed, with both hashes told', async () => {
    const contents = await sampleContents();
    const records = swap({ massMg: '71.25' });
    const findings = verifyPack(buildPack({ ...contents, records }), holds);
    expect(findings.filter(({ status }) => status === 'fails')).toEqual([{
      check: 'records', status: 'fails', about: `weighing ${idOf(2)}`,
      says: `Its content is not what the ledger entered: it hashes to ${contentHashHex(records[1])}, the entry says ${contentHashHex(RECORDS[1])}.`,
    }]);
  });

  test('one that was entered twice with different contents, though the true one is shown', async () => {
    const other = entryOf(RECORDS[1] as PackRecord);
    const changed = { ...other, id: idOf(500), contentHash: contentHashHex('other') };
    const contents = await sampleContents();
    const entries = [...contents.entries, { entry: changed, index: 40, proof: [] }];
    expect(failing(verifyPack(buildPack({ ...contents, entries }), holds))).toEqual(['entries', 'records']);
  });

  test('one that does not say what it rests on is told, not failed', async () => {
    const records = RECORDS.map(({ uses: _uses, ...record }) => record as PackRecord);
    const contents = await sampleContents({ records, tables: [] }, sampleLedger(records));
    const findings = verifyPack(buildPack({ ...contents, edges: (await sampleContents()).edges }), holds);
    expect(failing(findings)).toEqual([]);
    expect(findings.find(({ check, status }) => check === 'lineage' && status === 'unproven')?.says).toMatch(/^5 records do not say/);
  });

  test('many failures are told by number', async () => {
    const records = Array.from({ length: 50 }, (_, i): PackRecord => ({ kind: 'disc', id: idOf(100 + i), labId: LAB, recordedBy: PERSON, uses: [] }));
    const findings = verifyPack(await samplePack({ records: [...RECORDS, ...records], tables: [] }), holds).filter(({ check }) => check === 'records');
    expect(findings).toHaveLength(21);
    expect(findings.at(-1)?.says).toBe('And 30 more like these.');
  });
});

describe('the checkpoint that the auditor kept', () => {
  const ledger = sampleLedger();
  const told = async (checkpoint: string, changes = {}): Promise<Finding[]> => verifyPack(await samplePack(changes), { checkpoint });

  test('an earlier one, and the same one: holds, and makes the key trusted', async () => {
    for (const size of [17, 41]) {
      const findings = await told(await checkpointAt(ledger, size));
      expect(failing(findings)).toEqual([]);
      expect(findings.filter(({ check }) => check === 'key' || check === 'kept checkpoint').map(({ status }) => status)).toEqual(['holds', 'holds']);
    }
  });

  test.each<[string, () => Promise<string>, RegExp]>([
    ['of a history that was rewritten since', () => checkpointAt(sampleLedger([{ ...RECORDS[0] as PackRecord, label: 'other' }]), 17), /History was rewritten\.$/],
    ['of the same size with another root', () => checkpointAt(sampleLedger([{ ...RECORDS[0] as PackRecord, label: 'other' }]), 41), /History was rewritten\.$/],
    ['of a later size: the database was set back', () => checkpointAt(sampleLedger(RECORDS, 50), 50), /or the ledger was set back/],
    ['of a size that the pack has no proof for', () => checkpointAt(ledger, 16), /^The pack does not show/],
    ['of another ledger', () => checkpointAt(ledger, 17, signingKey, 'lab.example/ledger/other'), /is of the ledger lab\.example\/ledger\/other/],
    ['that is no checkpoint', () => Promise.resolve('17\n'), /^Your checkpoint does not agree/],
    ['signed by a key that the pack does not have', () => checkpointAt(ledger, 17, signingKeyOf(ORIGIN, new Uint8Array(32).fill(5))), /no key known/],
  ])('%s: fails', async (_name, checkpoint, says) => {
    const findings = await told(await checkpoint());
    expect(failing(findings)).toEqual(['kept checkpoint']);
    expect(findings.find(({ status }) => status === 'fails')?.says).toMatch(says);
  });

  test('of an empty ledger shows nothing', async () => {
    const findings = await told(await checkpointAt(ledger, 0));
    expect(findings.find(({ check }) => check === 'kept checkpoint')?.status).toBe('unproven');
  });

  test('with a false consistency proof: fails', async () => {
    const proof = await proveConsistency(ledger.tree.read, 16, 41);
    const findings = await told(await checkpointAt(ledger, 17), { consistency: [{ oldSize: 17, proof }] });
    expect(failing(findings)).toEqual(['kept checkpoint']);
  });

  test('under the key before: follows the key change, and fails without it', async () => {
    const before = signingKeyOf(ORIGIN, new Uint8Array(32).fill(21));
    const change = signKeyChange({ origin: ORIGIN, next: ledgerKey.key, firstSize: 30 }, before);
    const beforeKey: LedgerKey = { key: verifierKeyOf(ORIGIN, before.publicKey), firstSize: 0, lastSize: 30 };
    const kept = await checkpointAt(ledger, 17, before);
    expect(failing(await told(kept, { keys: [beforeKey, { ...ledgerKey, firstSize: 30, change }] }))).toEqual([]);
    expect(failing(await told(kept, { keys: [beforeKey, { ...ledgerKey, firstSize: 30 }] }))).toEqual(['key']);
    const pack = await samplePack({ keys: [beforeKey, { ...ledgerKey, firstSize: 30, change }] });
    expect(failing(verifyPack(pack, { keys: [beforeKey] }))).toEqual([]);
  });
});

describe('a shared pack', () => {
  const statement = RECORDS.at(-1)!;
  const summary = { depth: 'summary' as const, records: [statement], tables: [] };

  test('shows all that it rests on when it is raw', async () => {
    const findings = verifyPack(await samplePack({ depth: 'raw' }), holds);
    expect(failing(findings)).toEqual([]);
    expect(checks(findings, 'holds')).toContain('lineage');
  });

  test('names what it rests on when it is a summary, and says that it does not show it', async () => {
    const findings = verifyPack(await samplePack(summary), holds);
    expect(failing(findings)).toEqual([]);
    expect(findings).toContainEqual(expect.objectContaining({ check: 'lineage', status: 'unproven', says: expect.stringContaining('one record that it rests on is named, but kept by the lab') }));
  });

  test('that calls itself raw and is not fails, as does one that hides a part of what a summary names', async () => {
    expect(failing(verifyPack(await samplePack({ ...summary, depth: 'raw' }), holds))).toEqual(['lineage']);
    expect(failing(verifyPack(await samplePack({ ...summary, edges: [] }), holds))).toEqual(['lineage']);
  });

  test('cannot be made shallower or deeper on its way', async () => {
    const pack = await samplePack(summary);
    const deeper = new Map(pack).set('manifest.json', utf8(textOf(pack, 'manifest.json').replace('"depth":"summary"', '"depth":"raw"')));
    expect(failing(verifyPack(deeper, holds))).toEqual(['seal', 'lineage']);
  });
});

describe('what is no pack', () => {
  test.each<[string, PackFiles]>([
    ['nothing', new Map()],
    ['another folder', new Map([['readme.txt', utf8('hello')]])],
    ['a manifest that is no JSON', new Map([['manifest.json', utf8('hello')]])],
    ['a manifest that is no UTF-8', new Map([['manifest.json', Uint8Array.of(0xff, 0xfe)]])],
    ['a manifest of something else', new Map([['manifest.json', utf8('{}')]])],
  ])('%s', (_name, files) => {
    expect(verifyPack(files)).toMatchObject([{ check: 'form', status: 'fails' }]);
  });

  test('a version that is not known is refused, not guessed', async () => {
    const pack = forged(await samplePack(), { 'manifest.json': replaceOnce('"version":1', '"version":3') });
    expect(verifyPack(pack, holds)).toMatchObject([{ check: 'form', status: 'fails', says: expect.stringMatching(/newer Threadleaf/) }]);
  });

  test('a version that does not go with its depth is refused', async () => {
    for (const changed of [
      forged(await samplePack(), { 'manifest.json': replaceOnce('"version":1', '"version":2') }),
      forged(await samplePack(), { 'manifest.json': replaceOnce('"createdAt"', '"depth":"raw","createdAt"') }),
    ]) expect(verifyPack(changed, holds)).toMatchObject([{ check: 'form', status: 'fails' }]);
  });

  test.each<[string, string, (text: string) => string, string]>([
    ['a member named twice', 'records.jsonl', (text) => text.replace('"kind":"decision"', '"kind":"x","kind":"decision"'), 'records.jsonl line 1'],
    ['records in another order', 'records.jsonl', (text) => text.trimEnd().split('\n').reverse().map((line) => `${line}\n`).join(''), 'records.jsonl item 2'],
    ['a record twice', 'records.jsonl', (text) => text.replace(/^.*\n/, (line) => line + line), 'records.jsonl item 2'],
    ['two kinds of record of one id', 'records.jsonl', (text) => text.replace(idOf(5), idOf(1)), 'records.jsonl'],
    ['a record of another lab', 'records.jsonl', (text) => text.replace(LAB, idOf(3)), 'records.jsonl line 1.labId'],
    ['an unknown member', 'lineage.jsonl', (text) => text.replace('"fromId"', '"extra":1,"fromId"'), 'lineage.jsonl line 1.extra'],
    ['a last line that does not end', 'lineage.jsonl', (text) => text.trimEnd(), 'lineage.jsonl'],
    ['a byte order mark', 'lineage.jsonl', (text) => `\ufeff${text}`, 'lineage.jsonl line 1'],
    ['an empty line', 'records.jsonl', (text) => `\n${text}`, 'records.jsonl line 1'],
    ['a hundred thousand brackets', 'records.jsonl', (text) => `${'['.repeat(100_000)}${']'.repeat(100_000)}\n${text}`, `records.jsonl line 1 $${'[0]'.repeat(8)}`],
    ['a member called __proto__', 'lineage.jsonl', (text) => text.replace('"fromId"', '"__proto__":1,"fromId"'), 'lineage.jsonl line 1.__proto__'],
    ['a hash in upper case', 'ledger/entries.jsonl', (text) => text.replace(/"proof":\["\w+"/, (hash) => `"proof":["${hash.slice(10).toUpperCase()}`), 'ledger/entries.jsonl line 1.proof[0]'],
    ['a key that is none', 'ledger/keys.json', (text) => text.replace('+A', '+B'), 'key'],
    ['a key change that is none', 'ledger/keys.json', (text) => text.replace('"change":null', '"change":"x"'), 'line 1'],
    ['a path that leads out', 'manifest.json', (text) => text.replace('"path":"agents.json"', '"path":"../agents.json"'), 'manifest.json.files[0].path'],
  ])('%s is refused, with its place', async (_name, path, change, about) => {
    const pack = await samplePack();
    const changed = new Map([...pack, [path, utf8(change(textOf(pack, path)))]]);
    expect(changed.get(path)).not.toEqual(pack.get(path));
    expect(verifyPack(changed, holds)).toMatchObject([{ check: 'form', status: 'fails', about }]);
  });
});

describe('a stored file in the pack', () => {
  const photo = utf8('the bytes of a photo');
  const hash = toHex(defaultSha256(photo));
  const named: PackRecord = { kind: 'stored_file', id: idOf(6), labId: LAB, recordedBy: PERSON, sha256: hash, uses: [] };
  const saysOf = async (path: string, bytes: Uint8Array, records: readonly PackRecord[]): Promise<string | undefined> => {
    const reading = [{ path, bytes, mediaType: 'image/png', title: 'A photo' }];
    const findings = verifyPack(await samplePack({ records: [...RECORDS, ...records], reading }), holds);
    return findings.find(({ about }) => about === path)?.status;
  };

  test('holds when a record names its hash, is unproven when none does, and fails under another name', async () => {
    expect(await saysOf(`files/${hash}.png`, photo, [named])).toBe('holds');
    expect(await saysOf(`files/${hash}.png`, photo, [])).toBe('unproven');
    expect(await saysOf(`files/${hash}.png`, utf8('the bytes of another photo'), [named])).toBe('fails');
  });
});
