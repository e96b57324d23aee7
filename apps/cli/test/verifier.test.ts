import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { packageRoot } from '../src/package-root.js';

/** A folder that holds the verifier and a pack, and nothing else; no node_modules on any way up. */
const folder = mkdtempSync(join(tmpdir(), 'threadleaf-only-node-'));

beforeAll(() => {
  copyFileSync(join(packageRoot, 'dist/verify.mjs'), join(folder, 'verify.mjs'));
  copyFileSync(join(packageRoot, 'libs/ledger/test/golden/pack-v1.zip'), join(folder, 'pack.zip'));
});

afterAll(() => rmSync(folder, { recursive: true }));

const run = (...args: string[]) => spawnSync(process.execPath, ['verify.mjs', ...args], { cwd: folder, env: {}, encoding: 'utf8' });

describe('the verifier as one file', () => {
  it('checks a pack with nothing beside it but Node', () => {
    expect(readdirSync(folder).sort()).toEqual(['pack.zip', 'verify.mjs']);
    const { status, stdout, stderr } = run('pack.zip');
    expect(stderr).toBe('');
    expect(stdout).toContain('Nothing in this pack fails.');
    expect(stdout).toMatch(/holds +entries/);
    expect(status).toBe(0);
  });

  it('says what does not hold, and ends so that a script notices', () => {
    const bytes = readFileSync(join(folder, 'pack.zip'));
    bytes[bytes.length >> 1]! ^= 1;
    writeFileSync(join(folder, 'altered.zip'), bytes);
    const { status, stdout } = run('altered.zip');
    expect(stdout).toContain('This pack does not hold');
    expect(status).toBe(1);
  });

  it('asked wrongly says so', () => {
    expect(run()).toMatchObject({ status: 2, stdout: expect.stringContaining('node verify.mjs <pack.zip>') });
    expect(run('nowhere.zip')).toMatchObject({ status: 2, stderr: expect.stringContaining('nowhere.zip') });
    expect(run('pack.zip', '--key', 'nonsense').status).toBe(2);
    expect(run('pack.zip', '--what').status).toBe(2);
  });
});
