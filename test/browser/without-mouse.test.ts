import { DESK, openStage, reads, scene, textOf, type Locator, type Page, type Stage } from '../support/browser.js';
import { furnish, record, START } from '../support/chain.js';
import { newId, PASSWORD } from '../support/lab.js';
import { approvedProtocol } from '../support/protocol.js';

/** A day at the bench with the keyboard alone, and a scanner, which is one: whatever points is a failure. */
let stage: Stage;
let page: Page;
const discIds = Array.from({ length: 4 }, newId);
const MINUTE = 60_000;

beforeAll(async () => {
  stage = await openStage('Gloved lab');
  const bench = await furnish(stage.lab.as('MANAGER'));
  await approvedProtocol(stage.lab, 'Two discs', { scanFirst: true, coolingMin: 20, ovenTemperatureC: 75, constantMassFraction: 0.01, constantMassIntervalMin: 45 });
  for (const [i, id] of discIds.entries()) await record(stage.lab.as('TECHNICIAN'), 'recordDisc', 'RecordDiscInput', { id, leafId: bench.leafId, label: `K-${i + 1}`, diameterMm: '10' });
  page = await stage.open(DESK, new Date(START));
  await page.evaluate("addEventListener('pointerdown', ({ target }) => console.error('Something pointed at ' + target.outerHTML.slice(0, 120)), true)");
});

afterAll(() => stage.close());

const focused = (place: Locator): Promise<boolean> => place.and(page.locator(':focus')).count().then((count) => count > 0);

/** Goes there by Tab alone, as somebody does who has no mouse. */
async function tabTo(place: Locator, key: 'Tab' | 'Shift+Tab' = 'Tab'): Promise<void> {
  await place.waitFor();
  for (let stops = 0; stops < 90; stops += 1) {
    if (await focused(place)) return;
    await page.keyboard.press(key);
  }
  throw new Error(`Tab does not lead to ${String(place)}.`);
}

/** As fast as a hand: what comes faster is taken for an instrument. */
async function type(text: string): Promise<void> {
  await page.keyboard.type(text, { delay: 45 });
}

async function press(place: Locator, key: 'Tab' | 'Shift+Tab' = 'Tab'): Promise<void> {
  await tabTo(place, key);
  await page.keyboard.press('Enter');
}

async function write(label: string, text: string, key: 'Tab' | 'Shift+Tab' = 'Tab'): Promise<void> {
  await tabTo(page.getByLabel(label, { exact: true }), key);
  await type(text);
}

/** A scanner: the whole label at once, then Enter. */
async function scan(text: string): Promise<void> {
  await page.keyboard.type(text);
  await page.keyboard.press('Enter');
}

/** The field has the focus by itself: the hand need not look for it. */
async function waits(label: string): Promise<void> {
  const field = page.getByLabel(label, { exact: true });
  await field.and(page.locator(':focus')).waitFor();
}

const link = (name: string): Locator => page.getByRole('link', { name, exact: true }).first();
const button = (name: string): Locator => page.getByRole('button', { name, exact: true });
const heading = (name: string): Promise<void> => page.getByRole('heading', { level: 1, name }).waitFor();

scene('a run is opened, looked over, weighed and read, and what it asks is answered', async () => {
  await write('Sign-in name', stage.lab.as('TECHNICIAN').email);
  await page.keyboard.press('Tab');
  await type(PASSWORD);
  await page.keyboard.press('Enter');
  await heading('Due');
  await press(link('Bench'));
  await heading('Bench');
  await press(link('Open a drying run'));
  await heading('Open a drying run');
  await write('Label of the run', 'R-keys');
  await write('Rig', 'Rig A');
  await write('Balance', 'Balance 1');
  await tabTo(page.getByLabel('Find discs'));
  for (const label of ['K-1', 'K-2']) {
    await scan(label);
    await reads(page, `${label} is chosen.`);
  }
  await press(button('Open run'));
  await heading('Run R-keys');

  await press(button('Skip lamp and say why'));
  await waits('Why lamp is skipped');
  await type('It burns all day.');
  await write('Power with the light shut', '1.0');
  await page.keyboard.press('Enter');
  await write('Power through the diffuser', '1001.0');
  await page.keyboard.press('Enter');
  await press(button('Start the rhythm'));

  for (const [label, mass, power] of [['K-1', '70.00', '151.0'], ['K-2', '68.00', '149.0']] as const) {
    await waits(`Scan the label of ${label}`);
    await scan(label);
    await waits(`Mass of ${label}`);
    await type(mass);
    await page.keyboard.press('Enter');
    await waits(`Power through ${label}`);
    await type(power);
    await page.keyboard.press('Enter');
  }
  await page.clock.setSystemTime(START + 6 * MINUTE);
  for (const [label, mass, power] of [['K-1', '68.30', '160.0'], ['K-2', '66.40', '158.0']] as const) {
    await waits(`Scan the label of ${label}`);
    await scan(label);
    await waits(`Mass of ${label}`);
    await type(mass);
    await page.keyboard.press('Enter');
    await waits(`Power through ${label}`);
    await type(power);
    await page.keyboard.press('Enter');
  }
  await page.clock.setSystemTime(START + 12 * MINUTE);
  await waits('Scan the label of K-1');
  await scan('K-2');
  await reads(page, 'This is K-2. Expected: K-1.');
  await scan('K-1');
  await waits('Mass of K-1');
  await type('69.50');
  await page.keyboard.press('Enter');
  await waits('Your answer to what it asks');
  await type('A drop fell on it.');
  await page.keyboard.press('Enter');
  await waits('Power through K-1');

  const { disc } = await stage.lab.as('AUDITOR').ask<any>('query ($id: UUID!) { disc(id: $id) { weighings { state massText scannedText flagAnswer } } }', { id: discIds[0] });
  expect(disc.weighings).toEqual([
    { state: 'TURGID', massText: '70.00', scannedText: 'K-1', flagAnswer: null }, { state: 'DRYING', massText: '68.30', scannedText: 'K-1', flagAnswer: null },
    { state: 'DRYING', massText: '69.50', scannedText: 'K-1', flagAnswer: 'A drop fell on it.' },
  ]);
});

scene('an oven is loaded by scan, judged by the protocol, and unloaded by scan without the disc that was destroyed', async () => {
  await page.clock.setSystemTime(START + 30 * MINUTE);
  await press(link('Ovens'), 'Shift+Tab');
  await heading('Ovens');
  await press(link('Load an oven'));
  await heading('Load an oven');
  await tabTo(page.getByRole('textbox', { name: 'Scan a disc onto the tray' }));
  await scan('K-1');
  await reads(page, 'K-1: row 1, column 1.');
  await scan('F1-L1');
  await reads(page, 'F1-L1 is a leaf; here a disc is wanted.');
  await scan('K-9');
  await reads(page, 'Nothing in this lab is called K-9.');
  await scan('K-1');
  await reads(page, 'K-1 lies in row 1, column 1 already.');
  // The tab is lost: what lies on the tray is known still.
  await page.reload();
  await heading('Load an oven');
  await page.getByRole('button', { name: 'Take off K-1' }).waitFor();
  await write('Label of the cycle', 'O-keys');
  await write('Oven', 'Oven 1');
  await tabTo(page.getByRole('textbox', { name: 'Scan a disc onto the tray' }), 'Shift+Tab');
  for (const [label, place] of [['K-2', 'column 2'], ['K-3', 'column 3']] as const) {
    await scan(label);
    await reads(page, `${label}: row 1, ${place}.`);
  }
  await press(button('Start oven cycle'));
  await heading('Oven cycle O-keys');
  expect(await textOf(page.getByRole('region', { name: 'Constant mass' }))).toMatch(/K-1, K-2: by their protocol, Two discs, version 1, checks at least 45 min apart\. K-3: by the criterion “leaf disc” .*, checks at least 60 min apart\./);
  await reads(page, 'The oven was set to 70 °C; Two discs, version 1, wants 75 °C.');

  await press(button('Taken out to cool'));
  await waits('Cooling time, min');
  expect(await page.getByLabel('Cooling time, min').inputValue()).toBe('20');
  await write('Where it cools may stay empty', 'Desiccator 2');
  await page.keyboard.press('Enter');
  await reads(page, '20 min in Desiccator 2 since');
  await page.clock.setSystemTime(START + 51 * MINUTE);
  await page.clock.runFor(2_000);
  await reads(page, /^They have cooled\. Weigh the 3 discs now/);
  await write('Balance', 'Balance 1');
  await weighDry('K-1', '12.00');
  await weighDry('K-2', '11.80');
  await weighDry('K-3', '12.40');
  await page.clock.setSystemTime(START + 100 * MINUTE);
  await weighDry('K-1', '11.95', 'Shift+Tab');
  await weighDry('K-2', '11.78');
  await reads(page, /^Constant: lost 0\.05 mg in 4\d min, within 0\.1195 mg/);

  await press(button('Unload'), 'Shift+Tab');
  const dialog = page.getByRole('dialog', { name: 'Unload cycle O-keys' });
  await tabTo(dialog.getByRole('textbox', { name: 'Scan each disc as it comes out' }));
  await scan('K-4');
  await reads(dialog, 'K-4 is not in this cycle: look which one it belongs to.');
  for (const label of ['K-1', 'K-2']) await scan(label);
  await reads(dialog, '2 of 3 scanned.');
  expect(await dialog.getByRole('button', { name: 'Unload' }).isDisabled()).toBe(true);
  await press(dialog.getByRole('link', { name: 'K-3' }));
  await heading('Disc K-3');
  await press(button('Lost or destroyed'));
  await tabTo(page.getByRole('radio', { name: 'Lost' }));
  await page.keyboard.press('ArrowRight');
  await write('How', 'Fell through the grid.');
  await press(button('Record it'));
  await reads(page, 'Fell through the grid.');

  await press(link('Ovens'), 'Shift+Tab');
  await heading('Ovens');
  await press(link('O-keys'));
  await heading('Oven cycle O-keys');
  await press(button('Unload'));
  await tabTo(dialog.getByRole('textbox', { name: 'Scan each disc as it comes out' }));
  for (const label of ['K-1', 'K-2']) await scan(label);
  await reads(dialog, '2 of 2 scanned.');
  expect(await textOf(dialog)).toContain('All are out. K-3 was destroyed.');
  await press(dialog.getByRole('button', { name: 'Unload' }));
  await dialog.waitFor({ state: 'detached' });
  const { ovenCycles: [cycle] } = await stage.lab.as('AUDITOR').ask<any>('{ ovenCycles { unloadedAt unloadReason setTemperatureC trayMap { row column disc { label } } scannedDiscs { label } constantMass { reached protocol { name } } } }');
  expect(cycle).toMatchObject({
    unloadReason: null, trayMap: ['K-1', 'K-2', 'K-3'].map((label, i) => ({ row: 1, column: i + 1, disc: { label } })), scannedDiscs: [{ label: 'K-1' }, { label: 'K-2' }],
    constantMass: [{ reached: true, protocol: { name: 'Two discs' } }, { reached: true }, { reached: false, protocol: null }],
  });
  expect(cycle.unloadedAt).not.toBeNull();
});

/** The disc whose turn it is stands in the form already. */
async function weighDry(label: string, massText: string, key: 'Tab' | 'Shift+Tab' = 'Tab'): Promise<void> {
  const form = page.getByRole('form', { name: 'Record check weighing' });
  await form.getByLabel('Disc').locator('option:checked').filter({ hasText: label }).waitFor({ state: 'attached' });
  await tabTo(form.getByLabel('Dry mass'), key);
  await type(massText);
  await page.keyboard.press('Enter');
  await reads(page, `Recorded: ${label}, dry, ${massText} mg.`);
}
