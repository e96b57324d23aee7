import fc from 'fast-check';
import { InputError } from '#libs/quantity';
import { canonicalize, defaultSha256, packHolds, toHex, unzipPack, verifyPack, zipPack, type PackFiles } from '#libs/ledger';
import { checkpointAt, ledgerKey, sampleLedger, samplePack } from './pack-sample.js';

/** Files whose every byte the ledger or the verifier's own reckoning vouches for, manifest and seal apart. */
const PROVEN = ['records.jsonl', 'lineage.jsonl', 'ledger/entries.jsonl', 'ledger/checkpoint.txt', 'prov.json', 'tables/disc.csv', 'tables/weighing.csv'];

type Damage = (bytes: Uint8Array) => Uint8Array;

const turnBit = fc.tuple(fc.nat(), fc.nat(7)).map(([at, bit]): Damage => (bytes) => {
  const copy = bytes.slice();
  if (copy.length > 0) copy[at % copy.length] = (copy[at % copy.length] as number) ^ (1 << bit);
  return copy;
});
const cut = fc.tuple(fc.nat(), fc.nat(40)).map(([at, length]): Damage => (bytes) => {
  const from = at % (bytes.length + 1);
  return Uint8Array.of(...bytes.subarray(0, from), ...bytes.subarray(from + 1 + length));
});
const insert = fc.tuple(fc.nat(), fc.uint8Array({ minLength: 1, maxLength: 20 })).map(([at, extra]): Damage => (bytes) => {
  const from = at % (bytes.length + 1);
  return Uint8Array.of(...bytes.subarray(0, from), ...extra, ...bytes.subarray(from));
});
/** Damage that stays JSON, which gets past the reader: digits, hexadecimal letters, a line dropped, doubled or moved. */
const changeDigit = fc.tuple(fc.nat(), fc.nat(15)).map(([at, digit]): Damage => (bytes) => {
  const places = [...bytes.keys()].filter((i) => /[0-9a-f]/.test(String.fromCharCode(bytes[i] as number)));
  const copy = bytes.slice();
  if (places.length > 0) copy[places[at % places.length] as number] = digit.toString(16).charCodeAt(0);
  return copy;
});
const changeLines = fc.tuple(fc.nat(), fc.constantFrom('drop', 'double', 'swap')).map(([at, how]): Damage => (bytes) => {
  const lines = new TextDecoder().decode(bytes).split('\n').slice(0, -1);
  const i = at % Math.max(lines.length, 1);
  const [line = '', next = ''] = lines.slice(i, i + 2);
  if (how === 'drop') lines.splice(i, 1);
  else if (how === 'double') lines.splice(i, 0, line);
  else lines.splice(i, 2, next, line);
  return new TextEncoder().encode(lines.map((text) => `${text}\n`).join(''));
});
const damage = fc.oneof(turnBit, cut, insert, { arbitrary: changeDigit, weight: 3 }, { arbitrary: changeLines, weight: 2 });

/** As a forger would: the manifest mended to the changed files, the seal left away. */
function mended(pack: Map<string, Uint8Array>): PackFiles {
  let manifest: { files: { path: string }[] };
  try {
    manifest = JSON.parse(new TextDecoder().decode(pack.get('manifest.json'))) as typeof manifest;
    manifest.files = manifest.files.map((file) => {
      const bytes = pack.get(file.path) ?? new Uint8Array(0);
      return { ...file, bytes: bytes.length, sha256: toHex(defaultSha256(bytes)) };
    });
  } catch {
    return pack;
  }
  pack.set('manifest.json', new TextEncoder().encode(canonicalize(manifest)));
  pack.delete('seal.txt');
  return pack;
}

const same = (a: Uint8Array | undefined, b: Uint8Array | undefined): boolean => Buffer.compare(a ?? new Uint8Array(0), b ?? new Uint8Array(0)) === 0;

describe('a thousand damaged packs: no crash, and none is said to hold', () => {
  test('files damaged, with the manifest mended or not', async () => {
    const pack = await samplePack();
    const checkpoint = await checkpointAt(sampleLedger(), 17);
    let heldByMistake = 0;
    let changedPacks = 0;
    fc.assert(fc.property(fc.constantFrom(...pack.keys()), fc.array(damage, { minLength: 1, maxLength: 3 }), fc.boolean(), (path, damages, mend) => {
      const changed = new Map(pack);
      changed.set(path, damages.reduce((bytes, spoil) => spoil(bytes), pack.get(path) as Uint8Array));
      if (same(changed.get(path), pack.get(path))) return;
      const findings = verifyPack(mend ? mended(changed) : changed, { keys: [ledgerKey], checkpoint });
      // A mended file for reading is the one thing that cannot be told; then the missing seal is.
      const mustFail = !mend || PROVEN.includes(path);
      changedPacks += mustFail ? 1 : 0;
      if (mustFail && packHolds(findings)) heldByMistake += 1;
      if (!mustFail && packHolds(findings)) expect(findings.find(({ check }) => check === 'seal')?.status).toBe('unproven');
    }), { seed: 20260403, numRuns: 1000 });
    expect(heldByMistake).toBe(0);
    expect(changedPacks).toBeGreaterThan(600);
  }, 120_000);

  test('the ZIP damaged', async () => {
    const pack = await samplePack();
    const zip = zipPack(pack);
    let refused = 0;
    fc.assert(fc.property(fc.array(fc.oneof(turnBit, cut, insert), { minLength: 1, maxLength: 3 }), (damages) => {
      const spoilt = damages.reduce((bytes, spoil) => spoil(bytes), zip);
      let files: PackFiles;
      try {
        files = unzipPack(spoilt);
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        refused += 1;
        return;
      }
      const untouched = files.size === pack.size && [...pack].every(([path, bytes]) => same(files.get(path), bytes));
      if (!untouched && packHolds(verifyPack(files, { keys: [ledgerKey] }))) {
        // The one part that a pack may be without, and tells.
        expect([...pack.keys()].filter((path) => !same(files.get(path), pack.get(path)))).toEqual(['seal.txt']);
      }
    }), { seed: 20260404, numRuns: 1000 });
    expect(refused).toBeGreaterThan(50);
  }, 120_000);
});
