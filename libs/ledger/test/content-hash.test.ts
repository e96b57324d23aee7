import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { contentHash, contentHashHex, defaultSha256, hashFromHex, sameHash, toHex } from '#libs/ledger';

/**
 * FIPS 180-2 appendix B (one block, two blocks, a million times "a") and the NIST examples for FIPS 180-4 (the empty
 * and the 896-bit message).
 */
const FIPS: readonly (readonly [name: string, message: string, digest: string])[] = [
  ['empty', '', 'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855'],
  ['abc', 'abc', 'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'],
  ['448 bits', 'abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq',
    '248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1'],
  ['896 bits', 'abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu',
    'cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1'],
  ['a million a', 'a'.repeat(1_000_000), 'cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0'],
];

describe('SHA-256', () => {
  test.each(FIPS)('FIPS 180: %s', (_name, message, digest) => {
    expect(toHex(defaultSha256(new TextEncoder().encode(message)))).toBe(digest);
  });

  test('agrees with the native one at every length over two blocks, and on random bytes', () => {
    const native = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');
    for (let length = 0; length <= 130; length++) {
      const bytes = Uint8Array.from({ length }, (_, i) => (i * 37 + length) & 0xff);
      expect(toHex(defaultSha256(bytes))).toBe(native(bytes));
    }
    fc.assert(fc.property(fc.uint8Array({ maxLength: 4096 }), (bytes) => {
      expect(toHex(defaultSha256(bytes))).toBe(native(bytes));
    }), { seed: 180, numRuns: 200 });
  });
});

describe('contentHash', () => {
  // SHA-256 of the outputs of the scheme's own test data (see canonical-json.test.ts), computed with Python's hashlib.
  test.each([
    ['[56,{"d":true,"10":null,"1":[]}]', '099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42'],
    ['{"Unnormalized Unicode":"A\\u030a"}', '0d99aad92a125196ff887876643fd3206786a84ddce2cee52ba4ad256d2381d3'],
    ['{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],'
      + '"string":"\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/","literals":[null,true,false]}',
    '2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb'],
  ])('%s', (text, digest) => {
    expect(contentHashHex(JSON.parse(text))).toBe(digest);
  });

  test('takes another SHA-256, and uses it', () => {
    const native = (bytes: Uint8Array): Uint8Array => createHash('sha256').update(bytes).digest();
    expect(contentHashHex({ rwc: 0.8 }, native)).toBe(contentHashHex({ rwc: 0.8 }));
    expect(contentHash({ rwc: 0.8 }, () => new Uint8Array(32))).toEqual(new Uint8Array(32));
  });

  test('one changed character changes it', () => {
    expect(contentHashHex({ massMg: '71.2' })).not.toBe(contentHashHex({ massMg: '71.20' }));
  });
});

describe('hashes as text', () => {
  const hex = 'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad';

  test('there and back', () => {
    expect(toHex(hashFromHex('hash', hex))).toBe(hex);
  });

  test.each([hex.toUpperCase(), hex.slice(1), `${hex}0`, `${hex}\n`, '', 'g'.repeat(64), null, 7, undefined])('%p is refused', (text) => {
    expect(() => hashFromHex('contentHash', text)).toThrow(/^contentHash: /);
  });

  test('sameHash: equal bytes of the right length only', () => {
    const hash = hashFromHex('hash', hex);
    expect(sameHash(hash, hash.slice())).toBe(true);
    expect(sameHash(hash.slice(1), hash.slice(1))).toBe(false);
    expect(sameHash(new Uint8Array(0), new Uint8Array(0))).toBe(false);
    for (let i = 0; i < hash.length; i++) {
      const other = hash.slice();
      other[i] = (other[i] as number) ^ 1;
      expect(sameHash(hash, other)).toBe(false);
    }
  });
});
