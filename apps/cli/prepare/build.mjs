import { existsSync, linkSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { filesBelow, fingerprint, hashFiles } from './fingerprint.mjs';
import { runQuietly } from './install.mjs';
import { packageRoot } from './package-root.mjs';

const stamps = join(packageRoot, 'dist/.stamps');

/**
 * Builds what is stale, by content:
 *   types   GraphQL schema -> the `generated` folders of api and web
 *   server  libs, api, cli and migrations, TypeScript -> dist, same layout
 *   verifier  the check of evidence packs with all it needs -> dist/verify.mjs, one file for a machine that has only Node
 *   web     the pages -> dist/web
 * @param {{ web?: boolean, say?: (line: string) => void }} options  web: false leaves the pages alone (tests of the server)
 * @returns {Promise<string[]>} the parts that had to be built
 */
export async function build({ web = true, say = console.error } = {}) {
  mkdirSync(stamps, { recursive: true });
  const release = await takeTurn();
  try {
    const built = [];
    const timed = async (name, part) => {
      const begun = performance.now();
      if (!(await part())) return;
      built.push(name);
      say(`Built ${name} in ${((performance.now() - begun) / 1000).toFixed(1)} s`);
    };
    await timed('types', buildTypes);
    await timed('server', buildServer);
    await timed('verifier', buildVerifier);
    if (web) await timed('web', buildWeb);
    return built;
  } finally {
    release();
  }
}

const isTypeScript = (path) => /\.tsx?$/.test(path) && !path.endsWith('.d.ts');

async function buildTypes() {
  const config = 'codegen.config.mjs';
  if (!existsSync(join(packageRoot, config))) return false;
  const inputs = [
    config,
    ...filesBelow('apps/api/schema'),
    ...filesBelow('apps/web/src', (path) => isTypeScript(path) && !path.includes('/generated/')),
  ];
  const wanted = fingerprint(inputs, versionOf('@graphql-codegen/cli'));
  const stamp = readStamp('types');
  if (stamp?.wanted === wanted && stamp.outputs.every((path) => existsSync(join(packageRoot, path)))) return false;
  await runTool('@graphql-codegen/cli', 'graphql-codegen', ['--config', config]);
  writeStamp('types', { wanted, outputs: filesBelow('apps', (path) => path.includes('/generated/')) });
  return true;
}

/** Compiles file by file, so that one changed line costs one file; a source that is gone takes its output with it. */
async function buildServer() {
  const sources = [
    ...filesBelow('libs', (path) => isTypeScript(path) && /^libs\/[^/]+\/src\//.test(path)),
    ...filesBelow('apps/api/src', isTypeScript),
    ...filesBelow('apps/cli/src', isTypeScript),
    ...filesBelow('migrations', isTypeScript),
  ];
  const compiler = fingerprint(['.swcrc', 'apps/cli/prepare/build.mjs'], versionOf('@swc/core'));
  const now = hashFiles(sources);
  const stamp = readStamp('server');
  const before = stamp?.compiler === compiler ? stamp.files : {};
  const stale = sources.filter((path) => before[path] !== now[path] || !existsSync(outputOf(path)));
  const gone = Object.keys(stamp?.files ?? {}).filter((path) => !(path in now));
  if (stale.length === 0 && gone.length === 0) return false;

  const { transform } = await import('@swc/core');
  await Promise.all(stale.map((path) => compile(path, transform)));
  for (const path of gone) {
    rmSync(outputOf(path), { force: true });
    rmSync(`${outputOf(path)}.map`, { force: true });
  }
  writeStamp('server', { compiler, files: now });
  return true;
}

async function compile(path, transform) {
  const source = readFileSync(join(packageRoot, path), 'utf8');
  const output = outputOf(path);
  let result;
  try {
    result = await transform(source, { filename: join(packageRoot, path), cwd: packageRoot, root: packageRoot, swcrc: true });
  } catch (error) {
    throw new Error(`${path} does not compile: ${error.message}`);
  }
  mkdirSync(dirname(output), { recursive: true });
  const name = output.slice(output.lastIndexOf('/') + 1);
  writeFileSync(output, `${result.code}\n//# sourceMappingURL=${name}.map\n`);
  writeFileSync(`${output}.map`, result.map ?? '');
}

const outputOf = (path) => join(packageRoot, 'dist', path.replace(/\.tsx?$/, '.js'));

async function buildVerifier() {
  const entry = 'apps/cli/src/verify/main.ts';
  if (!existsSync(join(packageRoot, entry))) return false;
  const wanted = fingerprint(
    [...filesBelow('libs', (path) => isTypeScript(path) && /^libs\/[^/]+\/src\//.test(path)), ...filesBelow('apps/cli/src/verify'), 'apps/cli/prepare/build.mjs', 'package-lock.json'],
    versionOf('rolldown'),
  );
  const file = join(packageRoot, 'dist/verify.mjs');
  if (readStamp('verifier')?.wanted === wanted && existsSync(file)) return false;
  const { build: bundle } = await import('rolldown');
  await bundle({ input: outputOf(entry), platform: 'node', treeshake: true, logLevel: 'silent', output: { file, format: 'esm', codeSplitting: false } });
  writeStamp('verifier', { wanted });
  return true;
}

async function buildWeb() {
  const config = 'apps/web/vite.config.ts';
  if (!existsSync(join(packageRoot, config))) return false;
  const inputs = [
    ...filesBelow('apps/web'),
    ...filesBelow('libs', (path) => /^libs\/[^/]+\/src\//.test(path)),
    'package-lock.json',
  ];
  const wanted = fingerprint(inputs);
  const stamp = readStamp('web');
  if (stamp?.wanted === wanted && existsSync(join(packageRoot, 'dist/web/index.html'))) return false;
  await runTool('vite', 'vite', ['build', '--config', config, '--logLevel', 'warn'], { ...process.env, NODE_ENV: 'production' });
  writeStamp('web', { wanted });
  return true;
}

async function runTool(packageName, command, args, env = process.env) {
  const { bin } = packageJsonOf(packageName);
  const script = join(packageRoot, 'node_modules', packageName, typeof bin === 'string' ? bin : bin[command]);
  const { code, output } = await runQuietly(process.execPath, [script, ...args], { ...env, NO_COLOR: '1' });
  if (code !== 0) throw new Error(`${command} failed (${code}):\n${output.trimEnd().slice(-4000)}`);
}

const packageJsonOf = (packageName) => JSON.parse(readFileSync(join(packageRoot, 'node_modules', packageName, 'package.json'), 'utf8'));
const versionOf = (packageName) => packageJsonOf(packageName).version;

function readStamp(part) {
  try {
    return JSON.parse(readFileSync(join(stamps, `${part}.json`), 'utf8'));
  } catch {
    return undefined;
  }
}

function writeStamp(part, content) {
  writeFileSync(join(stamps, `${part}.json`), JSON.stringify(content));
}

/** Two builds at once would write the same files: the second waits until the process that builds is done or gone. */
async function takeTurn() {
  const turn = join(stamps, 'building.pid');
  const mine = `${turn}.${process.pid}`;
  try {
    writeFileSync(mine, String(process.pid));
    // A link appears whole or not at all: nobody can read a turn that does not name its owner yet.
    while (!tryLink(mine, turn)) {
      if (!isAlive(readPid(turn))) rmSync(turn, { force: true });
      else await new Promise((resolve) => setTimeout(resolve, 100));
    }
  } catch (error) {
    throw new Error(`The folder dist cannot be written: ${error.message}`);
  } finally {
    rmSync(mine, { force: true });
  }
  return () => rmSync(turn, { force: true });
}

function tryLink(from, to) {
  try {
    linkSync(from, to);
    return true;
  } catch (error) {
    if (error.code === 'EEXIST') return false;
    throw error;
  }
}

function readPid(path) {
  try {
    return Number(readFileSync(path, 'utf8'));
  } catch {
    return 0;
  }
}

function isAlive(pid) {
  if (!pid) return false;
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return error.code === 'EPERM';
  }
}
