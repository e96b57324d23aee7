import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { record, weighing, WEIGH } from '../support/chain.js';
import { axeFindings, openStage, PHONE, scene, sidewaysFindings, type Page, type Stage } from '../support/browser.js';
import { newId } from '../support/lab.js';
import { driedLeaves, otherCropDried } from '../support/whole-chain.js';

/** A researcher tries a calibration on leaves of another crop, adjusts it, and expects a third crop's curve from masses alone. */

let stage: Stage;
let page: Page;
const versionId = newId();
let studyPath: string;

beforeAll(async () => {
  stage = await openStage('Lab that takes over');
  const { lab } = stage;
  const [researcher, technician] = [lab.as('RESEARCHER'), lab.as('TECHNICIAN')];
  const { bench, run } = await driedLeaves(lab);
  const calibrationId = newId();
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: bench.cropId });
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [run.dryingRunId] });
  const quince = await otherCropDried(lab, bench, 'Quince', { heights: [-0.02, 0.01, 0.015, -0.01, 0.005], shift: 0.1 });
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: newId(), label: 'Quince after fig', cropId: quince.cropId });
  const reed = await otherCropDried(lab, bench, 'Reed', { heights: [0.03, -0.04, 0.02, -0.01], shift: -0.1, slope: -1.3 });
  for (const { cropId, runId, label } of [{ ...quince, label: 'Quince' }, { ...reed, label: 'Reed' }]) {
    const id = newId();
    await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id, label, cropId });
    await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: newId(), calibrationId: id, dryingRunIds: [runId] });
  }
  const [cropId, plantId] = [newId(), newId()];
  await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Mallow' });
  await record(technician, 'recordPlant', 'RecordPlantInput', { id: plantId, cropId, label: 'M1' });
  for (const turgid of [60, 62, 57]) {
    const [leafId, discId] = [newId(), newId()];
    await record(technician, 'recordLeaf', 'RecordLeafInput', { id: leafId, plantId, label: `M1-L${turgid}` });
    await record(technician, 'recordDisc', 'RecordDiscInput', { id: discId, leafId, label: `M-${turgid}`, diameterMm: '10' });
    for (const [state, mass] of [['TURGID', turgid], ['DRY', 12]] as const) await record(technician, WEIGH[0], WEIGH[1], weighing(bench, discId, state, state === 'DRY' ? 2000 : 1, mass), WEIGH[2]);
  }
}, 240_000);

afterAll(() => stage.close());

/** For the eye: git ignores the folder. */
async function look(name: string, at: Page = page): Promise<void> {
  const folder = join(packageRoot, 'test/browser/screenshots');
  mkdirSync(folder, { recursive: true });
  await at.screenshot({ path: join(folder, `transfer-${name}.png`), fullPage: true });
  expect(await sidewaysFindings(at)).toEqual([]);
  expect(await axeFindings(at)).toEqual([]);
}

scene('states a margin, then reads the verdict in words before any figure', async () => {
  page = await stage.signedIn('RESEARCHER');
  await page.goto(`/calibrations/version/${versionId}`);
  await page.getByText('It was not tried on other leaves yet.').waitFor();
  await page.getByRole('link', { name: 'Try it on other leaves' }).first().click();
  await page.getByRole('heading', { level: 1, name: 'Try Fig on rig A, version 1 on other leaves' }).waitFor();
  await page.getByText('Every leaf of this crop that was read is in this calibration already.').waitFor();
  await page.getByLabel('Crop of the leaves').selectOption({ label: 'Quince' });
  await page.getByRole('checkbox', { name: /Run R/ }).check();
  await page.getByLabel(/Margin, RWC points/).fill('25');
  await look('ask');
  await page.getByRole('button', { name: 'Study and keep' }).click();
  await page.getByRole('heading', { level: 1, name: 'Does Fig on rig A version 1 hold for Quince?' }).waitFor();
  studyPath = new URL(page.url()).pathname;
  await page.getByRole('img', { name: /Own leaves on the given calibration/ }).waitFor();
  await page.getByRole('img', { name: /too much or too little/ }).waitFor();
  const words = await page.locator('header').last().innerText();
  expect(words).toMatch(/holds( with an offset)?/i);
  expect(await page.getByRole('table', { name: /Own leaves, read by/ }).getByRole('row').count()).toBe(6);
  await look('verdict');
});

scene('leaves a reading out as a study of its own', async () => {
  await page.getByRole('group', { name: 'Leave readings out' }).getByRole('checkbox').first().check();
  await page.getByLabel('Reason for leaving it out').fill('Dew on the window');
  await page.getByRole('button', { name: 'Study again without them' }).click();
  await page.waitForURL((url) => url.pathname !== studyPath);
  await page.getByText(/34 readings of 5 leaves/).waitFor();
});

scene('makes an adjusted draft whose page names both parents', async () => {
  await page.getByLabel(/Calibration of Quince/).selectOption({ label: 'Quince after fig' });
  await page.getByRole('button', { name: 'Make the adjusted draft' }).click();
  await page.getByRole('heading', { level: 1, name: 'Quince after fig, version 1' }).waitFor();
  await page.getByRole('link', { name: 'transfer study of Fig on rig A version 1' }).waitFor();
  await page.getByRole('img', { name: /Transmittance against RWC/ }).waitFor();
  await look('adjusted');
  await page.goto('/calibrations/compare');
  await page.getByRole('table', { name: 'Crops that it rests on' }).waitFor();
  expect(await page.getByRole('region', { name: 'The next crop' }).innerText()).toMatch(/Next crop, slope of ln T\s+−[\d.]+ to −?[\d.]+ \(95 %\)/);
  await look('next-crop');
});

scene('expects a curve from masses and area, and says that it is no calibration', async () => {
  await page.goto(`/calibrations/version/${versionId}/transfer`);
  await page.getByRole('radio', { name: 'Turgid and dry masses alone' }).check();
  await page.getByLabel('Crop of the leaves').selectOption({ label: 'Mallow' });
  await page.getByRole('button', { name: 'Expect and keep' }).click();
  await page.getByRole('heading', { level: 1, name: 'What to expect of Mallow by Fig on rig A version 1' }).waitFor();
  await page.getByRole('img', { name: /Expected transmittance/ }).waitFor();
  await page.getByText(/no device may rest on it/).waitFor();
  await look('thickness');
});

scene('on a phone nothing runs out of the page', async () => {
  const phone = await stage.signedIn('RESEARCHER', PHONE);
  await phone.goto(studyPath);
  await phone.getByRole('img', { name: /too much or too little/ }).waitFor();
  await look('phone', phone);
  await phone.goto(`/calibrations/version/${versionId}/transfer`);
  await phone.getByLabel('Crop of the leaves').waitFor();
  await look('phone-ask', phone);
});
