import { spawnSync } from 'node:child_process';
import { accessSync, constants, existsSync } from 'node:fs';
import { delimiter, join } from 'node:path';

const NAMES = ['chromium', 'chromium-browser', 'google-chrome-stable', 'google-chrome', 'chrome'];
const MAC = ['/Applications/Chromium.app/Contents/MacOS/Chromium', '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome'];

/** The path of a Chromium for the browser tests: CHROMIUM_PATH, else the first on PATH; undefined when there is none. */
export function findChromium() {
  const given = process.env.CHROMIUM_PATH;
  if (given) return isProgram(given) ? given : undefined;
  const onPath = (process.env.PATH ?? '').split(delimiter).flatMap((folder) => NAMES.map((name) => join(folder, name)));
  return [...onPath, ...MAC].find(isProgram);
}

/** As findChromium, but first tries Debian's package when we may install it. Throws one line when there is none. */
export function requireChromium(say = console.error) {
  const found = findChromium();
  if (found) return found;
  if (!process.env.CHROMIUM_PATH && process.getuid?.() === 0 && existsSync('/usr/bin/apt-get')) {
    say('Installing Chromium for the browser tests (apt-get install chromium) ...');
    const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
    spawnSync('apt-get', ['update', '-qq'], { stdio: 'ignore', env });
    spawnSync('apt-get', ['install', '-y', '-qq', '--no-install-recommends', 'chromium', 'fonts-liberation'], { stdio: 'ignore', env });
  }
  const installed = findChromium();
  if (installed) return installed;
  throw new Error('The browser tests need Chromium: install it, or set CHROMIUM_PATH to the program of one.');
}

function isProgram(path) {
  try {
    accessSync(path, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}
