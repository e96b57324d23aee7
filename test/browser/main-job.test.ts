import { DESK, follow, leave, openStage, PHONE, problemAt, reads, scene, settled, textOf, type Page, type Stage } from '../support/browser.js';
import { record } from '../support/chain.js';
import { newId, PASSWORD } from '../support/lab.js';
import { characterisedUnit, driedLeaves, HEIGHTS, lightReference, sign } from '../support/whole-chain.js';

/**
 * One leaf through the hands of five people: weighed at the bench, calibrated, certified, installed, decided on, audited.
 * Five leaves dried beforehand stand beside it, because a calibration takes more than one. The bench's own clock runs two
 * days before today's, so that oven and field lie in the past too.
 */
const BENCH_AT = new Date(Date.now() - 2 * 86_400_000);
const MINUTE_MS = 60_000;
const hoursLater = (hours: number): string => new Date(BENCH_AT.getTime() + hours * 3_600_000).toISOString();

/** The sixth leaf, by the disc in hand: 70 mg turgid, 12 mg dry, its curve as high as the sixth of the others would be. */
const massAt = (rwc: number): string => (12 + rwc * 58).toFixed(2);
const powerAt = (rwc: number): string => (1 + 1000 * 0.15 * Math.exp(HEIGHTS[5]! + 1 - rwc)).toFixed(1);

let stage: Stage;

beforeAll(async () => {
  stage = await openStage('Orchard lab');
  await driedLeaves(stage.lab, HEIGHTS.slice(0, 5));
});

afterAll(() => stage.close());

const ribbon = (page: Page, word: string): Promise<void> => follow(page, word, word, page.getByRole('navigation', { name: 'Screens' }));
const dialog = (page: Page, name: string) => page.getByRole('dialog', { name });

async function idOf(list: string, label: string): Promise<string> {
  const { [list]: found } = await stage.lab.as('AUDITOR').ask<any>(`{ ${list} { ${list === 'dryingRuns' ? 'nodes { id label }' : 'id label'} } }`);
  return (found.nodes ?? found).find((each: any) => each.label === label).id;
}

scene('a manager registers a balance and checks it with a weight', async () => {
  const page = await stage.signedIn('MANAGER', DESK, new Date(BENCH_AT.getTime() - 30 * MINUTE_MS));
  await ribbon(page, 'Instruments');
  await page.getByRole('button', { name: 'Register an instrument' }).click();
  const form = dialog(page, 'Register an instrument');
  await form.getByLabel('Label').fill('B-2');
  await form.getByLabel('Resolution, mg').fill('0.01');
  await form.getByLabel('Repeatability, mg').fill('0.02');
  await form.getByLabel('A passed check is good for, hours').fill('a day');
  await form.getByRole('button', { name: 'Register', exact: true }).click();
  expect(await problemAt(form.getByLabel('A passed check is good for, hours'))).toContain('“a day” is not a whole number above 0.');
  expect(await form.getByLabel('Label').inputValue()).toBe('B-2');
  await form.getByLabel('A passed check is good for, hours').fill('24');
  await page.keyboard.press('Enter');
  await form.waitFor({ state: 'detached' });
  await reads(page.getByRole('listitem').filter({ hasText: 'B-2' }), 'never checked');

  await follow(page, 'B-2', 'Balance B-2');
  await page.getByLabel('Nominal value, mg').fill('100');
  await page.getByLabel('Value shown, mg').fill('100.01');
  await page.getByLabel('Tolerance, mg').fill('0.05');
  await page.keyboard.press('Enter');
  await reads(page, 'The check is recorded: passed.');
  await leave(page);
});

let technician: Page;

scene('a technician records plant, leaf and disc', async () => {
  technician = await stage.signedIn('TECHNICIAN', DESK, BENCH_AT);
  const page = technician;
  await ribbon(page, 'Samples');
  await follow(page, 'Plants and leaves', 'Plants and leaves');
  await page.getByRole('button', { name: 'Record a plant' }).click();
  await dialog(page, 'Record a plant').getByLabel('Crop').selectOption({ label: 'Fig' });
  await dialog(page, 'Record a plant').getByLabel('Label').fill('F2');
  await page.keyboard.press('Enter');
  await page.getByRole('button', { name: 'Record a leaf of F2' }).click();
  await dialog(page, 'Record a leaf of F2').getByLabel('Label').fill('F2-L1');
  await page.keyboard.press('Enter');
  await follow(page, 'Leaf F2-L1', 'Leaf F2-L1');
  await page.getByRole('button', { name: 'Record a disc' }).click();
  await dialog(page, 'Record a disc').getByLabel('Label').fill('F2-L1-1');
  await dialog(page, 'Record a disc').getByLabel('Diameter of the punch, mm').fill('10');
  await page.keyboard.press('Enter');
  await reads(dialog(page, 'Record a disc'), 'F2-L1-1 is recorded; now the next one.');
  await page.keyboard.press('Escape');
  await page.getByRole('table', { name: 'Discs of leaf F2-L1' }).getByRole('link', { name: 'F2-L1-1' }).waitFor();
});

scene('and opens a drying run', async () => {
  const page = technician;
  await ribbon(page, 'Bench');
  await follow(page, 'Open a drying run', 'Open a drying run');
  await page.getByLabel('Label of the run').fill('R-2');
  await page.getByLabel('Rig').selectOption({ label: 'Rig A, version 1, 1470 nm' });
  await page.getByLabel('Balance').selectOption({ label: 'B-2' });
  await page.getByRole('checkbox', { name: 'F2-L1-1' }).check();
  await page.getByRole('button', { name: 'Open run' }).click();
  await page.getByRole('heading', { level: 1, name: 'Run R-2' }).waitFor();
});

/** Types a number where the rhythm asks for it, and Enter. */
async function enter(label: string, text: string, told: string): Promise<void> {
  await technician.getByLabel(label).fill(text);
  await technician.keyboard.press('Enter');
  await reads(technician.getByRole('region', { name: 'Next' }), `Recorded: ${told}.`);
}

scene('weighs and reads in the rhythm: a wrong number names its field, a rising mass asks first', async () => {
  const page = technician;
  const dark = page.getByLabel('Power with the light shut');
  await dark.fill('one');
  await page.keyboard.press('Enter');
  expect(await problemAt(dark)).toMatch(/number/);
  expect(await dark.inputValue()).toBe('one');
  await enter('Power with the light shut', '1.0', 'dark, 1.0 nW');
  await enter('Power through the diffuser', '1001.0', 'reference, 1001.0 nW');

  const mass = page.getByLabel('Mass of F2-L1-1');
  await mass.fill('70.00');
  await reads(page, 'A turgid mass has no RWC of its own.');
  await enter('Mass of F2-L1-1', '70.00', 'F2-L1-1, turgid, 70.00 mg');
  await enter('Power through F2-L1-1', powerAt(1), `reading of F2-L1-1, ${powerAt(1)} nW`);

  await reads(page.getByRole('timer'), /^due in [45]:\d\d/);
  await page.clock.fastForward(5 * MINUTE_MS);
  await mass.fill(massAt(0.97));
  await reads(page, /^RWC 9\d\.\d % to 9\d\.\d %/);
  await reads(page, 'its dry mass is not known yet');
  await enter('Mass of F2-L1-1', massAt(0.97), `F2-L1-1, drying, ${massAt(0.97)} mg`);
  await enter('Power through F2-L1-1', powerAt(0.97), `reading of F2-L1-1, ${powerAt(0.97)} nW`);

  await page.clock.fastForward(5 * MINUTE_MS);
  await mass.fill('69.00');
  const answer = page.getByLabel('Your answer to what it asks');
  await reads(page.getByRole('region', { name: 'Next' }), /^Asks: /);
  await page.keyboard.press('Enter');
  expect(await problemAt(answer)).not.toBe('');
  expect(await mass.inputValue()).toBe('69.00');
  await page.keyboard.type('A drop fell on it.');
  await page.keyboard.press('Enter');
  await reads(page, 'Recorded: F2-L1-1, drying, 69.00 mg.');
  const recorded = page.getByRole('list', { name: 'Recorded, newest first' });
  await reads(recorded.getByRole('listitem').filter({ hasText: '69.00 mg' }), 'Answer: “A drop fell on it.”');
  await enter('Power through F2-L1-1', powerAt((69 - 12) / 58), `reading of F2-L1-1, ${powerAt((69 - 12) / 58)} nW`);
});

/** The rest of the rhythm, a weighing and a reading every five minutes, through the API. */
async function restOfRhythm(dryingRunId: string): Promise<void> {
  const client = stage.lab.as('TECHNICIAN');
  const [balanceId, { discs }] = await Promise.all([idOf('instruments', 'B-2'), client.ask<any>('{ discs(search: "F2-L1-1") { nodes { id } } }')]);
  const discId = discs.nodes[0].id;
  const from = await technician.evaluate<number>('Date.now()');
  const at = (minutes: number): string => new Date(from + minutes * MINUTE_MS).toISOString();
  const rwcs = [0.92, 0.87, 0.82, 0.77, 0.72, 0.67, 0.62];
  const meter = (lightPath: string, minutes: number, powerText: string, disc: string | null): Promise<any> => record(client, 'recordMeterReading', 'RecordMeterReadingInput', {
    id: newId(), lightPath, observedAt: at(minutes), powerText, powerUnit: 'nW', discId: disc, dryingRunId, entryMode: 'LINE', rawLine: `${powerText} nW`,
  });
  for (const [i, rwc] of rwcs.entries()) {
    await record(client, 'recordWeighing', 'RecordWeighingInput', {
      id: newId(), discId, state: 'DRYING', observedAt: at(5 * (i + 1)), massText: massAt(rwc), massUnit: 'mg', balanceId, dryingRunId, entryMode: 'LINE', rawLine: `+ ${massAt(rwc)} mg S`,
    });
    if (i < rwcs.length - 1) await meter('READING', 5 * (i + 1) + 0.1, powerAt(rwc), discId);
  }
  await meter('REFERENCE', 36, '1001.0', null);
}

/** A day at 70 degrees, two check weighings an hour apart, through the API. */
async function dryToConstantMass(): Promise<void> {
  const client = stage.lab.as('TECHNICIAN');
  const [balanceId, ovenId, { discs }] = await Promise.all([idOf('instruments', 'B-2'), idOf('instruments', 'Oven 1'), client.ask<any>('{ discs(search: "F2-L1-1") { nodes { id } } }')]);
  const discId = discs.nodes[0].id;
  const ovenCycleId = newId();
  await record(client, 'startOvenCycle', 'StartOvenCycleInput', { id: ovenCycleId, label: 'O-2', ovenId, setTemperatureC: '70', discIds: [discId], startedAt: hoursLater(2) });
  for (const [hours, massText] of [[25, '12.01'], [26.1, '12.00']] as const) {
    await record(client, 'recordWeighing', 'RecordWeighingInput', {
      id: newId(), discId, state: 'DRY', observedAt: hoursLater(hours), massText, massUnit: 'mg', balanceId, ovenCycleId, entryMode: 'LINE', rawLine: `+ ${massText} mg S`,
    });
  }
  await record(client, 'unloadOvenCycle', 'UnloadOvenCycleInput', { id: newId(), ovenCycleId, unloadedAt: hoursLater(26.2) });
}

scene('sees what others record at once, and closes the run', async () => {
  const page = technician;
  await restOfRhythm(await idOf('dryingRuns', 'R-2'));
  await page.clock.fastForward(40 * MINUTE_MS);
  await reads(page.getByRole('list', { name: 'Recorded, newest first' }), `+ ${massAt(0.62)} mg S`);
  await page.getByRole('button', { name: 'Close run' }).click();
  await dialog(page, 'Close run R-2').getByRole('button', { name: 'Close run' }).click();
  await dialog(page, 'Close run R-2').waitFor({ state: 'detached' });
  await reads(page.getByRole('main'), 'closed');
  await page.getByLabel('Mass of F2-L1-1').waitFor({ state: 'detached' });
  await leave(page);
  await dryToConstantMass();
});

let researcher: Page;

scene('a researcher releases the run and fits a calibration', async () => {
  researcher = await stage.signedIn('RESEARCHER');
  const page = researcher;
  await ribbon(page, 'Bench');
  await follow(page, 'R-2', 'Run R-2');
  await page.getByRole('button', { name: 'Release run' }).click();
  await dialog(page, 'Release run R-2').getByRole('button', { name: 'Release run' }).click();
  const rwc = page.getByRole('region', { name: 'RWC', exact: true });
  await rwc.waitFor();
  expect(await textOf(rwc)).toMatch(/F2-L1-1/);

  await ribbon(page, 'Calibrations');
  await page.getByRole('button', { name: 'Begin a calibration' }).click();
  await dialog(page, 'Begin a calibration').getByLabel('Label').fill('Fig on rig A');
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { level: 1, name: 'Fit Fig on rig A' }).waitFor();
  await page.getByRole('checkbox', { name: /^Run R1 / }).check();
  await page.getByRole('checkbox', { name: /^Run R-2 / }).check();
  await reads(page, /readings of 6 leaves go into the fit/);
  await page.getByRole('button', { name: 'Fit and freeze as a new version' }).click();
  await page.getByRole('heading', { level: 1, name: 'Fig on rig A, version 1' }).waitFor();
  await reads(page, /6 leaves, RWC 64\.5 % to 100\.0 %/);
  // Nobody judges their own work.
  expect(await page.getByRole('radio', { name: /Reviewed|Approved/ }).count()).toBe(0);
});

/** Signs the calibration version on its page, with the password asked again. */
async function signVersion(page: Page, act: string, did: string): Promise<void> {
  const form = page.getByRole('form', { name: 'Sign this calibration version' });
  await form.getByRole('radio', { name: act }).check({ force: true });
  const password = form.getByRole('textbox', { name: 'Your password, again' });
  await password.fill('a password of somebody');
  await form.getByRole('button', { name: 'Sign' }).click();
  expect(await problemAt(password)).toMatch(/password/i);
  await password.fill(PASSWORD);
  await form.getByRole('button', { name: 'Sign' }).click();
  await reads(page.getByRole('list', { name: 'Signatures' }), did);
}

scene('another person reviews it, a manager approves it, each with the password again', async () => {
  const reviewer = await stage.signedIn('FIELD_ENGINEER');
  await ribbon(reviewer, 'Calibrations');
  await follow(reviewer, /version 1/, 'Fig on rig A, version 1');
  await signVersion(reviewer, 'Reviewed: I looked through it', 'field engineer of Orchard lab');
  await leave(reviewer);
  const manager = await stage.signedIn('MANAGER');
  await ribbon(manager, 'Calibrations');
  await follow(manager, /version 1/, 'Fig on rig A, version 1');
  await signVersion(manager, 'Approved: it may be used', 'manager of Orchard lab');
  await leave(manager);
  // The researcher's page, left open, tells it without being asked.
  await reads(researcher.getByRole('list', { name: 'Signatures' }), 'manager of Orchard lab');
  await leave(researcher);
});

let engineer: Page;

scene('a field engineer issues a certificate on a phone', async () => {
  await characterisedUnit(stage.lab.as('FIELD_ENGINEER'));
  await lightReference(stage.lab.as('FIELD_ENGINEER'));
  engineer = await stage.signedIn('FIELD_ENGINEER', PHONE);
  const page = engineer;
  await follow(page, 'Devices', 'Devices', page.getByRole('navigation', { name: 'Your screens' }));
  await follow(page, 'U-701', 'Unit U-701');
  await follow(page, 'Issue a certificate', 'Certificate for unit U-701');
  await page.getByLabel('Target RWC, %').fill('80');
  await page.getByLabel('What the target rests on').fill('Yield fell below it in last year’s trial.');
  await page.getByRole('button', { name: 'Issue certificate' }).click();
  await page.getByRole('heading', { level: 1, name: 'Certificate of unit U-701' }).waitFor();
  const sheet = page.getByRole('article', { name: 'Threshold certificate of unit U-701' });
  expect(await textOf(sheet)).toMatch(/Set the bias to \d+\.\d\d V .*the target RWC 80\.0 % Of 100 leaves, 95 trip it between/i);
  await reads(sheet, 'Not signed by anybody: a draft, not for use.');
});

scene('installs the unit by it, with the bias read back', async () => {
  const page = engineer;
  const certificateId = page.url().split('/').at(-1)!;
  await sign(stage.lab.as('RESEARCHER'), 'threshold_certificate', certificateId, 'REVIEWED');
  await sign(stage.lab.as('MANAGER'), 'threshold_certificate', certificateId, 'APPROVED');
  const bias = /(\d+\.\d\d) V/.exec(await textOf(page.getByRole('article', { name: 'Threshold certificate of unit U-701' })))![1]!;
  await follow(page, 'Install the unit', 'Install a unit');
  await reads(page, `The certificate says ${bias} V`);
  await page.getByLabel('Bias read back at the unit, V').fill('3');
  await page.getByLabel('Site').fill('North block');
  await page.getByLabel('Zone').fill('N2');
  await page.getByLabel('Plant and leaf').fill('row 3, tree 12, third leaf');
  await page.getByRole('button', { name: 'Record installation' }).click();
  await reads(page, 'This stands against it:');
  await page.getByLabel('Bias read back at the unit, V').fill(bias);
  await page.getByRole('button', { name: 'Install it all the same' }).click();
  await reads(page, 'Unit U-701 is installed and armed.');
  await follow(page, 'See it', 'Unit U-701 in zone N2');
  await reads(page.getByRole('main'), 'armed');
});

scene('finds it tripped, and records what was decided', async () => {
  const page = engineer;
  await page.getByLabel('Light then, nW in the band').fill('500');
  await page.getByRole('button', { name: 'Record trip' }).click();
  await reads(page, 'The trip is recorded.');
  // Brighter than the reference of 480 nW by ln(500/480) = 0.041, with a slope near 1: 80 % and four points.
  await reads(page, /^8[34]\.\d %$/);
  await follow(page, 'Record what was decided', 'Record a decision');
  expect(await page.getByRole('checkbox', { name: /^Unit U-701/ }).isChecked()).toBe(true);
  await page.getByLabel('Depth of water, mm').fill('12');
  await page.getByLabel('Reason').fill('The unit tripped at noon, and no rain is near.');
  await page.getByRole('button', { name: 'Record decision' }).click();
  await page.getByRole('heading', { level: 1, name: 'Zone N2: irrigate 12 mm' }).waitFor();
  await leave(page);
});

scene('an auditor follows the thread by clicks from the decision down to a line of the balance, and up again', async () => {
  const page = await stage.signedIn('AUDITOR');
  await ribbon(page, 'Field');
  await follow(page, 'Zone N2: irrigate 12 mm', 'Zone N2: irrigate 12 mm');
  await follow(page, 'Follow the thread', /^Thread of /);
  const main = page.getByRole('main');
  for (const clause of ['It was decided', '… after a unit had tripped', '… where it was installed', '… with the bias of a certificate', '… which reads a calibration', '… fitted to the RWC of leaves, from their masses']) {
    await main.getByRole('heading', { level: 2, name: clause }).waitFor();
  }
  const masses = main.getByRole('region', { name: 'Fitted to the RWC of leaves, from their masses' });
  await masses.getByText(/^\d+ (drying )?weighings.*F2-L1-1/).click();
  const line = masses.getByRole('listitem').filter({ has: page.locator('code', { hasText: /^68\.26$/ }) }).last();
  expect(await textOf(line)).toMatch(/technician of Orchard lab.*B-2.*in check then/);
  await line.getByRole('link', { name: /^Thread up from this weighing/ }).click();
  await page.getByRole('heading', { level: 1, name: /^Thread of .*F2-L1-1/ }).waitFor();
  await settled(page);
  await reads(main, 'Everything this touches, step by step, up to the decisions.');
  await follow(page, /^decision for zone N2/, 'Zone N2: irrigate 12 mm', main.getByRole('region', { name: 'After which it was decided' }));
  await reads(main, 'The unit tripped at noon, and no rain is near.');
  await leave(page);
});
