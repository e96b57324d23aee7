import { spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { build } from '../apps/cli/prepare/build.mjs';
import { installMissing } from '../apps/cli/prepare/install.mjs';
import { packageRoot } from '../apps/cli/prepare/package-root.mjs';
import { requireChromium } from './support/chromium.mjs';

/**
 * `npm test`: everything that is checked, in order, each under its heading. Goes on after a failure, so that one run tells
 * all; the last line counts Jest's tests and, as one each, the other steps.
 */
const steps = [
  ['Packages and build', prepare],
  ['Types', () => npmScript('types')],
  ['Lint and import rules', () => npmScript('lint')],
  ['Pure libraries, against published figures; the web\'s pure parts', () => jest('libs')],
  ['Parts of the screens', () => jest('screens')],
  ['Server: API, database, isolation, faults', () => jest('server')],
  ['Browser', () => jest('browser', { CHROMIUM_PATH: requireChromium() })],
];

const reports = mkdtempSync(join(tmpdir(), 'threadleaf-report-'));
const total = { passed: 0, failed: 0 };
for (const [heading, step] of steps) {
  console.log(`\n== ${heading} ==`);
  const outcome = await countOf(step);
  total.passed += outcome.passed;
  total.failed += outcome.failed;
  if (outcome.failed > 0 && step === steps[0][1]) break; // without packages and build, nothing else means anything
}
rmSync(reports, { recursive: true, force: true });
console.log(`\n${total.passed} passed, ${total.failed} failed`);
process.exitCode = total.failed === 0 ? 0 : 1;

async function countOf(step) {
  try {
    return (await step()) ?? { passed: 1, failed: 0 };
  } catch (error) {
    console.error(error.message);
    return { passed: 0, failed: 1 };
  }
}

async function prepare() {
  await installMissing();
  await build();
}

async function npmScript(name) {
  const npm = process.env.npm_execpath?.endsWith('npm-cli.js') ? [process.execPath, process.env.npm_execpath] : ['npm'];
  const code = await run([...npm, 'run', '-s', name]);
  if (code !== 0) throw new Error(`npm run ${name} failed (${code})`);
}

/** Counts from Jest's own report; a file that could not run at all, or a project without a test, is a failure too. */
async function jest(project, env = {}) {
  const report = join(reports, `${project}.json`);
  const nodeOptions = `${process.env.NODE_OPTIONS ?? ''} --experimental-vm-modules --no-warnings`.trim();
  const script = join(packageRoot, 'node_modules/jest/bin/jest.js');
  const args = ['--selectProjects', project, '--json', `--outputFile=${report}`];
  const code = await run([process.execPath, script, ...args], { NODE_OPTIONS: nodeOptions, ...env }, 'no stdout');
  let result;
  try {
    result = JSON.parse(readFileSync(report, 'utf8'));
  } catch {
    throw new Error(`Jest ended (${code}) without a report for the project ${project}.`);
  }
  const leftOut = result.numPendingTests + result.numTodoTests;
  if (leftOut > 0) console.error(`${leftOut} tests were left out.`);
  const failed = result.numFailedTests + result.numRuntimeErrorTestSuites;
  return { passed: result.numPassedTests, failed: failed || code === 0 ? failed : 1 };
}

/** Runs a program with our terminal. Jest prints its JSON to stdout beside the file; people read what it says on stderr. */
function run([command, ...args], env = {}, stdout = 'inherit') {
  return new Promise((resolve) => {
    const child = spawn(command, args, {
      cwd: packageRoot,
      env: { ...process.env, ...env },
      stdio: ['ignore', stdout === 'inherit' ? 'inherit' : 'ignore', 'inherit'],
    });
    child.once('error', () => resolve('not found'));
    child.once('close', (code, signal) => resolve(code ?? signal));
  });
}
