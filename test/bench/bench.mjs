import { readFileSync } from 'node:fs';
import { v7 as uuidv7 } from 'uuid';
import { findChromium } from '../support/chromium.mjs';
import { BENCH_PERSON, openBenchLab } from './record.mjs';
import { ask, record, withProgram } from './server.mjs';
import { quantile, round } from './statistics.mjs';

const DISCS = 6;
const WARM_UP_ROUNDS = 2;
const MEASURED_ROUNDS = 20;
const TARGET_MS = 150;
const DIGIT_MS = 40;
const PATIENCE_MS = 20_000;

/**
 * The bench in a real browser: from the Enter key in the field of the mass until the page shows that it is recorded, which
 * it says only once the server has answered that it is stored; counted until the frame that shows it is painted. Six discs
 * of one run in turn, typed digit by digit. Two parts of it are told beside: until it lies on the device's disk and is sent,
 * and from there until the server's answer; the rest is drawing.
 */
export async function run({ log }) {
  const executablePath = findChromium();
  if (!executablePath) throw new Error('The bench is measured in a browser: install Chromium or set CHROMIUM_PATH.');
  return withProgram({ demo: false }, async (server) => {
    const lab = await openBenchLab(server);
    const runId = await openRun(server.url, lab);
    const { shownMs, keptMs, answeredMs } = await weighings(executablePath, server.url, runId);
    const { dryingRun } = await ask(server.url, lab.cookie, 'query ($id: UUID!) { dryingRun(id: $id) { weighings { id } } }', { id: runId });
    const typed = DISCS * (WARM_UP_ROUNDS + MEASURED_ROUNDS);
    if (dryingRun.weighings.length !== typed) throw new Error(`${typed} masses were typed, ${dryingRun.weighings.length} are stored.`);
    const [shown, kept, answered] = [shownMs, keptMs, answeredMs].map((times) => ({ p50Ms: round(quantile(times, 0.5), 0), p95Ms: round(quantile(times, 0.95), 0) }));
    const result = { masses: shownMs.length, ...shown, keptOnDevice: kept, server: answered, load: loadNow(), targetMs: TARGET_MS, met: shown.p95Ms < TARGET_MS };
    log(`bench: from Enter to stored and shown p50 ${shown.p50Ms} ms, p95 ${shown.p95Ms} ms (target ${TARGET_MS} ms) over ${shownMs.length} masses; of it, kept on the device's disk p50 ${kept.p50Ms} ms, p95 ${kept.p95Ms} ms, the server's answer p50 ${answered.p50Ms} ms, p95 ${answered.p95Ms} ms; load ${result.load}`);
    return result;
  });
}

function loadNow() {
  return process.platform === 'linux' ? readFileSync('/proc/loadavg', 'utf8').split(' ')[0] : 'unknown';
}

async function openRun(url, { cookie, leafId, balanceId, rigId }) {
  const discIds = Array.from({ length: DISCS }, () => uuidv7());
  for (const [i, id] of discIds.entries()) await record(url, cookie, 'recordDisc', 'RecordDiscInput', { id, leafId, label: `E-${i + 1}`, diameterMm: '10' });
  const runId = uuidv7();
  await record(url, cookie, 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: 'R-enter', rigId, balanceId, discIds, rhythmMin: 1, openedAt: new Date().toISOString() });
  return runId;
}

async function weighings(executablePath, url, runId) {
  const { chromium } = await import('playwright-core');
  const browser = await chromium.launch({ executablePath, args: process.getuid?.() === 0 ? ['--no-sandbox'] : [] });
  try {
    const page = await (await browser.newContext({ viewport: { width: 1280, height: 900 } })).newPage();
    page.setDefaultTimeout(PATIENCE_MS);
    const answers = answersOf(page);
    await page.goto(url);
    await page.getByLabel('Sign-in name').fill(BENCH_PERSON.email);
    await page.getByRole('textbox', { name: 'Password' }).fill(BENCH_PERSON.password);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('heading', { level: 1, name: 'Due' }).waitFor();
    await page.goto(`${url}/bench/${runId}`);
    await page.getByLabel('At this device').selectOption({ label: 'Weigh only' });
    const entered = [];
    for (let n = 0; n < DISCS * (WARM_UP_ROUNDS + MEASURED_ROUNDS); n += 1) entered.push(await enterOne(page, n));
    const measured = entered.map((each, n) => ({ ...each, ...answers[n] })).slice(-DISCS * MEASURED_ROUNDS);
    return { shownMs: measured.map(({ shownMs }) => shownMs), keptMs: measured.map(({ sentAt, enteredAt }) => sentAt - enteredAt), answeredMs: measured.map(({ answeredMs }) => answeredMs) };
  } finally {
    await browser.close();
  }
}

/** When each weighing was sent and how long its answer took, as the browser saw it. */
function answersOf(page) {
  const answers = [];
  page.on('requestfinished', (request) => {
    const { startTime, responseEnd } = request.timing();
    if (request.postData()?.includes('mutation RecordWeighing')) answers.push({ sentAt: startTime, answeredMs: responseEnd });
  });
  return answers;
}

/** The masses of a disc fall by the same each round, so that nothing asks; no two of the run are equal. */
async function enterOne(page, n) {
  const disc = n % DISCS;
  const text = (80 - 0.31 * Math.floor(n / DISCS) - 0.03 * disc).toFixed(2);
  const field = page.getByLabel(`Mass of E-${disc + 1}`);
  await field.pressSequentially(text, { delay: DIGIT_MS });
  const shown = page.evaluate(shownAfterEnter, { text, patienceMs: PATIENCE_MS });
  await field.press('Enter');
  return shown;
}

/** Runs in the page, so that the way between this program and the browser is nobody's wait: the clock starts with the key itself. */
function shownAfterEnter({ text, patienceMs }) {
  return new Promise((resolve, reject) => {
    let pressedMs = null;
    const timer = setTimeout(() => reject(new Error(`${text} was not recorded: ${document.querySelector('main').innerText.slice(0, 800)}`)), patienceMs);
    addEventListener('keydown', (event) => { if (event.key === 'Enter') pressedMs ??= event.timeStamp; }, { capture: true, once: true });
    const told = () => [...document.querySelectorAll('main p[role=status]')].some(({ textContent }) => textContent.startsWith('Recorded: ') && textContent.includes(text));
    const observer = new MutationObserver(() => {
      if (pressedMs === null || !told()) return;
      observer.disconnect();
      clearTimeout(timer);
      // A message posted while a frame is made ready arrives once it is painted.
      requestAnimationFrame(() => {
        const { port1, port2 } = new MessageChannel();
        port1.onmessage = () => resolve({ shownMs: performance.now() - pressedMs, enteredAt: performance.timeOrigin + pressedMs });
        port2.postMessage(null);
      });
    });
    observer.observe(document.body, { subtree: true, childList: true, characterData: true });
  });
}
