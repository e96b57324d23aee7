import { appendFileSync } from 'node:fs';
import { createStream } from '#libs/numeric';
import { openStage, scene, signInAs, visit, type Page, type Stage } from '../support/browser.js';
import { furnish, record } from '../support/chain.js';
import { newId } from '../support/lab.js';
import { layLine, type LineToServer } from '../support/line-to-server.js';

/**
 * Numbers typed at the bench as fast as the page takes them, over a line that is cut at random moments (what
 * is on its way is lost, in both directions), while tabs crash, are shut and are loaded again. The usual test
 * types sixty, so that it ends within a minute; WRITES=500 is the long form, SEED gives another course of it.
 */
const SEED = Number(process.env['SEED'] ?? 7);
const WRITES = Number(process.env['WRITES'] ?? 60);

let stage: Stage;
let line: LineToServer;
let page: Page;
/** One number after the other goes into these runs by turns, so that a page does not grow with the test. */
const RUNS = 5;
const runIds = Array.from({ length: RUNS }, newId);
const chance = createStream('cuts of the line', SEED);

beforeAll(async () => {
  stage = await openStage('Valley lab');
  line = await layLine(stage.server.url);
  const [technician, manager] = [stage.lab.as('TECHNICIAN'), stage.lab.as('MANAGER')];
  const bench = await furnish(manager);
  const openedAt = new Date().toISOString();
  for (const [i, runId] of runIds.entries()) {
    const discId = newId();
    await record(technician, 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: `V-${i + 1}`, diameterMm: '10' });
    await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: `R-valley ${i + 1}`, rigId: bench.rigId, balanceId: bench.balanceId, discIds: [discId], openedAt });
    for (const [lightPath, powerText] of [['DARK', '1.0'], ['REFERENCE', '1001.0']]) {
      await record(technician, 'recordMeterReading', 'RecordMeterReadingInput', {
        id: newId(), lightPath, observedAt: openedAt, powerText, powerUnit: 'nW', discId: null, dryingRunId: runId, entryMode: 'TYPED', rawLine: powerText,
      });
    }
  }
  page = await stage.openOffline(line.url);
  await signInAs(page, technician.email);
});

afterAll(async () => {
  await stage.close();
  await line.close();
});

/** The numbers in the order of typing, each told apart from all others: whether it is a mass or a power is as the rhythm asks. */
const texts = Array.from({ length: WRITES }, (_, i) => (70 - i * 0.005).toFixed(3));

interface Recorded {
  readonly text: string;
  /** When the page took it: two records of one moment are one typing that was sent twice. */
  readonly observedAt: string;
  readonly recordedAt: string;
}

/** What the server holds of the runs, in the order in which it was recorded, without the darks and the references. */
async function recordedNumbers(): Promise<readonly Recorded[]> {
  const all: Recorded[] = [];
  for (const id of runIds) {
    const { dryingRun } = await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { dryingRun(id: $id) { weighings { massText observedAt recordedAt } meterReadings { lightPath powerText observedAt recordedAt } } }', { id });
    all.push(...dryingRun.weighings.map(({ massText, ...moments }: any) => ({ text: massText, ...moments })));
    all.push(...dryingRun.meterReadings.filter(({ lightPath }: any) => lightPath === 'READING').map(({ powerText, ...moments }: any) => ({ text: powerText, ...moments })));
  }
  return all.sort((a, b) => a.recordedAt.localeCompare(b.recordedAt));
}

const recordedTexts = async (): Promise<readonly string[]> => (await recordedNumbers()).map(({ text }) => text);

/** What waits on the device, in order. */
const waitingTexts = (): Promise<readonly string[]> => page.evaluate(`new Promise((resolve, reject) => {
  const opening = indexedDB.open('threadleaf');
  opening.onerror = () => reject(opening.error);
  opening.onsuccess = () => {
    const all = opening.result.transaction('outbox').objectStore('outbox').getAll();
    all.onsuccess = () => { opening.result.close(); resolve(all.result.map(({ input }) => input.massText ?? input.powerText)); };
  };
})`);

/**
 * Types these numbers into whatever the rhythm asks for, the next as soon as the page has told of the last. Resolves with
 * how many it told of; a crash ends it without an answer.
 */
const typeAll = (those: readonly string[]): Promise<number> => page.evaluate(`(async (those) => {
  const until = async (found) => { for (const begun = performance.now(); performance.now() - begun < 20000;) { const it = found(); if (it) return it; await new Promise((next) => setTimeout(next, 4)); } throw new Error('The page does not go on: ' + document.querySelector('main')?.innerText.slice(0, 800)); };
  const set = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, 'value').set;
  for (const text of those) {
    const field = await until(() => document.querySelector('input[name=massText], input[name=powerText]'));
    set.call(field, text);
    field.dispatchEvent(new Event('input', { bubbles: true }));
    await until(() => !field.form.querySelector('button[type=submit]').disabled);
    field.form.requestSubmit();
    await until(() => !field.isConnected && [...document.querySelectorAll('main p[role=status]')].some((each) => each.textContent.includes(text)));
  }
  return those.length;
})(${JSON.stringify(those)})`);

/** How many runs this device has read. */
const readsKept = (): Promise<number> => page.evaluate(`new Promise((resolve, reject) => {
  const opening = indexedDB.open('threadleaf');
  opening.onerror = () => reject(opening.error);
  opening.onsuccess = () => {
    const all = opening.result.transaction('reads').objectStore('reads').getAllKeys();
    all.onsuccess = () => { opening.result.close(); resolve(all.result.filter((key) => key.includes(' RunPage ')).length); };
  };
})`);

/** Until the service worker serves this page. */
const shellReady = (): Promise<boolean> => page.evaluate(`navigator.serviceWorker.ready
  .then(() => navigator.serviceWorker.controller ?? new Promise((taken) => navigator.serviceWorker.addEventListener('controllerchange', taken, { once: true })))
  .then(() => true)`);

async function openRun(round: number): Promise<void> {
  await visit(page, `/bench/${runIds[round % RUNS]!}`);
  await page.locator('input[name=massText], input[name=powerText]').first().waitFor();
}

const pause = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

/** How often the line was cut, and tabs were lost. */
let cuts = 0;
let lost = 0;

/** One line of what happened, where somebody asks for the course of the test by TELL=file. */
function tell(text: string): void {
  if (process.env['TELL']) appendFileSync(process.env['TELL'], `${text}\n`);
}

/** Cuts and mends at random moments until it is told to stop; ends with the line whole. */
function unrest(): () => Promise<void> {
  let on = true;
  const course = (async () => {
    while (on) {
      await pause(80 + 900 * chance.uniform());
      line.cut();
      cuts += 1;
      await pause(50 + 700 * chance.uniform());
      line.mend();
    }
  })();
  return () => {
    on = false;
    return course;
  };
}

/** How a tab is lost while somebody types. */
const losses = [
  async () => {
    const debuggerOf = await page.context().newCDPSession(page);
    // It has no answer: what would give it is gone.
    void debuggerOf.send('Page.crash').catch(() => undefined);
    await page.waitForEvent('crash');
    page = await page.context().newPage();
  },
  async () => {
    const context = page.context();
    await page.close({ runBeforeUnload: false });
    page = await context.newPage();
  },
  async () => void (await page.reload({ waitUntil: 'commit' })),
];

scene(`${WRITES} numbers over a line that is cut at random, with tabs lost in between, are recorded once and in order`, async () => {
  const started = Date.now();
  await shellReady();
  // The newest open runs are read ahead by Bench itself.
  await visit(page, '/bench');
  while ((await readsKept()) < RUNS) await pause(100);
  const rest = unrest();
  let typed = 0;
  for (let round = 0; typed < WRITES; round += 1) {
    const begun = Date.now();
    await openRun(round);
    const typing = typeAll(texts.slice(typed, typed + 60 + Math.floor(60 * chance.uniform()))).catch((error: Error) => error);
    const lose = losses[round % (losses.length + 1)];
    if (lose) {
      await pause(900 + 1500 * chance.uniform());
      await lose();
      lost += 1;
    }
    const outcome = await typing;
    if (outcome instanceof Error && /does not go on/.test(outcome.message)) throw outcome;
    if (lose) await openRun(round);
    // Whoever comes back looks which number was the last: each is on the device or at the server, never nowhere.
    // The device is asked first: what is sent between the two questions is then told twice, not never.
    const waiting = await waitingTexts();
    const there = new Set([...waiting, ...(await recordedTexts())]);
    typed = texts.findIndex((text) => !there.has(text));
    if (typed < 0) typed = WRITES;
    tell(`${round} ${typed} ${Date.now() - begun} ${outcome instanceof Error ? outcome.message.slice(0, 200) : outcome}`);
  }
  await rest();
  while ((await waitingTexts()).length > 0) await pause(100);
  await page.getByRole('complementary', { name: 'Not sent yet' }).waitFor({ state: 'detached' });
  const recorded = await recordedNumbers();
  tell(`${recorded.length} recorded of ${WRITES}, ${new Set(recorded.map(({ text }) => text)).size} different; ${cuts} cuts, ${lost} tabs lost, ${Math.round((Date.now() - started) / 1000)} s`);
  const twice = recorded.filter(({ text }) => recorded.filter((each) => each.text === text).length > 1);
  expect(twice).toEqual([]);
  expect(recorded.map(({ text }) => text)).toEqual(texts);
}, 120_000 + 1_500 * WRITES);
