import { InputError } from '#libs/quantity';
import { canonicalize, contentHashHex, entryLeaf, leafHash, parseEntry, toHex, type LedgerEntry } from '#libs/ledger';

const entry: LedgerEntry = {
  version: 1,
  labId: '0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a5c',
  id: '0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a60',
  actorId: '0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a5f',
  action: 'record',
  subjectKind: 'weighing',
  subjectId: '0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a5b',
  contentHash: contentHashHex({ massMg: '71.24' }),
  observedAt: '2026-04-03T11:15:00.000+02:00',
  recordedAt: '2026-04-03T09:15:01.250Z',
};
const text = (value: object): string => canonicalize(value);
const utf8 = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);

function refusal(work: () => unknown): { code: string; field: string } {
  try {
    work();
  } catch (error) {
    if (error instanceof InputError) return { code: error.code, field: error.field };
    throw error;
  }
  throw new Error('expected an InputError, but nothing was thrown');
}

describe('the leaf of an entry', () => {
  /**
   * Version 1 as it is for ever: a ledger written today is checked with these bytes in six years. The hash was
   * computed outside of the library: Python's json.dumps(sort_keys, separators, ensure_ascii=False) and hashlib.
   */
  test('golden: version 1', () => {
    const leaf = entryLeaf(entry);
    expect(utf8(leaf)).toBe('{"action":"record","actorId":"0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a5f",'
      + '"contentHash":"40fbe7c4b4caef61542e317cf510a7550a09ce49ed29cfe9673f73f88a7d15a3",'
      + '"id":"0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a60","labId":"0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a5c",'
      + '"observedAt":"2026-04-03T11:15:00.000+02:00","recordedAt":"2026-04-03T09:15:01.250Z",'
      + '"subjectId":"0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a5b","subjectKind":"weighing","version":1}');
    expect(toHex(leafHash(leaf))).toBe('29353368e18b952a2ade05e402d9b80505703f261a22f5dce64d2db8aba7f236');
  });

  /** The hash was computed outside of the library, as that of version 1. */
  test('golden: version 2, through an access token', () => {
    const leaf = entryLeaf({ ...entry, version: 2, tokenId: '0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a61' });
    expect(utf8(leaf)).toContain('"tokenId":"0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a61","version":2}');
    expect(toHex(leafHash(leaf))).toBe('752eb6b4432151679305a421409f8b59869db15f1468fdfd0e51e7578f5d19fb');
  });

  test('there and back', () => {
    expect(parseEntry(utf8(entryLeaf(entry)))).toEqual(entry);
    const told = { ...entry, reason: 'the balance was read twice' };
    expect(parseEntry(utf8(entryLeaf(told)))).toEqual(told);
  });

  test('a member that is undefined is left out', () => {
    const { observedAt: _observedAt, ...without } = entry;
    expect(entryLeaf({ ...entry, observedAt: undefined })).toEqual(entryLeaf(without));
  });

  test('each member is in the leaf', () => {
    const others: Partial<LedgerEntry> = {
      labId: entry.id, id: entry.labId, actorId: 'service', action: 'amend', subjectKind: 'meter_reading', subjectId: 'x',
      contentHash: contentHashHex(0), reason: 'why', observedAt: '2026-04-03T11:15:00.001+02:00', recordedAt: '2026-04-03T09:15:01.251Z',
    };
    for (const [name, value] of Object.entries(others)) {
      expect(toHex(leafHash(entryLeaf({ ...entry, [name]: value })))).not.toBe(toHex(leafHash(entryLeaf(entry))));
    }
  });
});

describe('refusals', () => {
  test.each<[string, unknown, string]>([
    ['labId', 'lab-7', 'labId'],
    ['labId', entry.labId.toUpperCase(), 'labId'],
    ['id', undefined, 'id'],
    ['actorId', '', 'actorId'],
    ['actorId', 'two words', 'actorId'],
    ['action', 'Record', 'action'],
    ['action', 'record it', 'action'],
    ['action', 'a'.repeat(65), 'action'],
    ['subjectKind', '', 'subjectKind'],
    ['subjectId', 7, 'subjectId'],
    ['subjectId', 'x'.repeat(201), 'subjectId'],
    ['contentHash', entry.contentHash.toUpperCase(), 'contentHash'],
    ['contentHash', entry.contentHash.slice(1), 'contentHash'],
    ['reason', '', 'reason'],
    ['reason', null, 'reason'],
    ['observedAt', null, 'observedAt'],
    ['recordedAt', undefined, 'recordedAt'],
    ['recordedAt', '2026-04-03', 'recordedAt'],
    ['recordedAt', '2026-04-03T09:15:01', 'recordedAt'],
    ['recordedAt', '2026-04-03 09:15:01Z', 'recordedAt'],
    ['recordedAt', '2026-04-31T09:15:01Z', 'recordedAt'],
    ['recordedAt', '2026-02-29T09:15:01Z', 'recordedAt'],
    ['recordedAt', '2026-13-01T09:15:01Z', 'recordedAt'],
    ['recordedAt', '2026-04-03T24:00:00Z', 'recordedAt'],
    ['recordedAt', '2026-04-03T09:60:00Z', 'recordedAt'],
    ['recordedAt', '2026-04-03T09:15:60Z', 'recordedAt'],
    ['recordedAt', '2026-04-03T09:15:01+24:00', 'recordedAt'],
    ['recordedAt', '2026-04-03t09:15:01z', 'recordedAt'],
    ['version', 3, 'version'],
    ['version', 2, 'tokenId'],
    ['tokenId', '0192f0c1-2b3c-7def-8a9b-0c1d2e3f4a61', 'tokenId'],
    ['tokenId', 'bench-computer', 'tokenId'],
    ['version', '1', 'version'],
    ['colour', 'green', 'colour'],
    ['toString', 'x', 'toString'],
  ])('%s: %p', (name, value, field) => {
    expect(refusal(() => entryLeaf({ ...entry, [name]: value } as LedgerEntry))).toEqual({ code: 'BAD_ENTRY', field });
  });

  test('29 February of a leap year is a day', () => {
    expect(() => entryLeaf({ ...entry, recordedAt: '2028-02-29T09:15:01Z' })).not.toThrow();
  });

  test.each<[string, string, string]>([
    ['an entry with white space', JSON.stringify(entry, null, 1), 'NOT_CANONICAL'],
    ['cut text', text(entry).slice(0, -1), 'NOT_JSON_TEXT'],
    ['an array', '[]', 'BAD_ENTRY'],
    ['null', 'null', 'BAD_ENTRY'],
    ['an unknown version', text({ ...entry, version: 2 }), 'BAD_ENTRY'],
    ['an unknown member', text({ ...entry, extra: 1 }), 'BAD_ENTRY'],
  ])('%s is not read', (_name, leaf, code) => {
    expect(refusal(() => parseEntry(leaf)).code).toBe(code);
  });
});
