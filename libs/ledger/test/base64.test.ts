import fc from 'fast-check';
import { fromBase64, toBase64 } from '#libs/ledger';

describe('base64', () => {
  // RFC 4648 section 10.
  test.each([['', ''], ['f', 'Zg=='], ['fo', 'Zm8='], ['foo', 'Zm9v'], ['foob', 'Zm9vYg=='], ['fooba', 'Zm9vYmE='], ['foobar', 'Zm9vYmFy']])(
    'RFC 4648: %p is %p', (text, encoded) => {
      expect(toBase64(new TextEncoder().encode(text))).toBe(encoded);
      expect(fromBase64(encoded)).toEqual(new TextEncoder().encode(text));
    });

  test('as Node writes it, and back', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 100 }), (bytes) => {
      expect(toBase64(bytes)).toBe(Buffer.from(bytes).toString('base64'));
      expect(fromBase64(toBase64(bytes))).toEqual(bytes);
    }), { seed: 4648 });
  });

  // RFC 4648 section 3.5: "Zh==" has pad bits that are not zero, a second text for "f".
  test.each(['Zh==', 'Zm9=', 'Zg=', 'Zg', 'Z', 'Z===', '====', 'Zg==\n', ' Zg==', 'Zm9v-_==', 'Zg==Zg==', 'Z*==', 'é==='])('refuses %p', (text) => {
    expect(fromBase64(text)).toBeUndefined();
  });

  test('no two texts for the same bytes', () => {
    fc.assert(fc.property(fc.string({ maxLength: 12 }), (text) => {
      const bytes = fromBase64(text);
      if (bytes) expect(toBase64(bytes)).toBe(text);
    }), { seed: 4648, numRuns: 2000 });
  });
});
