import { spawn } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { packageRoot } from '../src/package-root.js';

/** A clone in miniature: the real preparing code, two sources, the packages of this one. */
let clone: string;

beforeEach(() => {
  clone = mkdtempSync(join(tmpdir(), 'threadleaf-prepare-'));
  cpSync(join(packageRoot, 'apps/cli/prepare'), join(clone, 'apps/cli/prepare'), { recursive: true });
  cpSync(join(packageRoot, '.swcrc'), join(clone, '.swcrc'));
  write('package.json', '{ "name": "clone", "type": "module" }');
  write('package-lock.json', JSON.stringify({ packages: { '': {}, 'node_modules/leaf': { version: '1.0.0', integrity: 'a' } } }));
  write('libs/one/src/index.ts', 'export const one: number = 1;');
  write('libs/two/src/index.ts', 'export const two: number = 2;');
});
afterEach(() => rmSync(clone, { recursive: true, force: true }));

function write(path: string, text: string): void {
  mkdirSync(dirname(join(clone, path)), { recursive: true });
  writeFileSync(join(clone, path), text);
}

/** Runs lines of JavaScript in the clone with `build` and `installMissing` at hand; gives back what they print. */
function inClone(code: string, env: Readonly<Record<string, string>> = {}): Promise<string> {
  const script = `
    const { build } = await import(${JSON.stringify(join(clone, 'apps/cli/prepare/build.mjs'))});
    const { installMissing } = await import(${JSON.stringify(join(clone, 'apps/cli/prepare/install.mjs'))});
    try { ${code} } catch (error) { console.log('FAILED', error.message); }`;
  const child = spawn(process.execPath, ['--input-type=module', '-e', script], { env: { ...process.env, NODE_OPTIONS: '', ...env } });
  let printed = '';
  child.stdout.on('data', (chunk: Buffer) => (printed += chunk.toString()));
  child.stderr.on('data', (chunk: Buffer) => (printed += chunk.toString()));
  return new Promise((resolve) => child.once('close', () => resolve(printed.trim())));
}

const built = () => inClone('console.log(JSON.stringify(await build({ say: () => undefined })))');

describe('building', () => {
  beforeEach(() => symlinkSync(join(packageRoot, 'node_modules'), join(clone, 'node_modules')));

  test('compiles what is stale by content, and only that', async () => {
    expect(await built()).toBe('["server"]');
    expect(await inClone(`console.log((await import(${JSON.stringify(join(clone, 'dist/libs/one/src/index.js'))})).one)`)).toBe('1');
    expect(await built()).toBe('[]');

    write('dist/libs/two/src/index.js', 'untouched');
    write('libs/one/src/index.ts', 'export const one: number = 11;');
    expect(await built()).toBe('["server"]');
    expect(readFileSync(join(clone, 'dist/libs/one/src/index.js'), 'utf8')).toMatch('one = 11');
    expect(readFileSync(join(clone, 'dist/libs/two/src/index.js'), 'utf8')).toBe('untouched');
  });

  test('compiles all again for other compiler settings, and what was lost', async () => {
    await built();
    write('.swcrc', readFileSync(join(clone, '.swcrc'), 'utf8').replace('es2023', 'es2022'));
    expect(await built()).toBe('["server"]');
    rmSync(join(clone, 'dist/libs/two/src/index.js'));
    expect(await built()).toBe('["server"]');
    expect(existsSync(join(clone, 'dist/libs/two/src/index.js'))).toBe(true);
  });

  test('removes the output of a source that is gone', async () => {
    await built();
    rmSync(join(clone, 'libs/two'), { recursive: true });
    expect(await built()).toBe('["server"]');
    expect(readdirSync(join(clone, 'dist/libs/two/src'))).toEqual([]);
  });

  test('names the file that does not compile, and tries it again', async () => {
    write('libs/one/src/index.ts', 'export const one: = 1;');
    expect(await built()).toMatch(/^FAILED libs\/one\/src\/index\.ts does not compile/);
    expect(await built()).toMatch(/^FAILED libs\/one\/src\/index\.ts does not compile/);
  });

  test('takes turns, and takes over from a build that was killed', async () => {
    write('dist/.stamps/building.pid', String(process.pid));
    const waiting = built();
    const first = await Promise.race([waiting, new Promise((resolve) => setTimeout(resolve, 700, 'still waiting'))]);
    expect(first).toBe('still waiting');
    write('dist/.stamps/building.pid', '999999999');
    expect(await waiting).toBe('["server"]');
    expect(readdirSync(join(clone, 'dist/.stamps'))).toEqual(['server.json']);
  });
});

describe('installing', () => {
  /** Stands where npm stands: notes how it was called, and installs the one package. */
  const npm = () => join(clone, 'npm-cli.js');
  const install = () => inClone(`await installMissing(() => undefined); console.log('ok')`, { npm_execpath: npm() });
  const calls = () => (existsSync(join(clone, 'calls')) ? readFileSync(join(clone, 'calls'), 'utf8').trim().split('\n') : []);
  const installed = (version: string) =>
    write('node_modules/.package-lock.json', JSON.stringify({ packages: { 'node_modules/leaf': { version, integrity: 'a' } } }));

  beforeEach(() => {
    write('npm-cli.js', `
      import { appendFileSync, mkdirSync, writeFileSync } from 'node:fs';
      appendFileSync('calls', process.argv.slice(2).join(' ') + '\\n');
      mkdirSync('node_modules', { recursive: true });
      writeFileSync('node_modules/.package-lock.json', JSON.stringify({ packages: { 'node_modules/leaf': { version: '1.0.0', integrity: 'a' } } }));`);
  });

  test('once, when nothing is there, with the tools the build needs', async () => {
    expect([await install(), await install()]).toEqual(['ok', 'ok']);
    expect(calls()).toEqual(['ci --include=dev --no-audit --no-fund']);
  });

  test('again when the lock file names another version, or somebody removed what was installed', async () => {
    installed('0.9.0');
    expect(await install()).toBe('ok');
    expect(calls()).toHaveLength(1);
    write('node_modules/.package-lock.json', '{ "packages": {} }');
    expect(await install()).toBe('ok');
    expect(calls()).toHaveLength(2);
  });

  test('not when the same was installed by hand, nor for a package of another kind of machine', async () => {
    installed('1.0.0');
    write('package-lock.json', JSON.stringify({
      packages: { '': {}, 'node_modules/leaf': { version: '1.0.0', integrity: 'a' }, 'node_modules/other': { version: '1.0.0', optional: true } },
    }));
    expect(await install()).toBe('ok');
    expect(calls()).toEqual([]);
  });

  test('tells why it failed, and tries again next time', async () => {
    write('npm-cli.js', `console.error('npm error code ENOTFOUND'); process.exit(7);`);
    const once = await install();
    expect(once).toMatch(/FAILED The packages could not be installed \(npm ci ended with 7\).*\n {2}npm error code ENOTFOUND/);
    expect(await install()).toBe(once);
  });
});
