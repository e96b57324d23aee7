import {
  formatVerifierKey, keysThatFollow, parseCheckpoint, parseKeyChange, parseVerifierKey, signCheckpoint, signKeyChange, signNote, signingKeyOf,
  formatSignedNote, parseSignedNote, verifyKeyChange, type LedgerKey, type SigningKey,
} from '#libs/ledger';

const ORIGIN = 'lab.example/ledger/7';
const [first, second, third, forger] = [1, 2, 3, 99].map((fill) => signingKeyOf(ORIGIN, new Uint8Array(32).fill(fill))) as
  [SigningKey, SigningKey, SigningKey, SigningKey];
const known = (key: SigningKey, firstSize: number, lastSize: number | null, change?: string): LedgerKey =>
  ({ key: parseVerifierKey(formatVerifierKey(key)), firstSize, lastSize, ...(change !== undefined && { change }) });
const change = (next: SigningKey, firstSize: number, by: SigningKey): string => signKeyChange({ origin: ORIGIN, next, firstSize }, by);
const ids = (keys: readonly LedgerKey[]): string[] => keys.map(({ key }) => key.keyId);

describe('a key change', () => {
  const text = change(second, 100, first);

  test('is a signed note that says so in words', () => {
    expect(text.split('\n').slice(0, 3)).toEqual([ORIGIN, `next key ${formatVerifierKey(second)} from 100`, '']);
    expect(parseKeyChange(text)).toEqual({ origin: ORIGIN, next: parseVerifierKey(formatVerifierKey(second)), firstSize: 100 });
    expect(verifyKeyChange(text, ORIGIN, [known(first, 0, 100)])).toMatchObject({ firstSize: 100 });
  });

  test.each<[string, string, string, LedgerKey[]]>([
    ['signed by a key that is not trusted', change(second, 100, forger), ORIGIN, [known(first, 0, 100)]],
    ['of another ledger', text, 'lab.example/ledger/8', [known(first, 0, 100)]],
    ['beyond the validity of the key in use', text, ORIGIN, [known(first, 0, 99)]],
    ['with a false signature beside', text.replace(/\n$/, `\n\u2014 ${ORIGIN} ${parseSignedText(change(second, 101, first))}\n`), ORIGIN, [known(first, 0, 100)]],
    ['when nobody is trusted', text, ORIGIN, []],
  ])('does not count %s', (_name, note, origin, trusted) => {
    expect(verifyKeyChange(note, origin, trusted)).toBeUndefined();
  });

  test('never passes for a checkpoint, nor a checkpoint for it', () => {
    expect(() => parseCheckpoint(text)).toThrow(/^line 2: /);
    expect(() => parseKeyChange(signCheckpoint({ origin: ORIGIN, size: 1, root: new Uint8Array(32) }, first))).toThrow(/^line 2: /);
  });

  test.each(['next key from 1', `next key ${formatVerifierKey(second)} from 01`, `next key ${formatVerifierKey(second)} from 9007199254740992`,
    `next key ${formatVerifierKey(second)} from 1\nmore`])('refuses %p', (line) => {
    expect(() => parseKeyChange(formatSignedNote(signNote(`${ORIGIN}\n${line}\n`, first)))).toThrow(/^line 2: /);
  });
});

describe('keys that follow', () => {
  const offered = [
    known(third, 200, null, change(third, 200, second)), known(second, 100, 200, change(second, 100, first)), known(first, 0, 100),
  ];

  test('a chain of changes is followed, whatever the order of the keys', () => {
    const found = keysThatFollow(ORIGIN, [offered[2] as LedgerKey], offered);
    expect(ids(found)).toEqual([first.keyId, second.keyId, third.keyId]);
  });

  test('never backwards: the new key does not make the old one trusted', () => {
    expect(ids(keysThatFollow(ORIGIN, [offered[0] as LedgerKey], offered))).toEqual([third.keyId]);
  });

  test.each<[string, LedgerKey]>([
    ['a key without a change', known(forger, 100, null)],
    ['a key with a change that it signed itself', known(forger, 100, null, change(forger, 100, forger))],
    ['a key with another key\'s change', known(forger, 100, null, change(second, 100, first))],
    ['a key that is said to sign earlier than its change says', known(second, 50, null, change(second, 100, first))],
  ])('%s does not follow', (_name, key) => {
    expect(ids(keysThatFollow(ORIGIN, [known(first, 0, 100)], [key]))).toEqual([first.keyId]);
  });
});

/** The base64 of the only signature line. */
function parseSignedText(note: string): string {
  expect(parseSignedNote(note).signatures).toHaveLength(1);
  return (note.trimEnd().split(' ').at(-1)) as string;
}
