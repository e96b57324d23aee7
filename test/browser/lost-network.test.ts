import { findNetwork, forgive, loseNetwork, openStage, PHONE, reads, scene, textOf, visit, type Page, type Stage } from '../support/browser.js';
import { furnish, record } from '../support/chain.js';
import { newId } from '../support/lab.js';

let stage: Stage;
let runId: string;
let discId: string;
let page: Page;

beforeAll(async () => {
  stage = await openStage('Cellar lab');
  const [technician, manager] = [stage.lab.as('TECHNICIAN'), stage.lab.as('MANAGER')];
  const bench = await furnish(manager);
  [runId, discId] = [newId(), newId()];
  const openedAt = new Date().toISOString();
  await record(technician, 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: 'C-1', diameterMm: '10' });
  await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: 'R-cellar', rigId: bench.rigId, balanceId: bench.balanceId, discIds: [discId], openedAt });
  for (const [lightPath, powerText] of [['DARK', '1.0'], ['REFERENCE', '1001.0']]) {
    await record(technician, 'recordMeterReading', 'RecordMeterReadingInput', {
      id: newId(), lightPath, observedAt: openedAt, powerText, powerUnit: 'nW', discId: null, dryingRunId: runId, entryMode: 'TYPED', rawLine: powerText,
    });
  }
  page = await stage.signedIn('TECHNICIAN', PHONE);
});

afterAll(() => stage.close());

/** Masses that the server holds of the disc, in order of capture. */
async function massesRecorded(): Promise<readonly string[]> {
  const { disc } = await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { disc(id: $id) { weighings { massText observedAt } } }', { id: discId });
  return disc.weighings.map(({ massText }: any) => massText);
}

async function powersRecorded(): Promise<readonly string[]> {
  const { dryingRun } = await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { dryingRun(id: $id) { meterReadings { lightPath powerText } } }', { id: runId });
  return dryingRun.meterReadings.filter(({ lightPath }: any) => lightPath === 'READING').map(({ powerText }: any) => powerText);
}

scene('weighings and readings typed without a network are kept, said to be kept, and recorded once when it is back', async () => {
  await visit(page, `/bench/${runId}`);
  await page.getByLabel('Mass of C-1').waitFor();
  await loseNetwork(page);

  await page.getByLabel('Mass of C-1').fill('70.00');
  await page.keyboard.press('Enter');
  await reads(page, 'Kept on this computer, not sent yet: C-1, turgid, 70.00 mg.');
  const kept = page.getByRole('complementary', { name: 'Not sent yet' });
  await reads(kept, 'Not sent yet: 1.');

  // The hand goes on: the rhythm knows of what is kept.
  await page.getByLabel('Power through C-1').fill('151.0');
  await page.keyboard.press('Enter');
  await reads(kept, 'Not sent yet: 2.');
  expect(await massesRecorded()).toEqual([]);

  await findNetwork(page);
  await kept.waitFor({ state: 'detached' });
  await reads(page, /^Sent meanwhile and recorded: /);
  expect(await massesRecorded()).toEqual(['70.00']);
  expect(await powersRecorded()).toEqual(['151.0']);
});

scene('what was kept outlives the page itself', async () => {
  await visit(page, `/bench/${runId}`);
  await page.getByLabel('Mass of C-1').waitFor();
  await loseNetwork(page);
  await page.getByLabel('Mass of C-1').fill('68.26');
  await page.keyboard.press('Enter');
  await reads(page, 'Kept on this computer, not sent yet: C-1, drying, 68.26 mg.');
  const context = page.context();
  await page.close();
  const next = await context.newPage();
  await findNetwork(next);
  await visit(next, `/bench/${runId}`);
  await next.getByRole('list', { name: 'Recorded, newest first' }).getByText('68.26 mg').first().waitFor();
  expect(await massesRecorded()).toEqual(['70.00', '68.26']);
  page = next;
});

scene('a write whose answer was lost is recognised when it is sent again', async () => {
  await page.getByRole('button', { name: 'Do something else' }).click();
  await page.getByRole('radio', { name: 'Weigh' }).check({ force: true });
  // The server writes it; the browser never hears so, as when the network drops between the two.
  forgive(page, /ERR_CONNECTION_RESET/);
  let lost = 0;
  await page.route('**/graphql', async (route) => {
    if (lost > 0 || !(route.request().postData() ?? '').includes('recordWeighing')) return route.fallback();
    lost += 1;
    await route.fetch();
    return route.abort('connectionreset');
  });
  await page.getByLabel('Mass of C-1').fill('65.36');
  await page.keyboard.press('Enter');
  await page.getByRole('list', { name: 'Recorded, newest first' }).getByText('65.36 mg').first().waitFor();
  await page.getByRole('complementary', { name: 'Not sent yet' }).waitFor({ state: 'detached' });
  expect(lost).toBe(1);
  expect(await massesRecorded()).toEqual(['70.00', '68.26', '65.36']);
  expect(await textOf(page.getByRole('region', { name: 'Recorded' }))).not.toMatch(/65\.36 mg.*65\.36 mg/);
});
