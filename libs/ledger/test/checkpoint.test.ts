import { InputError } from '#libs/quantity';
import {
  formatVerifierKey, isValidAt, parseCheckpoint, parseSignedNote, parseVerifierKey, signCheckpoint, signingKeyOf, toBase64, verifyCheckpoint,
  type LedgerKey, type SigningKey,
} from '#libs/ledger';

/**
 * Heads that the Go checksum database signed, as found in public repositories: google/trillian-examples
 * (sumdbaudit, size 6476701), and later ones from documents that quote `latest`. They are of the same open form.
 */
const GO_KEY = 'sum.golang.org+033de0ae+Ac4zctda0e5eza+HJyk9SxEdh+s3Ux18htTTAD8OuAn8';
const GO_HEADS: readonly (readonly [size: number, root: string, signature: string])[] = [
  [6476701, 'mb8QLQIs0Z0yP5Cstq6guj87oXWeC9gEM8oVikmm9Wk=',
    'Az3grsLX85Gz+s1SiTbgkuqxgItqFq7gsMUEyVnrsa9LM7Us9S+1xbFIGu95949rj4nPRYfvimWEPWL+o3GeoWwOoAw='],
  [15067302, 'gJyioq6dwR9n+NjEWORfYmH+ubeYm3kH42BBQ0bTpYI=',
    'Az3grp1rvWOs5NKlr/xR4GLN/CDyzzakmt1o61uSxYKpK1SerqOP2ClbX/peKUZjYnyomH5Xz7GZG3TpB7OeKn4E2ww='],
  [52544510, '+TGlZfnTizQCJgyZR56QixD8+X4dd8Wefy8U1w6k0Ig=',
    'Az3grn6d1PSjcypDf9bfcFVU5fvJB7VkLc0MAbz8jqeQVnSbAj9pKcsB5dJt5VdswPDUtiFar5LPRBu+uEQAT1CDfAc='],
];
const GO_ORIGIN = 'go.sum database tree';
const goHead = ([size, root, signature]: (typeof GO_HEADS)[number]): string =>
  `${GO_ORIGIN}\n${size}\n${root}\n\n\u2014 sum.golang.org ${signature}\n`;
const goKeys: LedgerKey[] = [{ key: parseVerifierKey(GO_KEY), firstSize: 0, lastSize: null }];

const ORIGIN = 'lab.example/ledger/7';
const oldKey = signingKeyOf(ORIGIN, new Uint8Array(32).fill(1));
const newKey = signingKeyOf(ORIGIN, new Uint8Array(32).fill(2));
const root = new Uint8Array(32).fill(9);
const keyFor = (key: SigningKey, firstSize = 0, lastSize: number | null = null): LedgerKey =>
  ({ key: parseVerifierKey(formatVerifierKey(key)), firstSize, lastSize });

function why(text: string, origin: string, keys: readonly LedgerKey[]): string {
  const verdict = verifyCheckpoint(text, origin, keys);
  return verdict.holds ? 'holds' : verdict.why;
}

describe('checkpoints that others published', () => {
  test.each(GO_HEADS)('size %i', (...head) => {
    const verdict = verifyCheckpoint(goHead(head), GO_ORIGIN, goKeys);
    expect(verdict).toMatchObject({ holds: true, checkpoint: { origin: GO_ORIGIN, size: head[0] } });
    expect(verdict.holds && toBase64(verdict.checkpoint.root)).toBe(head[1]);
  });

  test.each(GO_HEADS)('size %i with another size or root does not hold', (size, hash, signature) => {
    expect(why(goHead([size + 1, hash, signature]), GO_ORIGIN, goKeys)).toMatch(/is false/);
    expect(why(goHead([size, toBase64(root), signature]), GO_ORIGIN, goKeys)).toMatch(/is false/);
  });

  test('the example of https://c2sp.org/tlog-checkpoint is read', () => {
    const example = 'example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n'
      + '\u2014 example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n';
    expect(parseCheckpoint(example)).toMatchObject({ origin: 'example.com/behind-the-sofa', size: 20852163 });
  });
});

describe('signing', () => {
  test('what is signed holds, and its text is the open form', () => {
    const text = signCheckpoint({ origin: ORIGIN, size: 1234, root }, oldKey);
    expect(text).toMatch(/^lab\.example\/ledger\/7\n1234\nCQkJCQkJCQkJCQkJCQkJCQkJCQkJCQkJCQkJCQkJCQk=\n\n\u2014 lab\.example\/ledger\/7 [A-Za-z0-9+/]+={0,2}\n$/);
    expect(verifyCheckpoint(text, ORIGIN, [keyFor(oldKey)])).toMatchObject({ holds: true, signedBy: [{ keyId: oldKey.keyId }] });
  });

  test.each([
    [{ origin: '', size: 1, root }, 'line 1'],
    [{ origin: 'two\nlines', size: 1, root }, 'line 1'],
    [{ origin: ORIGIN, size: -1, root }, 'line 2'],
    [{ origin: ORIGIN, size: 1.5, root }, 'line 2'],
    [{ origin: ORIGIN, size: 2 ** 53, root }, 'line 2'],
    [{ origin: ORIGIN, size: 1, root: root.slice(1) }, 'line 3'],
  ])('%j is refused at %s', (checkpoint, line) => {
    expect(() => signCheckpoint(checkpoint, oldKey)).toThrow(new RegExp(`^${line}: `));
  });
});

describe('the strict reader names the line', () => {
  const good = signCheckpoint({ origin: ORIGIN, size: 1234, root }, oldKey);

  test.each([
    ['a leading zero', good.replace('1234', '01234'), 'line 2'],
    ['a sign', good.replace('1234', '+1234'), 'line 2'],
    ['a space', good.replace('1234', '1234 '), 'line 2'],
    ['another script\'s digits', good.replace('1234', '\u0661\u0662'), 'line 2'],
    ['a size beyond exact numbers', good.replace('1234', '9007199254740992'), 'line 2'],
    ['a short root', good.replace('CQkJ', ''), 'line 3'],
    ['a root that is not base64', good.replace('CQkJ', 'CQ-J'), 'line 3'],
    ['a root in hexadecimal', good.replace(toBase64(root), '09'.repeat(32)), 'line 3'],
    ['a fourth line', good.replace('k=\n', 'k=\nextra\n'), 'line 4'],
    ['an empty fourth line', good.replace('k=\n', 'k=\n\n'), 'line 4'],
    ['no origin', good.replace(`${ORIGIN}\n`, '\n'), 'line 1'],
    ['no root', good.replace(`${toBase64(root)}\n`, ''), 'line 3'],
    ['Windows line ends', good.replaceAll('\n', '\r\n'), 'line 1'],
    ['no signature', good.slice(0, good.indexOf('\u2014')), 'line 5'],
  ])('%s', (_name, text, line) => {
    expect(() => parseCheckpoint(text)).toThrow(new RegExp(`^${line}: `));
    expect(why(text, ORIGIN, [keyFor(oldKey)])).toMatch(new RegExp(`^${line}: `));
  });

  test('an empty ledger has size 0', () => {
    expect(parseCheckpoint(signCheckpoint({ origin: ORIGIN, size: 0, root }, oldKey)).size).toBe(0);
  });
});

describe('who may sign', () => {
  const checkpoint = { origin: ORIGIN, size: 100, root };
  const text = signCheckpoint(checkpoint, oldKey);

  test.each([
    ['no key is known', [], /^no key known/],
    ['another key is known', [keyFor(newKey)], /^no key known/],
    ['the key came later', [keyFor(oldKey, 101)], /not valid for a ledger of 100 entries$/],
    ['the key was retired before', [keyFor(oldKey, 0, 99)], /not valid for a ledger of 100 entries$/],
    ['the key is of another name', [{ ...keyFor(signingKeyOf('other', oldKey.seed)) }], /^no key known/],
  ])('does not hold when %s', (_name, keys, reason) => {
    expect(why(text, ORIGIN, keys)).toMatch(reason);
  });

  test('holds at both ends of a key\'s validity', () => {
    expect(why(text, ORIGIN, [keyFor(oldKey, 100, 100)])).toBe('holds');
    expect(isValidAt(keyFor(oldKey, 0, null), Number.MAX_SAFE_INTEGER)).toBe(true);
  });

  test('a checkpoint of another ledger does not pass, though the key is right', () => {
    expect(why(text, 'lab.example/ledger/8', [keyFor(oldKey)])).toBe('the checkpoint is of the ledger lab.example/ledger/7, not of lab.example/ledger/8');
  });

  test('keys change hands at a checkpoint that both sign', () => {
    const both = signCheckpoint(checkpoint, newKey, parseSignedNote(text).signatures);
    const keys = [keyFor(oldKey, 0, 100), keyFor(newKey, 100)];
    expect(verifyCheckpoint(both, ORIGIN, keys)).toMatchObject({ holds: true, signedBy: [{ keyId: oldKey.keyId }, { keyId: newKey.keyId }] });
    // Whoever knows only one of the keys can follow too.
    expect(why(both, ORIGIN, [keyFor(oldKey, 0, 100)])).toBe('holds');
    expect(why(both, ORIGIN, [keyFor(newKey, 100)])).toBe('holds');
    const later = signCheckpoint({ ...checkpoint, size: 101 }, oldKey);
    expect(why(later, ORIGIN, keys)).toMatch(/not valid/);
  });

  test('one false signature of a known key spoils the good ones', () => {
    const forged = signCheckpoint(checkpoint, newKey, [{ keyName: ORIGIN, keyId: oldKey.keyId, signature: new Uint8Array(64) }]);
    expect(why(forged, ORIGIN, [keyFor(oldKey), keyFor(newKey)])).toMatch(new RegExp(`${oldKey.keyId} is false$`));
    expect(why(forged, ORIGIN, [keyFor(newKey)])).toBe('holds');
  });

  test('every changed character of a checkpoint is found', () => {
    for (let at = 0; at < text.length; at++) {
      const changed = text.slice(0, at) + String.fromCharCode(text.charCodeAt(at) ^ 1) + text.slice(at + 1);
      expect(why(changed, ORIGIN, [keyFor(oldKey)])).not.toBe('holds');
    }
  });

  test('reading says InputError only', () => {
    expect(() => parseCheckpoint('x')).toThrow(InputError);
  });
});
