import { writeFileSync } from 'node:fs';
import { axeFindings, DESK, openStage, PHONE, reads, scene, settled, sidewaysFindings, textOf, visit, type Page, type Stage } from '../support/browser.js';
import { record } from '../support/chain.js';
import { newId, PASSWORD } from '../support/lab.js';
import { characterisedUnit, fillLab, sign, type FilledLab } from '../support/whole-chain.js';

let stage: Stage;
let filled: FilledLab;
let lotId: string;
let page: Page;

beforeAll(async () => {
  stage = await openStage('Device lab');
  filled = await fillLab(stage.lab);
  ({ lotId } = await characterisedUnit(stage.lab.as('FIELD_ENGINEER'), 'Q-01'));
  page = await stage.signedIn('FIELD_ENGINEER');
}, 180_000);

afterAll(() => stage.close());

/** At both widths: no sideways scrolling, nothing for axe, and a picture where pictures are kept. */
async function lookAt(name: string): Promise<void> {
  for (const [width, size] of [['desk', DESK], ['phone', PHONE]] as const) {
    await page.setViewportSize(size);
    await settled(page);
    expect([...(await sidewaysFindings(page)), ...(await axeFindings(page))].map((finding) => `${name}, ${width}: ${finding}`)).toEqual([]);
    const folder = process.env['KEEP_PAPERS'];
    if (folder) await page.screenshot({ path: `${folder}/${name}-${width}.png`, fullPage: true });
  }
  await page.setViewportSize(DESK);
}

const form = (name: string) => page.locator('details', { has: page.getByText(name, { exact: true }) });

async function unfold(name: string): Promise<void> {
  const part = form(name);
  if ((await part.getAttribute('open')) === null) await part.locator('summary').click();
}

scene('an engineer fills the passport of a unit and reads what it says', async () => {
  await visit(page, `/devices/${filled.unitId}`);
  await unfold('Record an absorption band');
  const band = form('Record an absorption band');
  await band.getByLabel('Centre, nm').fill('1462');
  await band.getByLabel('Full width at half maximum, nm').fill('38');
  await band.getByLabel('How it was measured').fill('Spectrometer');
  await band.getByRole('button', { name: 'Record band' }).click();
  await page.getByRole('table', { name: 'Absorption bands of U-701' }).waitFor();

  await unfold('Record a chopped run');
  const chopped = form('Record a chopped run');
  await chopped.getByLabel('Bias, V').fill('9');
  await chopped.getByLabel('Openings a second, Hz').fill('0.5');
  await chopped.getByLabel('Power at each trip, nW').fill('50.1 49.8 none 50.4');
  await chopped.getByRole('button', { name: 'Record run' }).click();
  await reads(page, '4 at 0.5 Hz, 1 without a trip');
  await reads(page, /Under chopped light it did not trip in 1 opening/);

  await unfold('Record a reset pulse');
  const reset = form('Record a reset pulse');
  await reset.getByLabel('Pulse, V').fill('22');
  await reset.getByLabel('Length, ms').fill('5');
  await reset.getByRole('button', { name: 'Record pulse' }).click();
  await page.getByRole('table', { name: 'Reset pulses of U-701' }).waitFor();
  await lookAt('passport');
});

scene('measures the light on three days and reads how far it moves the trip', async () => {
  await visit(page, '/devices/light');
  await page.getByRole('textbox', { name: /^Label/ }).fill('Ridge, noon');
  await page.getByRole('textbox', { name: 'Site' }).fill('Ridge');
  await page.getByLabel(/^Readings without a leaf/).fill('2026-06-01 10:00 400\n2026-06-01 12:05 480\n2026-06-02 12:00 510\n2026-06-03 12:00 455');
  await reads(page, '4 readings on 3 days.');
  await page.getByRole('button', { name: 'Record light reference' }).click();
  await page.getByRole('table', { name: 'Light references' }).getByText('measured on 3 days').waitFor();
  await unfold('How Ridge, noon was measured');
  await page.getByRole('img', { name: 'Light at Ridge: Ridge, noon' }).waitFor();
  // Half the vapour lets more light through: the trip comes wetter, by the sign in front.
  const moved = page.getByRole('table', { name: 'How each moves the trip' });
  expect(await textOf(moved.getByRole('row', { name: /vapour 0.7 cm/ }))).toMatch(/× 1\.\d.*\+\d/);
  await lookAt('light');
});

scene('works a certificate out, finds the target for a risk, and issues it', async () => {
  await visit(page, `/devices/${filled.unitId}/certify`);
  await page.getByLabel('What the target rests on').fill('Wilting seen below 78 %');
  await page.getByLabel(/^A trip is false at RWC/).fill('95');
  await page.getByLabel(/^Silence is a miss at RWC/).fill('65');
  await page.getByRole('button', { name: 'Work it out' }).click();
  await reads(page, 'Chance of a false trip');
  await unfold('Find the target for a risk');
  const guard = form('Find the target for a risk');
  await guard.getByLabel('On a leaf as wet as RWC, %').fill('95');
  await guard.getByLabel('At most, in % of leaves').fill('10');
  await guard.getByRole('button', { name: 'Find the target' }).click();
  await guard.getByRole('button', { name: 'Take it as the target' }).click();
  await reads(page, 'The fields were changed since.');
  expect(Number(await page.getByLabel(/^Target RWC/).inputValue())).toBeLessThan(90);
  await page.getByLabel(/^Target RWC/).fill('80');
  await lookAt('certify');
  await page.getByRole('button', { name: 'Issue certificate' }).click();
  await page.getByRole('heading', { level: 1, name: 'Certificate of unit U-701' }).waitFor();
  const sheet = page.getByRole('article', { name: 'Threshold certificate of unit U-701' });
  await reads(sheet, 'It is a draft, not for use.');
  const id = page.url().split('/').at(-1)!;
  await sign(stage.lab.as('RESEARCHER'), 'threshold_certificate', id, 'REVIEWED');
  await sign(stage.lab.as('MANAGER'), 'threshold_certificate', id, 'APPROVED');
  await visit(page, `/devices/certificate/${id}`);
  await reads(sheet, /^Valid until/);
  await reads(sheet, /Trips on a leaf at 95.0 %, where that is false/);
  await lookAt('certificate');
  await sheet.getByRole('img', { name: 'Square code with the address of this certificate’s thread' }).waitFor();
  // Its place stands before it is fetched.
  await page.waitForFunction("document.querySelector('article img').naturalWidth > 20");
  const paper = await page.request.get((await page.getByRole('link', { name: 'Certificate as PDF' }).getAttribute('href'))!);
  expect([paper.status(), (await paper.body()).subarray(0, 5).toString()]).toEqual([200, '%PDF-']);
  if (process.env['KEEP_PAPERS']) writeFileSync(`${process.env['KEEP_PAPERS']}/browser-certificate.pdf`, await paper.body());
});

scene('certifies a whole lot: each unit its own bias or its own refusal', async () => {
  const bare = newId();
  await record(stage.lab.as('FIELD_ENGINEER'), 'registerDeviceUnit', 'RegisterDeviceUnitInput', { id: bare, lotId, label: 'Q-02' });
  await visit(page, `/devices/lot/${lotId}`);
  await unfold('Record an acceptance');
  await reads(page, '59 units');
  await lookAt('lot');
  await page.getByRole('link', { name: 'Certify the lot' }).click();
  await page.getByLabel('What the target rests on').fill('Wilting seen below 78 %');
  await lookAt('certify-lot');
  await page.getByRole('button', { name: 'Issue 2 certificates' }).click();
  await page.getByRole('heading', { level: 1, name: 'Certificates for 2 units' }).waitFor();
  await reads(page, /^1 issued, 1 refused\. Asked for/);
  const outcomes = page.getByRole('table', { name: 'Outcome of each unit' });
  expect(await textOf(outcomes.getByRole('row', { name: /Q-01/ }))).toMatch(/draft/i);
  expect(await textOf(outcomes.getByRole('row', { name: /Q-02/ }))).toContain('has no bias-threshold curve');
  await reads(page, 'You asked for these certificates: another person reviews them, a third approves.');
  await lookAt('batch');

  const reviewer = await stage.signedIn('RESEARCHER', PHONE);
  await visit(reviewer, new URL(page.url()).pathname);
  await reads(reviewer, /^1 awaits its review\./);
  await reviewer.getByLabel('Your password, again').fill(PASSWORD);
  expect([...(await sidewaysFindings(reviewer)), ...(await axeFindings(reviewer))]).toEqual([]);
  await reviewer.getByRole('button', { name: 'Sign all' }).click();
  await reads(reviewer, '1 certificate signed.');
  await reads(reviewer, 'You reviewed 1 of them: another person approves those.');
  expect(await reviewer.getByLabel('Your password, again').count()).toBe(0);
  await reads(outcomes, 'reviewed');
  await reviewer.close();
});

scene('retires a unit, whose certificate ends with it', async () => {
  await visit(page, `/devices/${filled.unitId}`);
  await unfold('Retire this unit');
  await page.getByLabel('What happened').fill('Cracked on the way home.');
  await page.getByRole('button', { name: 'Retire unit' }).click();
  await reads(page, 'Retired: it is damaged.');
  expect(await page.getByRole('link', { name: 'Issue a certificate' }).count()).toBe(0);
  await visit(page, `/devices/certificate/${filled.certificateId}`);
  await reads(page, 'The unit is retired: Cracked on the way home.');
});
