import { generate } from 'otplib';
import { DESK, follow, leave, openStage, PHONE, reads, scene, textOf, visit, type Page, type Stage } from '../support/browser.js';
import { at, record } from '../support/chain.js';
import { newId, PASSWORD } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';

let stage: Stage;
let filled: FilledLab;

beforeAll(async () => {
  stage = await openStage('Record lab');
  filled = await fillLab(stage.lab);
}, 180_000);

afterAll(() => stage.close());

/** For looking at what was made: THREADLEAF_LOOK names a folder for pictures. */
async function look(page: Page, name: string): Promise<void> {
  const folder = process.env['THREADLEAF_LOOK'];
  if (!folder) return;
  for (const size of [DESK, PHONE]) {
    await page.setViewportSize(size);
    await page.screenshot({ path: `${folder}/${name}-${size.width}.png`, fullPage: true });
  }
  await page.setViewportSize(DESK);
}

scene('what a fault of a balance reaches, and how far it moves it', async () => {
  const page = await stage.signedIn('MANAGER');
  await visit(page, `/instruments/${filled.bench.balanceId}`);
  await follow(page, 'What a fault reaches', 'What a fault of Balance 1 reaches');
  await page.goto(`/instruments/${filled.bench.balanceId}/fault?from=${encodeURIComponent(at(0))}&to=${encodeURIComponent(at(100))}`);
  await reads(page, '48 facts were recorded with it then.');
  await page.getByLabel('Offset, mg').fill('0,4');
  await page.getByRole('button', { name: 'Show what it reaches' }).click();
  const installations = page.getByRole('table', { name: 'Installations that rest on it' });
  await installations.getByText('−0.69 points').waitFor();
  expect(await textOf(installations.locator('tbody tr').first())).toMatch(/RWC at which it trips with the bias read back.* 80\.\d\d %.* 79\.\d\d % −0\.69 points.* none/);
  expect(await textOf(page.getByRole('table', { name: 'Calibration versions that rest on it' }))).toContain('These runs have no readings');
  await look(page, 'fault');
  // What was asked stands in the address: a reload shows the same.
  await page.reload();
  await page.getByRole('table', { name: 'Decisions that rest on it' }).getByText('−0.69 points').waitFor();
  await leave(page);
});

scene('a withdrawn approval comes to whoever holds what rests on it, while the page is open', async () => {
  const page = await stage.signedIn('FIELD_ENGINEER');
  await record(stage.lab.as('MANAGER'), 'sign', 'SignInput', {
    id: newId(), subjectKind: 'calibration_version', subjectId: filled.versionId, meaning: 'WITHDRAWN', statement: 'The lamp was drifting', password: PASSWORD,
  });
  const due = (name: string): Promise<void> => page.getByRole('navigation', { name: 'Screens' }).getByRole('link', { name, exact: true }).waitFor();
  await due('Due 3 notices');
  const notices = page.getByRole('list', { name: 'Notices to see' });
  await notices.getByRole('listitem').nth(2).waitFor();
  expect(await notices.getByRole('listitem').count()).toBe(3);
  await look(page, 'notices');
  const installed = notices.getByRole('listitem').filter({ hasText: 'The installation of U-701 that you made or signed rests on it.' });
  await installed.getByRole('button', { name: 'Mark as seen' }).click();
  await due('Due 2 notices');
  await page.getByRole('button', { name: 'Mark all as seen' }).click();
  await page.getByText('Mark all as seen').waitFor({ state: 'detached' });
  await due('Due');
  await page.getByRole('button', { name: 'Show notices seen before' }).click();
  await page.getByRole('list', { name: 'Notices seen before' }).getByRole('listitem').nth(2).waitFor();
  await look(page, 'notices-seen');
  await follow(page, /^Look at installation/, /U-701/, page.getByRole('list', { name: 'Notices seen before' }));
  await leave(page);
});

scene('a second factor is set on the Lab screen, asked for at the door and beside the signature', async () => {
  const page = await stage.signedIn('RESEARCHER');
  await visit(page, '/lab');
  const own = page.getByRole('region', { name: 'My second factor' });
  await own.getByText('not set').waitFor();
  await own.getByRole('textbox', { name: 'Your password, again' }).fill(PASSWORD);
  await own.getByRole('button', { name: 'Set a second factor' }).click();
  await own.getByRole('img', { name: 'Square code for an authenticator' }).waitFor();
  await look(page, 'second-factor');
  const secret = (await own.getByText(/^[A-Z2-7]{4}( [A-Z2-7]{1,4})+$/).innerText()).replaceAll(' ', '');
  const shown = (stepsLater: number): Promise<string> => generate({ secret, epoch: Math.floor(Date.now() / 1000) + 30 * stepsLater });
  await own.getByLabel('Code', { exact: true }).fill('000000');
  await own.getByRole('button', { name: 'Confirm' }).click();
  await reads(own, 'The code does not match.');
  await own.getByLabel('Code', { exact: true }).fill(await shown(0));
  await own.getByRole('button', { name: 'Confirm' }).click();
  const codes = own.getByRole('list', { name: 'Recovery codes' });
  await codes.waitFor();
  const [recovery] = await codes.getByRole('listitem').allInnerTexts();
  await look(page, 'recovery-codes');
  await own.getByRole('button', { name: 'I have kept them' }).click();
  await reads(own, '10 of 10 recovery codes not used yet');

  const door = await stage.open();
  await door.getByLabel('Sign-in name').fill(stage.lab.as('RESEARCHER').email);
  await door.getByRole('textbox', { name: 'Password' }).fill(PASSWORD);
  await door.getByRole('button', { name: 'Sign in' }).click();
  await reads(door, 'A code of your authenticator is needed.');
  await look(door, 'door');
  await door.getByLabel('Code', { exact: true }).fill(await shown(1));
  await door.getByRole('button', { name: 'Sign in' }).click();
  await door.getByRole('heading', { level: 1, name: 'Due' }).waitFor();
  await leave(door);

  await visit(page, `/devices/certificate/${filled.certificateId}`);
  await page.getByLabel('Reason').fill('The lamp was drifting');
  await page.getByRole('textbox', { name: 'Your password, again' }).fill(PASSWORD);
  await page.getByLabel('Code', { exact: true }).fill(recovery!);
  await page.getByRole('button', { name: 'Sign', exact: true }).click();
  await reads(page, /“The lamp was drifting”, with second factor/);
  await look(page, 'signed');
  await leave(page);
});
