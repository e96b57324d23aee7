import { gzipSync } from 'node:zlib';
import { findChromium } from '../support/chromium.mjs';
import { round } from './statistics.mjs';
import { withProgram } from './server.mjs';

const TARGET_KB = 250;
const IDLE_MS = 1_000;

/**
 * What a browser with an empty cache fetches to show the sign-in screen: page, scripts and styles count; fonts and images
 * are told beside. Sizes are those of gzip at its usual level (6); kB are 1000 bytes.
 */
export async function run({ log }) {
  const executablePath = findChromium();
  if (!executablePath) throw new Error('The size of the first page load is measured in a browser: install Chromium or set CHROMIUM_PATH.');
  const files = await withProgram({ demo: false }, ({ url }) => fetched(executablePath, url));
  const counted = files.filter(({ kind }) => ['document', 'script', 'stylesheet'].includes(kind));
  const total = (list) => round(list.reduce((sum, { gzipped }) => sum + gzipped, 0) / 1000, 1);
  const result = { gzippedKb: total(counted), besideKb: total(files.filter((file) => !counted.includes(file))), targetKb: TARGET_KB, met: total(counted) <= TARGET_KB, files };
  log(`page: ${result.gzippedKb} kB gzipped in ${counted.length} files (target ${TARGET_KB} kB), fonts and images ${result.besideKb} kB`);
  return result;
}

async function fetched(executablePath, url) {
  const { chromium } = await import('playwright-core');
  const browser = await chromium.launch({ executablePath, args: process.getuid?.() === 0 ? ['--no-sandbox'] : [] });
  try {
    const page = await (await browser.newContext({ serviceWorkers: 'block' })).newPage();
    const bodies = [];
    page.on('response', (response) => {
      const kind = response.request().resourceType();
      if (['document', 'script', 'stylesheet', 'font', 'image'].includes(kind)) {
        bodies.push(response.body().then((body) => ({ path: new URL(response.url()).pathname, kind, bytes: body.length, gzipped: kind === 'font' ? body.length : gzipSync(body).length })));
      }
    });
    await page.goto(url, { waitUntil: 'networkidle' });
    await page.locator('input[type=password]').waitFor();
    await page.waitForTimeout(IDLE_MS);
    return await Promise.all(bodies);
  } finally {
    await browser.close();
  }
}
