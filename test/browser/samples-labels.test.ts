import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';
import { codeOf, codeText, symbolText } from '#libs/label';
import { withClient } from '../../apps/cli/src/database/roles.js';
import { follow, openStage, PHONE, reads, scene, settled, textOf, visit, type Page, type Stage } from '../support/browser.js';
import { record } from '../support/chain.js';
import { newId } from '../support/lab.js';
import { PIXEL } from '../support/stored-file.js';

let stage: Stage;
let page: Page;
let cropId: string;

beforeAll(async () => {
  prepareZXingModule({ overrides: { wasmBinary: readFileSync(createRequire(import.meta.url).resolve('zxing-wasm/reader/zxing_reader.wasm')).buffer as ArrayBuffer }, fireImmediately: true });
  stage = await openStage('Lab of samples');
  cropId = newId();
  await record(stage.lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Fig' });
  page = await stage.signedIn('TECHNICIAN');
}, 180_000);

afterAll(() => stage.close());

const scan = async (label: string, text: string): Promise<void> => {
  await page.getByLabel(label, { exact: true }).last().fill(text);
  await page.keyboard.press('Enter');
};
const discNamed = async (label: string): Promise<{ id: string }> =>
  (await stage.lab.as('TECHNICIAN').ask<any>('query ($label: String!) { discByLabel(label: $label) { id } }', { label })).discByLabel;

scene('a tray of samples is recorded in one go, labelled, and its labels are read back from the page they are printed on', async () => {
  await visit(page, '/samples');
  await follow(page, 'Record samples', 'Record samples', page.getByRole('main'));
  await page.getByLabel('Crop').selectOption({ label: 'Fig' });
  await page.getByLabel('Plants', { exact: true }).fill('2');
  await page.getByLabel('Leaves of each plant').fill('2');
  await page.getByLabel('Discs of each leaf').fill('3');
  await page.getByLabel('Cultivar').fill('Bornholm');
  await page.getByRole('radio', { name: 'upper (adaxial)' }).check({ force: true });
  await page.getByRole('button', { name: 'Record 2 plants, 4 leaves, 12 discs' }).click();
  await page.getByRole('heading', { level: 1, name: 'Recorded' }).waitFor();
  await reads(page, 'P-02-L2-D3');
  const discs = page.locator('section').filter({ has: page.getByRole('heading', { name: '12 discs' }) });
  await follow(page, 'Print their labels', 'Labels', discs);
  await page.getByRole('button', { name: 'Make the labels' }).click();
  await reads(page, 'The labels are ready, on 12 pages.');
  const url = await page.getByRole('link', { name: 'SVG' }).first().getAttribute('href');
  const svg = await (await stage.lab.as('TECHNICIAN').request(url!)).text();
  const paper = await page.context().newPage();
  await paper.setContent(`<img alt="" style="width:1200px" src="data:image/svg+xml;base64,${Buffer.from(svg).toString('base64')}">`);
  const drawn = await paper.locator('img').screenshot();
  await paper.close();
  const { id } = await discNamed('P-01-L1-D1');
  expect((await readBarcodes(new Uint8Array(drawn), { formats: ['DataMatrix'] })).map(({ text }) => text)).toEqual([symbolText(codeOf(id))]);
  // A second print asks why.
  await page.getByLabel('Why they are printed again').fill('The roll was damp.');
  await page.getByRole('button', { name: 'Make the labels' }).click();
  await reads(page, 'Printed again: The roll was damp.');
});

scene('a code scanned on a phone opens its disc; it is put into a place, moved, lost and found again, nothing of it hidden', async () => {
  await page.setViewportSize(PHONE);
  const { id } = await discNamed('P-01-L2-D1');
  const placeId = newId();
  await record(stage.lab.as('TECHNICIAN'), 'recordPlace', 'RecordPlaceInput', { id: placeId, placeKind: 'TRAY', label: 'Tray 7' });
  await visit(page, `/samples/place/${placeId}`);
  await scan('Scan what is put in', symbolText(codeOf(id)).toLowerCase());
  await reads(page, 'P-01-L2-D1 is put in.');
  const wrong = codeText(codeOf(id)).replace(/^./, (letter) => (letter === '7' ? '8' : '7'));
  await scan('Scan what is put in', wrong);
  await reads(page, /was misread: its check character does not fit/);
  await scan('Scan what is put in', 'Tray 99');
  await reads(page, 'Nothing in this lab is called Tray 99.');
  await visit(page, '/samples');
  await scan('Scan to open', codeText(codeOf(id)));
  await page.getByRole('heading', { level: 1, name: 'Disc P-01-L2-D1' }).waitFor();
  await reads(page, codeText(codeOf(id)));
  await page.getByRole('button', { name: 'Lost or destroyed' }).click();
  await page.getByLabel('How').fill('Blown off the bench.');
  await page.getByRole('button', { name: 'Record it' }).click();
  await reads(page, 'Disc P-01-L2-D1 is lost.');
  await page.getByRole('button', { name: 'It is there after all' }).click();
  await page.getByLabel('How it came').fill('Found under the balance.');
  await page.getByRole('button', { name: 'Take the loss back' }).click();
  await page.getByText('Disc P-01-L2-D1 is lost.').waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Take this move back' }).click();
  await reads(page, 'Taken back: Told by mistake.');
  await page.getByRole('button', { name: 'Correct the description' }).click();
  await page.getByLabel('Position').fill('left of the midrib');
  await page.getByLabel('What was wrong').fill('Forgotten.');
  await page.getByRole('button', { name: 'Record correction' }).click();
  await reads(page, '“Forgotten.”');
  await page.setViewportSize({ width: 1280, height: 900 });
});

scene('a photo goes with a leaf: sent when chosen, shown with its hash', async () => {
  await visit(page, '/samples/plants');
  await page.getByRole('button', { name: 'Record a leaf of P-02' }).click();
  await page.getByLabel('Label').fill('P-02-L9');
  await page.locator('input[type=file]').first().setInputFiles({ name: 'leaf.png', mimeType: 'image/png', buffer: PIXEL });
  await reads(page, /bytes, SHA-256 [0-9a-f]{64}/);
  await page.getByRole('button', { name: 'Record leaf' }).click();
  await follow(page, 'Leaf P-02-L9', 'Leaf P-02-L9');
  await page.getByAltText('Leaf P-02-L9, photo leaf.png').waitFor();
});

scene('ten thousand discs scroll with few of them drawn; sort and filter are the server’s and stay in the address', async () => {
  const leaf = await record(stage.lab.as('TECHNICIAN'), 'recordSamples', 'RecordSamplesInput', { id: newId(), cropId, plantPattern: 'Z', newPlants: 1, leavesPerPlant: 1, cultivar: 'Zenith' }, 'leaves { id }');
  // Straight into the table: what is looked at here is the list, not the writing.
  await withClient(stage.server.database.ownerUrl, (client) => client.query(
    `INSERT INTO disc (lab_id, id, recorded_at, recorded_by, content_hash, leaf_id, label)
     SELECT l.lab_id, ('01900000-0000-7000-8000-' || lpad(to_hex(n), 12, '0'))::uuid, now(), l.recorded_by, l.content_hash, l.id, 'Z-' || lpad(n::text, 5, '0')
     FROM leaf l, generate_series(1, 10000) AS n WHERE l.id = $1`, [leaf.leaves[0].id]));
  await visit(page, '/samples?cultivar=Zenith&sort=LABEL');
  const table = page.getByRole('table', { name: 'Discs' });
  const rows = table.locator('tbody tr[data-index]');
  await reads(page, /of 10000 fetched/);
  expect(await textOf(rows.first().locator('th'))).toContain('Z-00001');
  // A third of the window at a time, and not on before the rows there are drawn: none can be passed unseen. At the end of what is fetched more comes.
  const drawn = `[100, innerHeight - 100].every((y) => !document.elementFromPoint(innerWidth / 2, y)?.closest('tr[aria-hidden=true]'))`;
  while ((await page.getByText('Z-00350', { exact: true }).count()) === 0) {
    await page.evaluate('window.scrollBy(0, innerHeight / 3)');
    await page.waitForFunction(drawn);
  }
  expect(await rows.count()).toBeLessThan(80);
  await page.getByRole('button', { name: 'Disc', exact: true }).click();
  await page.evaluate('window.scrollTo(0, 0)');
  await reads(page, 'Z-10000');
  expect(page.url()).toContain('way=down');
  await page.reload();
  await settled(page);
  await reads(page, 'Z-10000');
  await page.getByLabel('Find a disc').fill('z-0042');
  await reads(page, '10 in all');
  await page.getByLabel('Choose Z-00420').check();
  await page.getByRole('region', { name: 'Chosen discs' }).getByRole('button', { name: 'Print labels' }).click();
  await page.getByRole('heading', { level: 2, name: 'Print labels of 1 disc' }).waitFor();
});
