import { createHash } from 'node:crypto';
import { ed25519 } from '@noble/curves/ed25519.js';
import fc from 'fast-check';
import { InputError } from '#libs/quantity';
import {
  formatSignedNote, formatSigningKey, formatVerifierKey, parseSignedNote, parseSigningKey, parseVerifierKey, signNote, signersOf,
  signingKeyOf, verifierKeyOf,
} from '#libs/ledger';

/** golang.org/x/mod sumdb/note/note_test.go (BSD-3-Clause): public test keys, a note and its signatures. */
const PETER = 'PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW';
const PETER_SECRET = 'PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz';
const ENOCH = 'EnochRoot+af0cfe78+ATtqJ7zOtqQtYqOo0CpvDXNlMhV3HeJDpjrASKGLWdop';
const TEXT = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";
const PETER_LINE = '\u2014 PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n';
const ENOCH_LINE = '\u2014 EnochRoot rwz+eBzmZa0SO3NbfRGzPCpDckykFXSdeX+MNtCOXm2/5n2tiOHp+vAF1aGrQ5ovTG01oOTGwnWLox33WWd1RvMc+QQ=\n';
/** A witness with another kind of signature and a name of its own: https://c2sp.org/signed-note, the example there. */
const OTHER_LINE = '\u2014 quasimodo.example/salvatore NnugSzTjtVAewIS+Z/iJhUPeFDkO/5QQ2i5ddnGITLlC+EhfLW9oJKONrMouFSQU0xMcXxj99ihAQwaqP3ZekRwNtIc=\n';

const peter = parseVerifierKey(PETER);
const enoch = parseVerifierKey(ENOCH);

/** The names of the keys that signed and of those whose signature is false. */
function judged(note: string, ...keys: (typeof peter)[]): { signed: string[]; forged: string[] } {
  const { signed, forged } = signersOf(parseSignedNote(note), keys);
  return { signed: signed.map(({ name }) => name), forged: forged.map(({ name }) => name) };
}

function refusal(work: () => unknown): { code: string; field: string } {
  try {
    work();
  } catch (error) {
    if (error instanceof InputError) return { code: error.code, field: error.field };
    throw error;
  }
  throw new Error('expected an InputError, but nothing was thrown');
}

describe('published notes of golang.org/x/mod', () => {
  test('signing gives the published note, byte for byte', () => {
    expect(formatSignedNote(signNote(TEXT, parseSigningKey(PETER_SECRET)))).toBe(`${TEXT}\n${PETER_LINE}`);
  });

  test('the published signatures hold, those of unknown keys are passed over', () => {
    const note = `${TEXT}\n${PETER_LINE}${ENOCH_LINE}${OTHER_LINE}`;
    expect(judged(note, peter)).toEqual({ signed: ['PeterNeumann'], forged: [] });
    expect(judged(note, peter, enoch)).toEqual({ signed: ['PeterNeumann', 'EnochRoot'], forged: [] });
    expect(judged(note)).toEqual({ signed: [], forged: [] });
    expect(formatSignedNote(parseSignedNote(note))).toBe(note);
  });

  test('a signature of a known key that is not one is named', () => {
    const forged = `${PETER_LINE.slice(0, 60)}ABCD${PETER_LINE.slice(60)}`;
    expect(judged(`${TEXT}\n${forged}`, peter)).toEqual({ signed: [], forged: ['PeterNeumann'] });
    expect(judged(`${TEXT}\n${PETER_LINE}${forged}`, peter)).toEqual({ signed: [], forged: ['PeterNeumann'] });
    expect(judged(`${TEXT}\n${forged}${ENOCH_LINE}`, peter, enoch)).toEqual({ signed: ['EnochRoot'], forged: ['PeterNeumann'] });
    expect(judged(`${TEXT.replace('cryptography', 'a ledger')}\n${PETER_LINE}`, peter)).toEqual({ signed: [], forged: ['PeterNeumann'] });
  });

  test('a key of the same name with another id is another key', () => {
    const namesake = signingKeyOf('PeterNeumann', new Uint8Array(32).fill(7));
    expect(namesake.keyId).not.toBe('c74f20a3');
    expect(judged(`${TEXT}\n${PETER_LINE}`, namesake)).toEqual({ signed: [], forged: [] });
  });

  test('a signature given again replaces the old one; others stay', () => {
    const key = parseSigningKey(PETER_SECRET);
    const before = [{ keyName: 'PeterNeumann', keyId: 'c74f20a3', signature: new Uint8Array(64) }];
    expect(formatSignedNote(signNote(TEXT, key, before))).toBe(`${TEXT}\n${PETER_LINE}`);
    const { signatures } = parseSignedNote(`${TEXT}\n${ENOCH_LINE}`);
    expect(formatSignedNote(signNote(TEXT, key, signatures))).toBe(`${TEXT}\n${ENOCH_LINE}${PETER_LINE}`);
  });
});

describe('keys', () => {
  test('text forms, there and back', () => {
    expect(formatVerifierKey(peter)).toBe(PETER);
    expect(formatSigningKey(parseSigningKey(PETER_SECRET))).toBe(PETER_SECRET);
    expect(formatVerifierKey(parseSigningKey(PETER_SECRET))).toBe(PETER);
    // The key of the Go checksum database, as the Go command carries it (src/cmd/go/internal/modfetch/key.go).
    expect(parseVerifierKey('sum.golang.org+033de0ae+Ac4zctda0e5eza+HJyk9SxEdh+s3Ux18htTTAD8OuAn8').keyId).toBe('033de0ae');
  });

  // RFC 8032 section 7.1, tests 1 to 3: secret key, public key, message, signature.
  test.each([
    ['9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60', 'd75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a'],
    ['4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb', '3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c'],
    ['c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7', 'fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025'],
  ])('RFC 8032: public key of %s', (seed, publicKey) => {
    const key = signingKeyOf('rfc8032', new Uint8Array(Buffer.from(seed, 'hex')));
    expect(Buffer.from(key.publicKey).toString('hex')).toBe(publicKey);
  });

  test('no part of a key passes for a key, nor one with a changed character (as in note_test.go)', () => {
    for (const [text, parse] of [[PETER, parseVerifierKey], [PETER_SECRET, parseSigningKey]] as const) {
      for (let start = 0; start <= text.length; start++) {
        for (let end = start + 1; end <= text.length; end++) {
          if (start !== 0 || end !== text.length) expect(() => parse(text.slice(start, end))).toThrow(InputError);
        }
        if (start < text.length) {
          const changed = text.slice(0, start) + String.fromCharCode(text.charCodeAt(start) + 1) + text.slice(start + 1);
          expect(() => parse(changed)).toThrow(InputError);
        }
      }
    }
  });

  test.each([
    // note_test.go: wrong length, and unknown kind, each with its key id adjusted.
    ['PeterNeumann+cc469956+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TWBADKEY==', 'BAD_KEY'],
    ['PeterNeumann+173116ae+ZRpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW', 'BAD_KEY'],
    ['+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW', 'BAD_KEY_NAME'],
    ['Peter Neumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW', 'BAD_KEY_NAME'],
    [`${PETER}\n`, 'BAD_KEY'],
    [PETER.toUpperCase(), 'BAD_KEY'],
    ['', 'BAD_KEY'],
  ])('%p is refused', (text, code) => {
    expect(refusal(() => parseVerifierKey(text)).code).toBe(code);
  });

  test('bytes that are no point of the curve, or one of small order, are no key', () => {
    // y = 2 has no x on the curve; 0100..00 is the neutral element, for which anything could be signed.
    expect(refusal(() => verifierKeyOf('lab', Uint8Array.of(2, ...new Uint8Array(31)))).code).toBe('BAD_KEY');
    expect(refusal(() => verifierKeyOf('lab', Uint8Array.of(1, ...new Uint8Array(31)))).code).toBe('BAD_KEY');
    expect(refusal(() => verifierKeyOf('lab', new Uint8Array(31))).code).toBe('BAD_KEY');
    expect(refusal(() => signingKeyOf('lab', new Uint8Array(33))).code).toBe('BAD_KEY');
  });

  test('an error about a secret key does not tell it', () => {
    const wrong = PETER_SECRET.replace('c74f20a3', 'c74f20a4');
    expect(() => parseSigningKey(wrong)).toThrow(InputError);
    try {
      parseSigningKey(wrong);
    } catch (error) {
      expect(String(error)).not.toContain('AYEKFALV');
    }
  });
});

describe('the strict reader names the line', () => {
  test.each<[string, string, string]>([
    ['no signature part', TEXT, 'line 3'],
    ['no signature', `${TEXT}\n`, 'line 4'],
    ['no final newline', `${TEXT}\n${PETER_LINE.slice(0, -1)}`, 'line 4'],
    ['a control character', `\u0001${TEXT}\n${PETER_LINE}`, 'line 1'],
    ['a carriage return', `${TEXT}\n${PETER_LINE}`.replace('problem,\n', 'problem,\r\n'), 'line 1'],
    ['half a surrogate pair', `\ud83c${TEXT}\n${PETER_LINE}`, 'line 1'],
    ['a name with a space', `${TEXT}\n${PETER_LINE.replace('PeterNeumann', 'Bad Name')}`, 'line 4'],
    ['a name with a no-break space', `${TEXT}\n${PETER_LINE.replace('PeterNeumann', 'Bad\u00a0Name')}`, 'line 4'],
    ['a name with a plus', `${TEXT}\n${PETER_LINE.replace('PeterNeumann', 'a+b')}`, 'line 4'],
    ['no name', `${TEXT}\n${PETER_LINE.replace('PeterNeumann', '')}`, 'line 4'],
    ['a line after the signatures', `${TEXT}\n${PETER_LINE}Unexpected line.\n`, 'line 5'],
    ['a hyphen for the dash', `${TEXT}\n${PETER_LINE.replace('\u2014', '-')}`, 'line 4'],
    ['two spaces', `${TEXT}\n${PETER_LINE.replace(' ', '  ')}`, 'line 4'],
    ['a space at the end', `${TEXT}\n${PETER_LINE.replace('\n', ' \n')}`, 'line 4'],
    ['a signature that is not base64', `${TEXT}\n${PETER_LINE.replace('=', '*')}`, 'line 4'],
    ['a signature without padding', `${TEXT}\n${PETER_LINE.replace('=', '')}`, 'line 4'],
    ['a signature of four bytes', `${TEXT}\n\u2014 PeterNeumann x08gow==\n`, 'line 4'],
    ['no text', `\n${PETER_LINE}`, 'line 1'],
    ['nothing', '', 'line 1'],
    ['101 signatures', `${TEXT}\n${PETER_LINE.repeat(101)}`, 'line 104'],
  ])('%s', (_name, note, field) => {
    expect(refusal(() => parseSignedNote(note))).toEqual({ code: 'BAD_NOTE', field });
  });

  test('the text may have empty lines; the last one divides', () => {
    const text = 'Ognuno sta solo sul cuor della terra\n\n\nsera\n';
    expect(parseSignedNote(`${text}\n${OTHER_LINE}`)).toMatchObject({
      text, signatures: [{ keyName: 'quasimodo.example/salvatore', keyId: '367ba04b' }],
    });
  });

  test('100 signatures are read', () => {
    expect(parseSignedNote(`${TEXT}\n${PETER_LINE.repeat(100)}`).signatures).toHaveLength(100);
  });

  test.each(['abc', '', 'a\nb', 'a\u0007\n'])('a text such as %p cannot be signed', (text) => {
    expect(refusal(() => signNote(text, parseSigningKey(PETER_SECRET))).code).toBe('BAD_NOTE');
  });
});

/** The number that some bytes are, the lowest first: RFC 8032 section 5.1.2. */
const littleEndian = (bytes: Uint8Array): bigint => BigInt(`0x${Buffer.from(bytes).reverse().toString('hex')}`);
const bytesOf = (value: bigint): Uint8Array => new Uint8Array(Buffer.from(value.toString(16).padStart(64, '0'), 'hex').reverse());
const GROUP_ORDER = 2n ** 252n + 27742317777372353535851937790883648493n;

describe('one signature has one form (RFC 8032 section 5.1.7)', () => {
  const key = signingKeyOf('lab', new Uint8Array(32).fill(3));
  const text = 'a text\n';
  const signedBy = (signature: Uint8Array): number =>
    signersOf({ text, signatures: [{ keyName: key.name, keyId: key.keyId, signature }] }, [key]).signed.length;

  /** A signature by the holder of the key with R = 0, in the encoding given: what a lax verifier takes and a strict one may not. */
  function withPointAtZero(r: Uint8Array): Uint8Array {
    const digest = createHash('sha512').update(r).update(key.publicKey).update(text).digest();
    const { scalar } = ed25519.utils.getExtendedPublicKey(key.seed);
    return Uint8Array.of(...r, ...bytesOf((littleEndian(digest) * scalar) % GROUP_ORDER));
  }

  test('y = 1 beyond the field\'s prime, written as p + 1, is refused', () => {
    const canonical = bytesOf(1n);
    const beyond = bytesOf(2n ** 255n - 19n + 1n);
    expect(ed25519.verify(withPointAtZero(canonical), Buffer.from(text), key.publicKey, { zip215: true })).toBe(true);
    expect(ed25519.verify(withPointAtZero(beyond), Buffer.from(text), key.publicKey, { zip215: true })).toBe(true);
    expect(signedBy(withPointAtZero(beyond))).toBe(0);
  });

  test('S beyond the order of the group is refused', () => {
    const { signature } = signNote(text, key).signatures[0] as { signature: Uint8Array };
    expect(signedBy(signature)).toBe(1);
    const beyond = littleEndian(signature.subarray(32)) + GROUP_ORDER;
    expect(signedBy(Uint8Array.of(...signature.subarray(0, 32), ...bytesOf(beyond)))).toBe(0);
  });
});

describe('any change to a note is found', () => {
  const note = `${TEXT}\n${PETER_LINE}`;

  test('one changed, dropped or added character', () => {
    for (let at = 0; at < note.length; at++) {
      for (const put of [String.fromCharCode(note.charCodeAt(at) ^ 1), '', `${note.charAt(at)}x`]) {
        const changed = note.slice(0, at) + put + note.slice(at + 1);
        let signed: string[] = [];
        try {
          signed = judged(changed, peter).signed;
        } catch (error) {
          expect(error).toBeInstanceOf(InputError);
        }
        // The same signature may not stand under a text other than the one that was signed.
        if (signed.length > 0) throw new Error(`still signed after a change at ${at}: ${JSON.stringify(changed)}`);
      }
    }
  });

  test('random text is read or refused with a line, never anything else', () => {
    fc.assert(fc.property(fc.array(fc.constantFrom(...PETER_LINE, '\n', '\n\n', 'x', ' '), { maxLength: 60 }), (parts) => {
      const text = parts.join('');
      try {
        expect(formatSignedNote(parseSignedNote(text))).toBe(text);
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        expect(error.field).toMatch(/^line \d+$/);
      }
    }), { seed: 8032, numRuns: 3000 });
  });
});
