import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { at, record } from '../support/chain.js';
import { axeFindings, openStage, PHONE, scene, sidewaysFindings, signInAs, visit, type Page, type Stage } from '../support/browser.js';
import { newId, PASSWORD, type TestLab } from '../support/lab.js';
import { characterisedUnit, driedLeaves, lightReference, sign, type FilledLab } from '../support/whole-chain.js';

/** Two labs with different crops: one builds, has it reviewed and shares; the other takes it over; the first withdraws it. */

let stage: Stage;
let taker: TestLab;
let giving: Page;
let taking: Page;
let calibrationId: string;
let versionId: string;
let adoptedId: string;
let refitId: string;
let dried: Pick<FilledLab, 'bench' | 'run'>;
let unit: { deviceUnitId: string; lightReferenceId: string };

beforeAll(async () => {
  stage = await openStage('Fig growers');
  taker = await stage.server.openLab('Olive growers');
  dried = await driedLeaves(stage.lab);
  calibrationId = newId();
  await record(stage.lab.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: dried.bench.cropId });
  const [cropId, meterId] = [newId(), newId()];
  const manager = taker.as('MANAGER');
  await record(manager, 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Olive', scientificName: 'Olea europaea' });
  await record(manager, 'registerInstrument', 'RegisterInstrumentInput', { id: meterId, kind: 'POWER_METER', label: 'Meter', resolution: '0.1', repeatability: '0.5', unit: 'nW', checkEveryHours: 720 });
  await record(manager, 'registerRig', 'RegisterRigInput', { id: newId(), label: 'Our rig', version: 1, source: 'halogen lamp', bandCentreNm: '1471', bandWidthNm: '12', meterId });
  await record(manager, 'recordCalibration', 'RecordCalibrationInput', { id: newId(), label: 'Olive leaves', cropId });
  const { unitId } = await characterisedUnit(taker.as('FIELD_ENGINEER'));
  unit = { deviceUnitId: unitId, lightReferenceId: await lightReference(taker.as('FIELD_ENGINEER')) };
}, 240_000);

afterAll(() => stage.close());

/** For the eye: git ignores the folder. */
async function draw(name: string, page: Page): Promise<void> {
  const folder = join(packageRoot, 'test/browser/screenshots');
  mkdirSync(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `share-${name}.png`), fullPage: true });
}

async function faultless(page: Page): Promise<void> {
  expect(await sidewaysFindings(page)).toEqual([]);
  expect(await axeFindings(page)).toEqual([]);
}

const region = (page: Page, name: string) => page.getByRole('region', { name, exact: true });

scene('the researcher builds a version, and another person reviews it', async () => {
  giving = await stage.signedIn('RESEARCHER');
  await giving.goto(`/calibrations/${calibrationId}/fit`);
  await giving.getByRole('button', { name: 'Fit and freeze as a new version' }).click();
  await giving.getByRole('heading', { level: 1, name: 'Fig on rig A, version 1' }).waitFor();
  versionId = giving.url().split('/').at(-1)!;
  await region(giving, 'Shared with').getByText('Only an approved version that is not stale can be shared').waitFor();
  const engineer = await stage.signedIn('FIELD_ENGINEER');
  await engineer.goto(`/calibrations/version/${versionId}`);
  await engineer.getByRole('textbox', { name: 'Your password, again' }).fill(PASSWORD);
  await engineer.getByRole('button', { name: 'Sign', exact: true }).click();
  await engineer.getByText('It awaits approval by a manager').waitFor();
  await engineer.context().close();
  await sign(stage.lab.as('MANAGER'), 'calibration_version', versionId, 'APPROVED');
});

scene('shares it with a named lab, under a licence', async () => {
  const sharing = region(giving, 'Shared with');
  await sharing.getByRole('button', { name: 'Share it' }).click();
  await sharing.getByLabel('Licence').fill('CC BY 4.0');
  await sharing.getByLabel('To be cited as').fill('Fig growers: fig on rig A');
  await sharing.getByRole('checkbox', { name: 'Olive growers' }).check();
  await draw('form', giving);
  await faultless(giving);
  await sharing.getByRole('button', { name: 'Share it' }).click();
  await sharing.getByText(/^since/).waitFor();
  expect(await sharing.innerText()).toMatch(/Olive growers\s+since/);
  await sharing.getByText('Save the sealed pack for another server').waitFor();
  await draw('given', giving);
});

scene('the other lab is told, sees how far it holds, asks, and takes it over', async () => {
  taking = await stage.open();
  await signInAs(taking, taker.as('RESEARCHER').email);
  await taking.goto('/calibrations');
  const row = taking.getByRole('table', { name: 'Calibrations of other labs' }).getByRole('row', { name: /Fig on rig A/ });
  await row.waitFor();
  expect(await row.innerText()).toContain('Fig growers');
  await draw('list', taking);
  await row.getByRole('link', { name: 'Fig on rig A, version 1' }).click();
  await taking.getByRole('heading', { level: 1, name: 'Fig on rig A, version 1' }).waitFor();
  await taking.getByRole('img', { name: /Transmittance against RWC/ }).waitFor();
  expect(await region(taking, 'How far it holds there').innerText()).toMatch(/One new leaf, 95 %, mid-range\s+± [\d.]+ RWC points/);
  await draw('shared', taking);
  await faultless(taking);
  await taking.getByLabel('Comment or question').fill('Which side was up?');
  await taking.getByLabel('It is a question').check();
  await taking.getByRole('button', { name: 'Say it' }).click();
  await region(taking, 'Questions and comments').getByText(/asks: Which side was up/).waitFor();
  await region(giving, 'Questions and comments').getByText(/asks: Which side was up/).waitFor();
  await taking.getByRole('button', { name: 'Take it over' }).click();
  await taking.getByLabel('Calibration of yours').selectOption({ label: 'Olive leaves (Olive)' });
  await taking.getByLabel('Rig of yours').selectOption({ index: 1 });
  await taking.getByLabel('Reason').fill('To try it on olive leaves');
  await region(taking, 'Take it over').getByRole('button', { name: 'Take it over' }).click();
  await taking.getByRole('heading', { level: 1, name: 'Olive leaves, version 1' }).waitFor();
  adoptedId = taking.url().split('/').at(-1)!;
  expect(await region(taking, 'Where it comes from').innerText()).toContain('Fig growers');
  await draw('adopted', taking);
  await faultless(taking);
});

const issue = async (): Promise<any> => (await taker.as('FIELD_ENGINEER').ask<any>(
  'mutation ($input: IssueCertificateInput!) { issueCertificate(input: $input) { certificate { id } problem { code message } } }',
  { input: { id: newId(), ...unit, calibrationVersionId: adoptedId, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000), overrideReason: 'Whatever the reason' } },
)).issueCertificate;

scene('withdrawn by the first lab, the other is told and no new certificate can rest on it', async () => {
  await sign(taker.as('FIELD_ENGINEER'), 'calibration_version', adoptedId, 'REVIEWED');
  await sign(taker.as('MANAGER'), 'calibration_version', adoptedId, 'APPROVED');
  expect((await issue()).problem).toBeNull();
  const manager = await stage.signedIn('MANAGER');
  await manager.goto(`/calibrations/version/${versionId}`);
  await manager.getByRole('radio', { name: /withdraw/i }).check({ force: true });
  await region(manager, 'Signatures').getByLabel('Reason').fill('The lamp had aged');
  await manager.getByRole('textbox', { name: 'Your password, again' }).fill(PASSWORD);
  await manager.getByRole('button', { name: 'Sign', exact: true }).click();
  await manager.getByText('withdrawn', { exact: true }).first().waitFor();
  await region(taking, 'Where it comes from').getByText('Fig growers withdrew it.').waitFor();
  // The page itself hears of it too, without being opened anew.
  await taking.getByText('This version is withdrawn: no new certificate can rest on it.').waitFor();
  await draw('withdrawn', taking);
  await taking.goto('/due');
  await taking.getByText(/Fig growers withdrew Fig on rig A version 1: “The lamp had aged”/).waitFor();
  expect((await issue()).problem).toMatchObject({ code: 'STATE' });
});

scene('taken over with its readings, it is refitted: the terms and the parent stay with the draft', async () => {
  const again = newId();
  const researcher = stage.lab.as('RESEARCHER');
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: again, calibrationId, dryingRunIds: [dried.run.dryingRunId] });
  await sign(stage.lab.as('FIELD_ENGINEER'), 'calibration_version', again, 'REVIEWED');
  await sign(stage.lab.as('MANAGER'), 'calibration_version', again, 'APPROVED');
  const [shareId, versionId] = [newId(), newId()];
  await record(researcher, 'shareCalibration', 'ShareCalibrationInput', { id: shareId, calibrationVersionId: again, depth: 'RAW', permits: 'REUSE', licence: 'CC BY 4.0', citation: 'Fig growers: fig on rig A' });
  await record(researcher, 'grantShare', 'GrantShareInput', { id: newId(), shareId, audience: 'EVERY_LAB' });
  const { calibrations: [own], rigs } = await taker.as('RESEARCHER').ask<any>('{ calibrations { id } rigs { id } }');
  await record(taker.as('RESEARCHER'), 'adoptCalibration', 'AdoptCalibrationInput', { id: newId(), versionId, shareId, calibrationId: own.id, rigId: rigs[0].id, reason: 'With its readings' });
  await taking.goto(`/calibrations/version/${versionId}`);
  await taking.getByRole('link', { name: 'Refit it with own readings' }).click();
  await taking.getByRole('heading', { level: 1, name: 'Refit Olive leaves, version 2' }).waitFor();
  await region(taking, 'How far it holds').getByRole('img').first().waitFor();
  await taking.getByRole('group', { name: 'Leave readings out' }).getByRole('checkbox').first().check();
  await taking.getByRole('textbox', { name: /Reason/ }).first().fill('The first reading of a torn leaf');
  await draw('refit-builder', taking);
  await faultless(taking);
  await taking.getByRole('button', { name: 'Fit and freeze as a new version' }).click();
  await taking.getByRole('heading', { level: 1, name: 'Olive leaves, version 3' }).waitFor();
  await taking.getByText(/^Refitted from/).waitFor();
  expect(await region(taking, 'On whose work it rests').innerText()).toContain('Fig on rig A, version 2, of Fig growers. Licence: CC BY 4.0. To be cited as: Fig growers: fig on rig A');
  await draw('refit', taking);
  await faultless(taking);
  refitId = taking.url().split('/').at(-1)!;
});

scene('reads well on a phone, also the way in for a file from another server', async () => {
  const phone = await stage.open(PHONE);
  await signInAs(phone, taker.as('RESEARCHER').email);
  for (const [name, path] of [['phone-adopted', `/calibrations/version/${adoptedId}`], ['phone-refit', `/calibrations/version/${refitId}`], ['phone-list', '/calibrations'], ['phone-pack', '/calibrations/pack']] as const) {
    await visit(phone, path);
    await draw(name, phone);
    await faultless(phone);
  }
});
