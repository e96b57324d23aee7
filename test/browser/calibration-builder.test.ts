import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { record } from '../support/chain.js';
import { axeFindings, DESK, openStage, PHONE, scene, sidewaysFindings, type Page, type Stage } from '../support/browser.js';
import { newId } from '../support/lab.js';
import { driedLeaves, sign } from '../support/whole-chain.js';

/** A researcher builds a calibration with the finding in sight, states its scope, and compares. */

let stage: Stage;
let page: Page;
let calibrationId: string;

beforeAll(async () => {
  stage = await openStage('Lab that builds');
  const dried = await driedLeaves(stage.lab, [-0.1, 0.06, -0.03, 0.09, 0.02, -0.05, 0.04]);
  calibrationId = newId();
  await record(stage.lab.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: dried.bench.cropId });
}, 240_000);

afterAll(() => stage.close());

/** For the eye: git ignores the folder. */
async function draw(name: string, at: Page = page): Promise<void> {
  const folder = join(packageRoot, 'test/browser/screenshots');
  mkdirSync(folder, { recursive: true });
  await at.screenshot({ path: join(folder, `builder-${name}.png`), fullPage: true });
}

const region = (name: string) => page.getByRole('region', { name, exact: true });
const factOf = async (name: string): Promise<string> => (await region('How far it holds').locator('dl > div', { hasText: name }).first().locator('dd').innerText()).trim();

scene('sees at once what limits the trip point, and reads RWC back by slider and keyboard', async () => {
  page = await stage.signedIn('RESEARCHER');
  await page.goto(`/calibrations/${calibrationId}/fit`);
  await page.getByRole('heading', { level: 1, name: 'Fit Fig on rig A' }).waitFor();
  await page.getByText('What limits the trip point').waitFor();
  expect(await region('How far it holds').innerText()).toMatch(/Leaves differ by [\d.]+ RWC points.*limits the trip point, not the balance.*times too narrow/s);
  const slider = page.getByRole('slider', { name: /Transmittance/ });
  const before = await factOf('RWC by the mean line');
  await slider.focus();
  for (let i = 0; i < 20; i += 1) await page.keyboard.press('ArrowRight');
  const after = await factOf('RWC by the mean line');
  expect(Number.parseFloat(after)).toBeLessThan(Number.parseFloat(before));
  // The same by drawing along the picture.
  const picture = page.getByRole('img', { name: /three intervals/ });
  const box = (await picture.boundingBox())!;
  await page.mouse.move(box.x + box.width / 2, box.y + box.height * 0.75);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height * 0.85, { steps: 4 });
  await page.mouse.up();
  expect(Number.parseFloat(await factOf('RWC by the mean line'))).toBeGreaterThan(Number.parseFloat(after));
  await draw('desk');
  expect(await sidewaysFindings(page)).toEqual([]);
  expect(await axeFindings(page)).toEqual([]);
});

scene('sees of a curve what it sees of a line, and in what its leaves may differ', async () => {
  await page.getByRole('radio', { name: 'Height and slope', exact: true }).check();
  await page.getByRole('radio', { name: /^exponential/ }).check();
  await region('How far it holds').getByText('Parameter f, floor').waitFor();
  // What the family does not offer is not chosen any more.
  expect(await page.getByRole('group', { name: 'Leaves differ in' }).getByRole('radio').count()).toBe(1);
  expect(await region('How far it holds').innerText()).toMatch(/Leaves differ by [\d.]+ RWC points.*times too narrow.*One new leaf.*Tolerance/s);
  await page.getByRole('img', { name: /three intervals/ }).waitFor();
  await page.getByRole('img', { name: /What each leaf differs by/ }).waitFor();
  await region('What would make it better').getByText(/more leaves would make it/).waitFor();
  await draw('curve');
  await page.setViewportSize(PHONE);
  await draw('curve-phone');
  expect(await sidewaysFindings(page)).toEqual([]);
  expect(await axeFindings(page)).toEqual([]);
  await page.setViewportSize(DESK);
  await page.getByRole('radio', { name: /^log-linear/ }).check();
  await region('How far it holds').getByText('Parameter a', { exact: true }).waitFor();
});

scene('leaves a reading out and sees figures with and without it', async () => {
  await page.getByRole('group', { name: 'Leave readings out' }).getByRole('checkbox').first().check();
  await page.getByRole('columnheader', { name: 'With every reading' }).waitFor();
  expect(await page.getByRole('button', { name: 'Fit and freeze as a new version' }).isDisabled()).toBe(true);
  await page.getByLabel('Reason for leaving it out').fill('Disc slipped in the clamp');
  expect(await page.getByRole('button', { name: 'Fit and freeze as a new version' }).isEnabled()).toBe(true);
});

scene('plans for a wanted half-width, and compares ways of fitting as a job', async () => {
  await page.getByLabel(/Wanted half-width/).fill('0,5');
  await page.getByText('cannot reach it').first().waitFor();
  await page.getByRole('button', { name: 'Compare families and leaf effects' }).click();
  const table = page.getByRole('table', { name: 'Ways of fitting, side by side' });
  await table.waitFor({ timeout: 60_000 });
  expect(await table.getByRole('row').count()).toBeGreaterThan(10);
  await page.getByRole('table', { name: /What each leaf does/ }).waitFor();
  await draw('compared');
});

scene('freezes the version, states its scope, and finds it among all calibrations', async () => {
  await page.getByRole('button', { name: 'Fit and freeze as a new version' }).click();
  await page.getByRole('heading', { level: 1, name: 'Fig on rig A, version 1' }).waitFor();
  const versionId = page.url().split('/').at(-1)!;
  await page.getByRole('button', { name: 'State its scope' }).click();
  await page.getByLabel('RWC from, %').fill('70');
  await page.getByLabel('RWC to, %').fill('94');
  await page.getByLabel(/Cultivars/).fill('Brown Turkey, Dottato');
  await page.getByRole('button', { name: 'State the scope' }).click();
  await region('Scope').getByText('Brown Turkey, Dottato').waitFor();
  expect(await region('Scope').innerText()).toContain('70.0 % to 94.0 %');
  await draw('version');
  expect(await axeFindings(page)).toEqual([]);
  await sign(stage.lab.as('FIELD_ENGINEER'), 'calibration_version', versionId, 'REVIEWED');
  await sign(stage.lab.as('MANAGER'), 'calibration_version', versionId, 'APPROVED');
  await page.goto('/calibrations/compare');
  const row = page.getByRole('table', { name: 'Calibrations side by side' }).getByRole('row', { name: /Fig on rig A/ });
  await row.waitFor();
  expect(await row.innerText()).toContain('approved');
  await page.getByRole('img', { name: /Fig on rig A/ }).waitFor();
  await draw('compare');
  expect(await sidewaysFindings(page)).toEqual([]);
  expect(await axeFindings(page)).toEqual([]);
});

scene('on a phone nothing runs out of the page', async () => {
  const phone = await stage.signedIn('RESEARCHER', PHONE);
  for (const [name, path, wait] of [['phone-build', `/calibrations/${calibrationId}/fit`, 'What limits the trip point'], ['phone-compare', '/calibrations/compare', 'Curves']] as const) {
    await phone.goto(path);
    await phone.getByText(wait).first().waitFor();
    await phone.getByRole('img').first().waitFor();
    await draw(name, phone);
    expect(await sidewaysFindings(phone)).toEqual([]);
    expect(await axeFindings(phone)).toEqual([]);
  }
});
