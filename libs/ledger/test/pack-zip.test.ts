import { zipSync } from 'fflate';
import { InputError } from '#libs/quantity';
import { packHolds, unzipPack, verifyPack, zipPack } from '#libs/ledger';
import { ledgerKey, samplePack } from './pack-sample.js';

function refusal(work: () => unknown): string {
  try {
    work();
  } catch (error) {
    if (error instanceof InputError) return error.code;
    throw error;
  }
  throw new Error('expected an InputError, but nothing was thrown');
}

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);

/** The ZIP with a file's name replaced by one of equal length, in its local header and in the directory. */
function renamed(zip: Uint8Array, from: string, to: string): Uint8Array {
  return new Uint8Array(Buffer.from(Buffer.from(zip).toString('latin1').replaceAll(from, to), 'latin1'));
}

describe('the ZIP of a pack', () => {
  test('gives the files back, and the same bytes for the same files', async () => {
    const pack = await samplePack();
    const zip = zipPack(pack);
    expect(new Map([...unzipPack(zip)].sort())).toEqual(new Map([...pack].sort()));
    expect(zipPack(new Map([...pack].reverse()))).toEqual(zip);
    expect(packHolds(verifyPack(unzipPack(zip), { keys: [ledgerKey] }))).toBe(true);
  });

  test('may be zipped again with its folders by another program', () => {
    const zip = zipSync({ 'ledger/': new Uint8Array(0), 'ledger/keys.json': bytes('[]') });
    expect([...unzipPack(zip).keys()]).toEqual(['ledger/keys.json']);
  });

  test.each<[string, Uint8Array, string]>([
    ['nothing', new Uint8Array(0), 'BAD_ZIP'],
    ['text', bytes('hello, this is no archive'), 'BAD_ZIP'],
    ['a path that leads out', zipSync({ '../x': bytes('x') }), 'BAD_PATH'],
    ['an absolute path', zipSync({ '/etc/x': bytes('x') }), 'BAD_PATH'],
    ['a path of another system', zipSync({ 'a\\b': bytes('x') }), 'BAD_PATH'],
    ['a hidden file', zipSync({ '.x': bytes('x') }), 'BAD_PATH'],
    ['a prototype\'s name', renamed(zipSync({ aaaaaaaaa: bytes('x') }), 'aaaaaaaaa', '__proto__'), 'BAD_PATH'],
    ['upper case, which some disks do not tell apart', zipSync({ 'A': bytes('x') }), 'BAD_PATH'],
  ])('%s is refused', (_name, zip, code) => {
    expect(refusal(() => unzipPack(zip))).toBe(code);
  });

  test('two files of one path are refused: readers would choose differently', () => {
    const zip = zipSync({ aaa: bytes('one'), aab: bytes('two') }, { level: 0 });
    const twice = renamed(zip, 'aab', 'aaa');
    expect(refusal(() => unzipPack(twice))).toBe('TWICE');
  });

  test('what unpacks to too much is refused before it is unpacked', () => {
    const zip = zipSync({ zeros: new Uint8Array(10_000_000) });
    expect(zip.length).toBeLessThan(20_000);
    expect(refusal(() => unzipPack(zip, { maxBytes: 1_000_000, maxFiles: 10 }))).toBe('TOO_LARGE');
    expect(refusal(() => unzipPack(zipSync({ a: bytes('x'), b: bytes('y') }), { maxBytes: 100, maxFiles: 1 }))).toBe('TOO_LARGE');
  });

  test('cut anywhere, it is refused or its files are found wanting', async () => {
    const zip = zipPack(await samplePack());
    for (let length = 0; length < zip.length; length += 97) {
      expect(refusal(() => unzipPack(zip.slice(0, length)))).toBe('BAD_ZIP');
    }
  });
});
