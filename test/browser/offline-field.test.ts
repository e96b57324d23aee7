import { codeOf, symbolText } from '#libs/label';
import { axeFindings, openStage, PHONE, reads, scene, sidewaysFindings, signInAs, textOf, visit, type Page, type Stage } from '../support/browser.js';
import { at, record } from '../support/chain.js';
import { newId, PASSWORD } from '../support/lab.js';
import { layLine, type LineToServer } from '../support/line-to-server.js';
import { PIXEL } from '../support/stored-file.js';
import { characterisedUnit, fillLab, sign, type FilledLab } from '../support/whole-chain.js';

let stage: Stage;
let line: LineToServer;
let filled: FilledLab;
let biasV: number;
/** Of a second unit, withdrawn while the phone is away. */
let second: { readonly unitId: string; readonly certificateId: string; readonly biasV: number };
let page: Page;

beforeAll(async () => {
  stage = await openStage('Hill lab');
  line = await layLine(stage.server.url);
  filled = await fillLab(stage.lab);
  ({ thresholdCertificate: { biasV } } = await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thresholdCertificate(id: $id) { biasV } }', { id: filled.certificateId }));
  second = await secondUnit();
  page = await stage.openOffline(line.url, PHONE);
  await signInAs(page, stage.lab.as('FIELD_ENGINEER').email);
}, 180_000);

afterAll(async () => {
  await stage.close();
  await line.close();
});

async function secondUnit(): Promise<typeof second> {
  const [engineer, certificateId] = [stage.lab.as('FIELD_ENGINEER'), newId()];
  const { unitId } = await characterisedUnit(engineer, 'U-702');
  const { thresholdCertificate: { lightReference } } = await engineer.ask<any>('query ($id: UUID!) { thresholdCertificate(id: $id) { lightReference { id } } }', { id: filled.certificateId });
  const { certificate } = await record(engineer, 'issueCertificate', 'IssueCertificateInput', {
    id: certificateId, deviceUnitId: unitId, calibrationVersionId: filled.versionId, lightReferenceId: lightReference.id, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000),
  }, 'certificate { biasV }');
  await sign(stage.lab.as('RESEARCHER'), 'threshold_certificate', certificateId, 'REVIEWED');
  await sign(stage.lab.as('MANAGER'), 'threshold_certificate', certificateId, 'APPROVED');
  return { unitId, certificateId, biasV: certificate.biasV };
}

const notSent = () => page.getByRole('complementary', { name: 'Not sent yet' });
const shellReady = (): Promise<boolean> => page.evaluate(`navigator.serviceWorker.ready
  .then(() => navigator.serviceWorker.controller ?? new Promise((taken) => navigator.serviceWorker.addEventListener('controllerchange', taken, { once: true })))
  .then(() => true)`);

/** The installations of a zone with what was told of them, as the server holds them. */
const installedIn = async (zone: string): Promise<readonly any[]> => (await stage.lab.as('AUDITOR').ask<any>(
  'query ($zone: String) { installations(first: 10, zone: $zone) { nodes { id biasReadbackV overrideReason recordedBy { displayName } photo { name } plant { id } deviceUnit { label } trips { note } reports { latched note } } } }', { zone })).installations.nodes;
const installedInH1 = (): Promise<readonly any[]> => installedIn('H1');

/** Of whom this device holds what was read. */
const accountsRead = (): Promise<readonly string[]> => page.evaluate(`new Promise((resolve, reject) => {
  const opening = indexedDB.open('threadleaf');
  opening.onerror = () => reject(opening.error);
  opening.onsuccess = () => {
    const all = opening.result.transaction('reads').objectStore('reads').getAll();
    all.onsuccess = () => { opening.result.close(); resolve(all.result.map(({ account }) => account)); };
  };
})`);

async function scanUnit(text: string): Promise<void> {
  await page.getByRole('textbox', { name: 'Scan the unit' }).fill(text);
  await page.keyboard.press('Enter');
}

scene('before the way to the field the phone takes along what is needed there', async () => {
  await shellReady();
  await visit(page, '/field');
  await page.getByRole('button', { name: /^Take along 1 installation and the certified units$/ }).click();
  await reads(page, /^On this device as of .*: 1 installation, the certified units with their certificates, and the plants\./);
});

scene('without network a unit is installed by scan; a wrong bias stops it there too; photo, trip and report wait behind it', async () => {
  line.cut();
  await visit(page, '/field/install');
  await reads(page, 'Shown from this device.');
  await reads(page.getByRole('complementary', { name: 'No network' }), /^No answer from the server since/);
  await scanUnit('U-999');
  await reads(page, 'No answer came from the server, and U-999 is not among what this device holds. U-999 was not taken: scan it again.');
  await scanUnit(symbolText(codeOf(filled.unitId)));
  await reads(page, /^In the hand: U-701/);
  await reads(page, `${biasV} V`);
  await page.getByRole('textbox', { name: 'Scan the plant' }).fill(symbolText(codeOf(filled.plantId)));
  await page.keyboard.press('Enter');
  await reads(page, /^Under a leaf of/);
  await page.getByLabel('Site', { exact: true }).fill('Hill');
  await page.getByLabel('Zone', { exact: true }).fill('H1');
  await page.getByLabel('Bias read back at the unit, V').fill((biasV * 1.05).toFixed(3));
  await page.locator('input[type=file]').first().setInputFiles({ name: 'leaf.png', mimeType: 'image/png', buffer: Buffer.from(PIXEL) });
  await reads(page, 'leaf.png is kept on this device and goes before the record.');
  await page.getByRole('button', { name: 'Record installation' }).click();
  await reads(page, new RegExp(`Asks: The bias read back is .* V; the certificate says ${biasV} V\\.`));
  await reads(notSent(), 'Not sent yet: 1.');
  expect([...(await axeFindings(page)), ...(await sidewaysFindings(page))]).toEqual([]);

  await page.getByLabel('Bias read back at the unit, V').fill(String(biasV));
  await page.getByRole('button', { name: 'Install it all the same' }).click();
  await reads(page, 'Unit U-701 is kept on this device as installed, not sent yet.');
  await reads(notSent(), 'Not sent yet: 2.');

  await page.getByRole('link', { name: 'See it' }).click();
  await page.getByLabel('Note', { exact: false }).first().fill('Latched at noon.');
  await page.getByRole('button', { name: 'Record trip' }).click();
  await reads(page, 'The trip is kept on this device, not sent yet.');
  await page.getByRole('button', { name: 'Record how it stands' }).click();
  await page.getByRole('radio', { name: 'Latched: tripped' }).check({ force: true });
  await page.getByRole('button', { name: 'Record how it stands' }).click();
  await reads(notSent(), 'Not sent yet: 4.');
  expect(await installedInH1()).toEqual([]);
});

scene('the queue tells what waits, in order, after the page was loaded again without a server, and fits a phone', async () => {
  await page.reload();
  await reads(notSent(), 'Not sent yet: 4.');
  await notSent().getByRole('button', { name: 'Show them' }).click();
  const lines = page.getByRole('list', { name: 'Writes that wait, in the order of capture' }).getByRole('listitem');
  await lines.nth(3).waitFor();
  const told = await Promise.all((await lines.all()).map(textOf));
  expect(told).toEqual([/leaf\.png/, /Installation of U-701, zone H1/, /Trip/, /Report.*latched/].map((each) => expect.stringMatching(each)));
  expect([...(await axeFindings(page)), ...(await sidewaysFindings(page))]).toEqual([]);
  await page.keyboard.press('Escape');
});

scene('back in the network all of it is recorded once, by the one who captured it', async () => {
  line.mend();
  await notSent().waitFor({ state: 'detached' });
  const [installation, ...more] = await installedInH1();
  expect(more).toEqual([]);
  expect(installation).toMatchObject({
    overrideReason: null, photo: { name: 'leaf.png' }, plant: { id: filled.plantId }, deviceUnit: { label: 'U-701' }, recordedBy: { displayName: 'field engineer of Hill lab' },
    trips: [{ note: 'Latched at noon.' }], reports: [{ latched: true }],
  });
  expect(Number(installation.biasReadbackV)).toBe(biasV);
});

scene('a certificate that has ended stops the phone by what it knows; one withdrawn meanwhile stops the write when it arrives, until a reason answers it', async () => {
  line.cut();
  await visit(page, '/field/install');
  await scanUnit(symbolText(codeOf(second.unitId)));
  await reads(page, /^In the hand: U-702/);
  await page.getByLabel('Site', { exact: true }).fill('Hill');
  await page.getByLabel('Zone', { exact: true }).fill('H2');
  await page.getByLabel('Plant and leaf', { exact: true }).fill('Row 1, first tree');
  await page.getByLabel('Bias read back at the unit, V').fill(String(second.biasV));
  const now = await page.getByLabel('Armed at', { exact: true }).inputValue();
  await page.getByLabel('Armed at', { exact: true }).fill('2099-06-01T12:00');
  await page.getByRole('button', { name: 'Record installation' }).click();
  await reads(page, /^Asks: The certificate was valid until \d{4}-\d\d-\d\d\.$/);
  await notSent().waitFor({ state: 'detached' });
  await page.getByLabel('Armed at', { exact: true }).fill(now);
  await page.getByRole('button', { name: 'Install it all the same' }).click();
  await reads(page, 'Unit U-702 is kept on this device as installed, not sent yet.');

  await sign(stage.lab.as('MANAGER'), 'threshold_certificate', second.certificateId, 'WITHDRAWN', 'Its trip tests were of another unit.');
  line.mend();
  await reads(notSent(), /refused/);
  await notSent().getByRole('button', { name: 'Show them' }).click();
  const refused = page.getByRole('list', { name: 'Writes that were refused, in the order of capture' });
  await reads(refused, /Asks: The certificate was withdrawn\./);
  expect(await installedIn('H2')).toEqual([]);
  expect([...(await axeFindings(page)), ...(await sidewaysFindings(page))]).toEqual([]);
  await refused.getByLabel('Reason for doing it all the same').fill('Left under the leaf until its successor comes.');
  await refused.getByRole('button', { name: 'Send it with this' }).click();
  await notSent().waitFor({ state: 'detached' });
  await page.keyboard.press('Escape');
  expect(await installedIn('H2')).toMatchObject([{ overrideReason: 'Left under the leaf until its successor comes.', deviceUnit: { label: 'U-702' } }]);
});

scene('a session that ran out keeps the queue; another’s sign-in never sends it; the same person’s does', async () => {
  const [{ id: installationId }] = await installedInH1();
  await visit(page, `/field/${installationId}`);
  expect((await accountsRead()).length).toBeGreaterThan(3);
  line.cut();
  await page.getByLabel('Note', { exact: false }).first().fill('Seen before the session ended.');
  await page.getByRole('button', { name: 'Record trip' }).click();
  await reads(notSent(), 'Not sent yet: 1.');
  // The session ends by time: here by the server's own word, while the browser cannot hear it.
  const cookie = (await page.context().cookies()).map(({ name, value }) => `${name}=${value}`).join('; ');
  await fetch(`${stage.server.url}/graphql`, { method: 'POST', headers: { 'content-type': 'application/json', cookie }, body: JSON.stringify({ query: 'mutation { signOut }' }) });
  line.mend();
  const dialogue = page.getByRole('dialog', { name: 'The session has ended' });
  await reads(dialogue, '1 write of field engineer of Hill lab for Hill lab');
  const tripsNow = async (): Promise<readonly any[]> => (await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { installation(id: $id) { trips { note recordedBy { displayName } } } }', { id: installationId })).installation.trips;

  await dialogue.getByLabel('Sign-in name').fill(stage.lab.as('TECHNICIAN').email);
  await dialogue.getByRole('textbox', { name: 'Password' }).fill(PASSWORD);
  await dialogue.getByRole('button', { name: 'Sign in' }).click();
  await dialogue.waitFor({ state: 'detached' });
  // Nothing that the engineer read is left for the technician.
  const technicianId = (await stage.lab.as('TECHNICIAN').ask<any>('query { me { person { id } } }')).me.person.id;
  expect((await accountsRead()).filter((account) => !account.startsWith(technicianId))).toEqual([]);
  await page.getByRole('button', { name: /technician of Hill lab/ }).click();
  await page.getByRole('button', { name: /^Not sent yet: nothing/ }).click();
  await reads(page, '1 write of field engineer of Hill lab for Hill lab: sent when that person signs in here, in that lab.');
  await page.keyboard.press('Escape');
  // What the technician records goes; what the engineer did, waits.
  await record(stage.lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id: newId(), leafId: filled.bench.leafId, label: 'H-1', diameterMm: '10' });
  expect((await tripsNow()).map(({ note }) => note)).not.toContain('Seen before the session ended.');

  await page.getByRole('button', { name: /technician of Hill lab/ }).click();
  await page.getByRole('button', { name: 'Sign out' }).click();
  await reads(page, '1 write of field engineer of Hill lab for Hill lab');
  await page.goto('/');
  await signInAs(page, stage.lab.as('FIELD_ENGINEER').email);
  await visit(page, `/field/${installationId}`);
  await reads(page.getByRole('list', { name: 'Trips of this installation' }), '“Seen before the session ended.”');
  expect((await tripsNow()).filter(({ note }) => note === 'Seen before the session ended.')).toEqual([{ note: 'Seen before the session ended.', recordedBy: { displayName: 'field engineer of Hill lab' } }]);
}, 180_000);
