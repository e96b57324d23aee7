import { follow, openStage, PHONE, reads, scene, screenFindings, settled, visit, type Page, type Stage } from '../support/browser.js';
import { record } from '../support/chain.js';
import { newId, PASSWORD } from '../support/lab.js';
import { fillLab, longitudeByDay, sign, type FilledLab } from '../support/whole-chain.js';

let stage: Stage;
let filled: FilledLab;
let page: Page;

const ago = (minutes: number): string => new Date(Date.now() - minutes * 60_000).toISOString();

beforeAll(async () => {
  stage = await openStage('Field lab');
  filled = await fillLab(stage.lab);
  page = await stage.signedIn('FIELD_ENGINEER', PHONE);
}, 180_000);

afterAll(() => stage.close());

const button = (name: string) => page.getByRole('button', { name, exact: true });

scene('a unit is reset and found latched again at its leaf, by phone', async () => {
  await visit(page, `/field/${filled.installationId}`);
  await button('Record a reset').click();
  await button('Record reset').click();
  await reads(page, /reset by field engineer of Field lab: the latch opened/);
  await button('Record how it stands').click();
  const form = page.getByRole('form', { name: 'Record how it stands' });
  await form.getByRole('radio', { name: 'Latched: tripped' }).check({ force: true });
  await form.getByLabel('Light then, nW in the band').fill('470');
  await form.getByRole('button', { name: 'Record how it stands' }).click();
  await reads(page, /latched, seen by field engineer of Field lab, light 470 nW/);
  expect(await screenFindings(page)).toEqual([]);
});

scene('discs taken at the leaf are named by phone', async () => {
  await button('Record a field check').click();
  const form = page.getByRole('form', { name: 'Record field check' });
  await form.getByLabel('Discs taken at').fill('2026-06-09T19:00');
  for (const disc of [/^D\d+-1\b/, /^D\d+-2\b/]) await form.getByRole('checkbox', { name: disc }).check({ force: true });
  expect(await screenFindings(page)).toEqual([]);
  await form.getByRole('button', { name: 'Record field check' }).click();
  await reads(page.getByRole('list', { name: 'Field checks' }), /discs D\d+-1, D\d+-2/);
});

scene('a rule is recorded, and what it asks of the person is told at the field', async () => {
  await visit(page, '/field');
  await follow(page, 'N2', 'Zone N2', page.getByRole('table', { name: 'Zones' }));
  await reads(page, 'No approved rule speaks for this zone.');
  await follow(page, 'Record a rule', 'Record a rule for zone N2');
  const fields: Record<string, string> = {
    'Tripped units needed': '1', 'Windows in a row': '2', 'Half width of the window, h': '12', 'A trip counts for, h': '20', 'A unit is silent after, h': '6', 'Units that must be heard of': '1',
    'Wait after irrigation, h': '24', 'Rain that holds it back, mm': '5', 'Rain fallen within, h': '24', 'Latitude of the zone, degrees': '48,2', 'Longitude of the zone, degrees': longitudeByDay().replace('.', ','), 'What the rule rests on': 'Invented for this test.',
  };
  for (const [label, value] of Object.entries(fields)) await page.getByLabel(label).fill(value);
  await button('Record rule').click();
  await reads(page, /less than 2 windows take/);
  await page.getByLabel('Windows in a row').fill('1');
  expect(await screenFindings(page)).toEqual([]);
  await button('Record rule').click();
  await page.getByRole('heading', { level: 1, name: 'Rule of zone N2, version 1' }).waitFor();
});

scene('it is replayed, weighed, and signed by two others', async () => {
  await button('Reckon the chances').click();
  await reads(page, /If the units shared nothing/);
  await page.getByRole('textbox', { name: 'From' }).fill('2026-06-08T00:00');
  await page.getByRole('textbox', { name: 'Until' }).fill('2026-06-14T00:00');
  await page.getByRole('radio', { name: 'From when it was seen' }).check({ force: true });
  await button('Replay the rule, hour by hour').click();
  await reads(page, /Asked for water in \d+ hours/);
  await reads(page, 'What was decided meanwhile');
  expect(await screenFindings(page)).toEqual([]);
  const id = page.url().split('/').at(-1)!;
  await sign(stage.lab.as('RESEARCHER'), 'zone_rule', id, 'REVIEWED');
  const manager = await stage.signedIn('MANAGER');
  await visit(manager, `/field/rule/${id}`);
  await manager.getByRole('radio', { name: 'Approved: it may be used' }).check({ force: true });
  await manager.getByLabel('Your password, again').fill(PASSWORD);
  await manager.getByRole('button', { name: 'Sign', exact: true }).click();
  await reads(manager, /approved by manager of Field lab/);
  await manager.context().close();
});

scene('it asks for water; who holds it back says why, and looks again later', async () => {
  await visit(page, '/field/zone/N2');
  await reads(page, 'asks for water');
  expect(await screenFindings(page)).toEqual([]);
  await button('Keep this advice and decide').click();
  await page.getByRole('heading', { level: 1, name: 'Record a decision' }).waitFor();
  await settled(page);
  expect(await screenFindings(page)).toEqual([]);
  await page.getByRole('radio', { name: 'Hold' }).check({ force: true });
  await page.getByLabel('Reason', { exact: true }).fill('Harvest is tomorrow.');
  await button('Record decision').click();
  await reads(page, /the rule said irrigate/i);
  await page.getByLabel('What it goes against').fill('The rule asked for water.');
  await button('Record decision').click();
  await page.getByRole('heading', { level: 1, name: 'Zone N2: hold' }).waitFor();
  await reads(page, 'What the rule had said');
  await button('Record the outcome').click();
  await page.getByLabel('What was seen').fill('Turgid at noon.');
  await button('Record outcome').click();
  await reads(page, 'It was right');
  expect(await screenFindings(page)).toEqual([]);
  await follow(page, 'Follow the thread', /^Thread of /);
  await reads(page, /Decided against: The rule asked for water/);
});

scene('rain is read, and holds the rule back', async () => {
  await visit(page, '/field/zone/N2');
  await page.getByLabel('Depth, mm').fill('7');
  await button('Record rain').click();
  await reads(page, 'The rain is recorded.');
  await reads(page, 'would ask for water, but waits');
  await reads(page, '7 mm of rain fell within 24 h.');
});

scene('the map and what field checks say', async () => {
  await visit(page, '/field/map');
  await reads(page, 'None of its units has a position.');
  await record(stage.lab.as('FIELD_ENGINEER'), 'endInstallation', 'EndInstallationInput', { id: newId(), installationId: filled.installationId, observedAt: ago(1), reason: 'Moved.' });
  const { deviceUnit } = await stage.lab.as('FIELD_ENGINEER').ask<any>('query ($id: UUID!) { deviceUnit(id: $id) { certificates { biasV } } }', { id: filled.unitId });
  await record(stage.lab.as('FIELD_ENGINEER'), 'recordInstallation', 'RecordInstallationInput', {
    id: newId(), deviceUnitId: filled.unitId, certificateId: filled.certificateId, site: 'North block', zone: 'N2', plantNote: 'row 4', leafSide: 'ADAXIAL_UP', latitude: '48.2', longitude: '11.5',
    biasReadbackV: String(deviceUnit.certificates[0].biasV), armedAt: ago(0.5), overrideReason: 'Its certificate ran out before this test was written.',
  });
  await page.getByRole('link', { name: 'Unit U-701, zone N2, armed' }).waitFor();
  expect(await screenFindings(page)).toEqual([]);
  await visit(page, '/field/agreement');
  await reads(page, 'Too few checks to tell.');
  await reads(page, '1 check');
  expect(await screenFindings(page)).toEqual([]);
});
