import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from './package-root.mjs';

const stamp = join(packageRoot, 'node_modules/.threadleaf-lock-hash');
/** What npm keeps of what it installed; it changes with every installing and removing. */
const installedList = join(packageRoot, 'node_modules/.package-lock.json');

/** Installs the packages that package-lock.json names when they are missing or differ. Throws with one line otherwise. */
export async function installMissing(say = console.error) {
  const lock = readFileSync(join(packageRoot, 'package-lock.json'), 'utf8');
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === hashOf(lock)) return;
  if (!installedMatches(JSON.parse(lock))) {
    say('Installing packages ...');
    await runNpm(['ci', '--include=dev', '--no-audit', '--no-fund']);
  }
  try {
    writeFileSync(stamp, hashOf(lock));
  } catch {
    // The stamp only saves time: packages installed by another user, read-only for us, are as good.
  }
}

function hashOf(lock) {
  const installed = existsSync(installedList) ? readFileSync(installedList) : '';
  return createHash('sha256').update(lock).update('\n').update(installed).digest('hex');
}

/**
 * Compares with the list npm keeps of what it installed, so that packages someone installed by hand are not thrown away
 * and fetched again. An optional package may be absent: it belongs to another kind of machine.
 */
function installedMatches(lock) {
  if (!existsSync(installedList)) return false;
  const installed = JSON.parse(readFileSync(installedList, 'utf8')).packages;
  return Object.entries(lock.packages).every(([path, wanted]) => {
    if (path === '') return true;
    const present = installed[path];
    return present ? present.version === wanted.version && present.integrity === wanted.integrity : wanted.optional === true;
  });
}

async function runNpm(args) {
  const [command, first] = process.env.npm_execpath?.endsWith('npm-cli.js')
    ? [process.execPath, [process.env.npm_execpath]]
    : ['npm', []];
  const { code, output } = await runQuietly(command, [...first, ...args]);
  if (code === 0) return;
  const reason = output.split('\n').filter((line) => line.startsWith('npm error')).slice(0, 6).join('\n  ');
  throw new Error(`The packages could not be installed (npm ci ended with ${code}); is the package registry within reach?\n  ${reason || output.slice(-600)}`);
}

/** Runs a program in the package root, keeping what it says for the case that it fails. */
export function runQuietly(command, args, env = process.env) {
  return new Promise((resolve) => {
    let output = '';
    const child = spawn(command, args, { cwd: packageRoot, env, stdio: ['ignore', 'pipe', 'pipe'] });
    child.stdout.on('data', (chunk) => (output += chunk));
    child.stderr.on('data', (chunk) => (output += chunk));
    child.once('error', (error) => resolve({ code: error.code, output: error.message }));
    child.once('close', (code, signal) => resolve({ code: code ?? signal, output }));
  });
}
