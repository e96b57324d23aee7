import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { openStage, reads, scene, signInAs, visit, type Page, type Stage } from '../support/browser.js';
import { furnish, record } from '../support/chain.js';
import { newId } from '../support/lab.js';
import { layLine, type LineToServer } from '../support/line-to-server.js';
import { until } from '../support/until.js';

/** Two tabs of one browser: one queue, one of them sends; and what happens when newer pages are there. */
let stage: Stage;
let line: LineToServer;
let left: Page;
let right: Page;
const runId = newId();
const pages = mkdtempSync(join(tmpdir(), 'threadleaf-pages-'));
/** How often each write was answered. */
const answered = new Map<string, number>();

beforeAll(async () => {
  // Pages of its own, so that newer ones can be laid beside them.
  cpSync(join(packageRoot, 'dist/web'), pages, { recursive: true });
  stage = await openStage('Two-tab lab', pages);
  line = await layLine(stage.server.url);
  const [technician, bench] = [stage.lab.as('TECHNICIAN'), await furnish(stage.lab.as('MANAGER'))];
  const discIds = [newId(), newId()];
  const openedAt = new Date().toISOString();
  for (const [i, id] of discIds.entries()) await record(technician, 'recordDisc', 'RecordDiscInput', { id, leafId: bench.leafId, label: `T-${i + 1}`, diameterMm: '10' });
  await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: 'R-tabs', rigId: bench.rigId, balanceId: bench.balanceId, discIds, openedAt });
  for (const [lightPath, powerText] of [['DARK', '1.0'], ['REFERENCE', '1001.0']]) {
    await record(technician, 'recordMeterReading', 'RecordMeterReadingInput', {
      id: newId(), lightPath, observedAt: openedAt, powerText, powerUnit: 'nW', discId: null, dryingRunId: runId, entryMode: 'TYPED', rawLine: powerText,
    });
  }
  left = await stage.openOffline(line.url);
  left.context().on('requestfinished', (request) => {
    const { operationName, variables } = (request.url().endsWith('/graphql') ? request.postDataJSON() : null) ?? {};
    if (operationName === 'RecordWeighing' || operationName === 'RecordMeterReading') answered.set(variables.input.id, (answered.get(variables.input.id) ?? 0) + 1);
  });
  await signInAs(left, technician.email);
  await visit(left, `/bench/${runId}`);
  right = await left.context().newPage();
  await visit(right, `/bench/${runId}`);
});

afterAll(async () => {
  await stage.close();
  await line.close();
  rmSync(pages, { recursive: true, force: true });
});

async function enter(page: Page, label: string, text: string): Promise<void> {
  await page.getByLabel(label).fill(text);
  await page.getByLabel(label).press('Enter');
  await reads(page, new RegExp(`^Kept on this computer, not sent yet: .*${text}`));
}

const notSent = (page: Page) => page.getByRole('complementary', { name: 'Not sent yet' });

async function recorded(): Promise<readonly string[]> {
  const { dryingRun } = await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { dryingRun(id: $id) { weighings { massText recordedAt } meterReadings { lightPath powerText recordedAt } } }', { id: runId });
  return [...dryingRun.weighings, ...dryingRun.meterReadings.filter(({ lightPath }: any) => lightPath === 'READING')]
    .sort((a, b) => a.recordedAt.localeCompare(b.recordedAt)).map(({ massText, powerText }) => massText ?? powerText);
}

scene('what is typed in two tabs without the server waits in one queue, is counted alike in both, and is sent once and in order', async () => {
  await Promise.all([left, right].map((page) => page.getByLabel('Mass of T-1').waitFor()));
  line.cut();
  await enter(left, 'Mass of T-1', '70.00');
  // The other tab's next step knows of it.
  await enter(right, 'Power through T-1', '151.0');
  await enter(left, 'Mass of T-2', '68.00');
  await enter(right, 'Power through T-2', '149.0');
  for (const page of [left, right]) await reads(notSent(page), 'Not sent yet: 4.');
  expect(await recorded()).toEqual([]);
  line.mend();
  for (const page of [left, right]) await notSent(page).waitFor({ state: 'detached' });
  expect(await recorded()).toEqual(['70.00', '151.0', '68.00', '149.0']);
  // The page knows the answer a moment before its browser tells that the request has finished.
  await until('each request has finished', () => answered.size >= 4);
  expect([...answered.values()]).toEqual([1, 1, 1, 1]);
});

scene('newer pages are offered to both tabs, taken by one when its person says so, and neither loses what it holds', async () => {
  const offer = (page: Page) => page.getByRole('complementary', { name: 'New version' });
  expect(await offer(left).count()).toBe(0);
  const worker = join(pages, 'service-worker.js');
  writeFileSync(worker, readFileSync(worker, 'utf8').replace(/"version":"[^"]+"/, '"version":"of-tomorrow"'));
  await left.evaluate('navigator.serviceWorker.getRegistration().then((registration) => registration.update())');
  for (const page of [left, right]) await reads(offer(page), /^A newer version of these pages is ready\./);

  // Without the server too: the newer pages lie on the device by now.
  line.cut();
  await enter(left, 'Mass of T-1', '69.00');
  await right.getByLabel('Power through T-1').fill('15');
  await Promise.all([left.waitForEvent('load'), left.getByRole('button', { name: 'Take it now' }).click()]);
  await reads(notSent(left), 'Not sent yet: 1.');
  expect(await left.evaluate('caches.keys()')).toContain('threadleaf-shell-of-tomorrow');
  expect(await offer(left).count()).toBe(0);
  // The other tab was not loaded anew under the hand.
  await offer(right).waitFor({ state: 'detached' });
  expect(await right.getByLabel('Power through T-1').inputValue()).toBe('15');

  line.mend();
  for (const page of [left, right]) await notSent(page).waitFor({ state: 'detached' });
  expect(await recorded()).toEqual(['70.00', '151.0', '68.00', '149.0', '69.00']);
  await until('that too has finished', () => answered.size >= 5);
  expect([...answered.values()]).toEqual([1, 1, 1, 1, 1]);
});
