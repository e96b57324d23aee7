import { findChromium } from '../support/chromium.mjs';
import { ask, signIn, withProgram } from './server.mjs';
import { median, quantile, round } from './statistics.mjs';

const WEIGHINGS = 60;
const WARM_UP = 5;
const TARGET_MS = 150;

/**
 * The bench in a real browser: from Enter in the field of the mass until the page says that it is recorded, which it says
 * only once the server has stored it. Two discs of one run in turn, on the demo lab.
 */
export async function run({ log }) {
  const executablePath = findChromium();
  if (!executablePath) throw new Error('The bench is measured in a browser: install Chromium or set CHROMIUM_PATH.');
  const { demoSignIns } = await import('../../dist/apps/cli/src/demo/ensure-demo.js');
  const { email, password } = demoSignIns().find(({ role }) => role === 'technician');
  return withProgram({ demo: true }, async ({ url }) => {
    const runId = await openRun(url, await signIn(url, email, password));
    const times = await weighings(executablePath, { url, email, password, runId });
    const result = { medianMs: round(median(times), 1), p95Ms: round(quantile(times, 0.95), 1), targetMs: TARGET_MS, weighings: times.length };
    log(`bench: from Enter to stored and shown ${result.medianMs} ms (p95 ${result.p95Ms}, target ${TARGET_MS}) over ${times.length} weighings`);
    return { ...result, met: result.p95Ms < TARGET_MS };
  });
}

async function openRun(url, cookie) {
  const { v7: id } = await import('uuid');
  const { rigs, instruments, discs } = await ask(url, cookie, '{ rigs { id } instruments(kind: BALANCE) { id } discs(first: 1) { nodes { leaf { id } } } }');
  const write = async (mutation, type, input) => {
    const { [mutation]: { problem } } = await ask(url, cookie, `mutation ($input: ${type}!) { ${mutation}(input: $input) { problem { message } } }`, { input });
    if (problem) throw new Error(`${mutation}: ${problem.message}`);
  };
  const discIds = [id(), id()];
  for (const [n, discId] of discIds.entries()) await write('recordDisc', 'RecordDiscInput', { id: discId, leafId: discs.nodes[0].leaf.id, label: `bench-${n + 1}`, diameterMm: '18' });
  const runId = id();
  await write('openDryingRun', 'OpenDryingRunInput', { id: runId, label: 'bench', rigId: rigs[0].id, balanceId: instruments[0].id, discIds, rhythmMin: 1, openedAt: new Date().toISOString() });
  return runId;
}

async function weighings(executablePath, { url, email, password, runId }) {
  const { chromium } = await import('playwright-core');
  const browser = await chromium.launch({ executablePath, args: process.getuid?.() === 0 ? ['--no-sandbox'] : [] });
  try {
    const page = await (await browser.newContext({ viewport: { width: 1280, height: 900 }, reducedMotion: 'reduce' })).newPage();
    await page.goto(url);
    await page.getByLabel('Sign-in name').fill(email);
    await page.getByRole('textbox', { name: 'Password' }).fill(password);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('heading', { level: 1, name: 'Due' }).waitFor();
    await page.goto(`${url}/bench/${runId}`);
    await page.getByLabel('At this device').selectOption('Weigh only');
    const times = [];
    for (let n = 0; n < WEIGHINGS + WARM_UP; n += 1) {
      const field = page.getByLabel(/^Mass of bench-/);
      await field.fill((80 - n * 0.31).toFixed(2));
      // In the page itself: the way between this program and the browser is nobody's wait.
      const took = await page.evaluate(measureEnter);
      if (n >= WARM_UP) times.push(took);
    }
    return times;
  } finally {
    await browser.close();
  }
}

/** Runs in the page: Enter is the form's submit; it ends when the line under the form tells of this mass, after the frame that shows it. */
function measureEnter() {
  const input = document.querySelector('input[name=massText]');
  const text = input.value;
  return new Promise((resolve, reject) => {
    const begun = performance.now();
    const shown = () => [...document.querySelectorAll('[role=status]')].some(({ textContent }) => textContent.startsWith('Recorded: ') && textContent.includes(text));
    const timer = setTimeout(() => reject(new Error(`${text} was not recorded: ${document.querySelector('main').innerText.slice(0, 800)}`)), 15_000);
    const observer = new MutationObserver(() => {
      if (!shown()) return;
      observer.disconnect();
      clearTimeout(timer);
      requestAnimationFrame(() => resolve(performance.now() - begun));
    });
    observer.observe(document.body, { subtree: true, childList: true, characterData: true });
    input.form.requestSubmit();
  });
}
