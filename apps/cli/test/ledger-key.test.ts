import { chmodSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { formatVerifierKey } from '#libs/ledger';
import { signerOf } from '../../api/src/platform/ledger/signer.js';
import { tellLab } from '../src/commands/check.js';
import { ledgerKeyFor } from '../src/ledger-key.js';

let folder: string;
const said: string[] = [];
const keyOf = (env: NodeJS.ProcessEnv = {}): string => ledgerKeyFor(join(folder, 'data'), (line) => said.push(line), env);

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'threadleaf-key-'));
  said.length = 0;
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('the ledger key', () => {
  test('is made once, told, and kept to its owner', () => {
    const made = keyOf();
    expect(Buffer.from(made, 'base64')).toHaveLength(32);
    expect(said.join()).toContain('Keep a copy');
    expect(statSync(join(folder, 'data/ledger.key')).mode & 0o777).toBe(0o600);
    expect(keyOf().trim()).toBe(made);
    expect(said).toHaveLength(1);
    expect(formatVerifierKey(signerOf(keyOf()).keyOf('a'))).toBe(formatVerifierKey(signerOf(made).keyOf('a')));
  });

  test('given by the environment is used and none is made', () => {
    expect(keyOf({ THREADLEAF_LEDGER_KEY: 'given' })).toBe('given');
    expect(() => readFileSync(join(folder, 'data/ledger.key'))).toThrow('ENOENT');
  });

  test('in a file that the environment names is used; one that is not there is told by its name', () => {
    const file = join(folder, 'secret');
    writeFileSync(file, 'handed in\n');
    expect(keyOf({ THREADLEAF_LEDGER_KEY_FILE: file })).toBe('handed in');
    expect(() => readFileSync(join(folder, 'data/ledger.key'))).toThrow('ENOENT');
    expect(() => keyOf({ THREADLEAF_LEDGER_KEY_FILE: join(folder, 'gone') })).toThrow(/THREADLEAF_LEDGER_KEY_FILE, .*gone, cannot be read/);
  });

  test('that others can read is refused', () => {
    keyOf();
    chmodSync(join(folder, 'data/ledger.key'), 0o644);
    expect(() => keyOf()).toThrow(/Others can read the ledger key .*chmod 600/);
  });

  test('that is none is refused without being shown', () => {
    for (const text of ['', 'secret-but-short', `${Buffer.alloc(31).toString('base64')}`, [1, 2, 3].map((n) => Buffer.alloc(32, n).toString('base64')).join('\n')]) {
      expect(() => signerOf(text)).toThrow(expect.objectContaining({ code: 'BAD_KEY', field: 'ledgerKey' }));
      expect(() => signerOf(text)).not.toThrow(text || 'nothing to show');
    }
  });
});

test('a check is told in plain words, with what is not proven yet and the first flaws', () => {
  const flaws = Array.from({ length: 23 }, (_, i) => ({ about: `weighing ${i}`, says: 'It is gone.' }));
  const lab = { labId: 'l', name: 'North lab', size: 10, root: 'ab', signed: 8, waiting: 1, records: 11, checkpoints: 2, flaws };
  const lines = tellLab(lab);
  expect(lines[0]).toBe('North lab: DOES NOT HOLD');
  expect(lines.join('\n')).toContain('2 entries are not covered by a signed checkpoint yet');
  expect(lines.at(-1)).toBe('  and 3 more');
  expect(tellLab({ ...lab, flaws: [], signed: 10, waiting: 0 })).toEqual(['North lab: holds', '  11 records, 10 entries in the ledger, 2 checkpoints, root ab']);
});
