import { follow, openStage, problemAt, reads, scene, textOf, visit, type Page, type Stage } from '../support/browser.js';
import { courseOf, dryDiscs, furnish, type RunMade } from '../support/chain.js';

let stage: Stage;
let run: RunMade;
let page: Page;

beforeAll(async () => {
  stage = await openStage('Paper lab');
  const bench = await furnish(stage.lab.as('MANAGER'));
  run = await dryDiscs(bench, stage.lab.as('TECHNICIAN'), stage.lab.as('MANAGER'), [bench.leafId], [courseOf()]);
  page = await stage.signedIn('TECHNICIAN');
});

afterAll(() => stage.close());

scene('a weighing is amended: the first stays in sight, struck through, and the RWC that rested on it is stale', async () => {
  await visit(page, `/samples/disc/${run.discIds[0]}`);
  const weighings = page.getByRole('list', { name: 'Weighings of disc D1-1' });
  // 12 mg dry, 58 mg water when turgid: RWC 0.87 stands at 62.46 mg.
  const first = weighings.getByRole('listitem').filter({ hasText: '+ 62.46 mg S' });
  expect(await textOf(first)).toMatch(/RWC \(87\.0 ± \d\.\d\) %/);
  await first.getByRole('button', { name: 'Amend' }).click();
  const dialog = page.getByRole('dialog', { name: 'Amend weighing of D1-1, 62.46 mg' });
  await dialog.getByLabel('Corrected mass').fill('62.64');
  await dialog.getByRole('button', { name: 'Amend weighing' }).click();
  // The reason is asked for at its own field, and what was typed stays.
  const reason = dialog.getByRole('textbox', { name: 'Reason' });
  expect(await problemAt(reason)).toMatch(/is empty\. Enter a text\./i);
  expect(await dialog.getByLabel('Corrected mass').inputValue()).toBe('62.64');
  await reason.fill('Two digits were read the wrong way round.');
  await dialog.getByRole('button', { name: 'Amend weighing' }).click();
  await reads(dialog, 'The amendment is written.');
  await reads(dialog, 'RWC of D1-1');
  await dialog.getByRole('button', { name: 'Close' }).last().click();

  expect(await textOf(first.locator('del'))).toBe('62.46 mg');
  expect(await textOf(first)).toContain('“Two digits were read the wrong way round.”, technician of Paper lab');
  await first.getByRole('link', { name: 'Replaced by 62.64 mg' }).waitFor();
  await weighings.getByRole('listitem').filter({ hasText: 'typed by hand' }).getByText('62.64 mg').waitFor();
  await reads(page.getByRole('region', { name: 'RWC series' }), 'stale: a fact it rests on was amended');
});

/**
 * The first two rows of the open data set `leaf_drying` of an R package on CRAN (pvldcurve, MIT):
 * kohlrabi leaves drying on the bench; the last column is RWC as computed there.
 */
const KOHLRABI = `treatment,sample,date_time,dry_g,fresh_at_harvest_g,saturated_fresh_g,leaf_area_cm2,fresh_g,fw_plateau,rwc_computed
10%,1,2019-03-26 08:48:00,0.5374,4.1866,6.0317,115,6.0317,yes,1.0000000000
10%,1,2019-03-26 09:11:00,0.5374,4.1866,6.0317,115,5.9736,yes,0.9894254045
`;

const choose = (label: string, option: string): Promise<unknown> => page.getByRole('combobox', { name: label }).selectOption({ label: option });

async function chooseFile(): Promise<void> {
  await visit(page, '/import');
  await page.getByLabel('File', { exact: true }).setInputFiles({ name: 'kohlrabi.csv', mimeType: 'text/csv', buffer: Buffer.from(KOHLRABI) });
  await reads(page, 'Read from kohlrabi.csv.');
}

scene('a drying series is imported from a file: rows that cannot be read are told by line, RWC is as published', async () => {
  await chooseFile();
  await choose('Crop', 'Fig');
  await choose('Column of the leaf or disc', 'treatment');
  await choose('Second column of its name', 'sample');
  await choose('Column of the time', 'date_time');
  await choose('The time is in', 'Date and time');
  await choose('Column of the mass', 'fresh_g');
  await choose('Unit of the masses', 'g');
  await choose('Column of the turgid mass', 'saturated_fresh_g');
  await choose('Column of the dry mass', 'dry_g');
  await page.getByRole('button', { name: 'Preview' }).click();
  const errors = page.getByRole('table', { name: 'Rows that cannot be read' });
  expect(await textOf(errors.getByRole('row').nth(1))).toMatch(/2 .*date_time.* has no offset from UTC/);
  expect(await page.getByRole('button', { name: 'Import 2 rows' }).isDisabled()).toBe(true);

  await page.getByLabel('Offset of the times from UTC').fill('+01:00');
  await page.getByRole('button', { name: 'Preview' }).click();
  await errors.waitFor({ state: 'detached' });
  const rows = page.getByRole('table', { name: 'First rows as they would be recorded' }).getByRole('row');
  // 0.9894254045 in the file's own column.
  expect(await textOf(rows.nth(2))).toMatch(/3 .*10% 1 .*5973\.6 .*98\.9 %/);
  await page.getByRole('button', { name: 'Import 2 rows' }).click();
  await reads(page, '1 disc and 4 weighings are recorded.');
  await follow(page, /10% 1/, /^Disc .*10% 1$/, page.getByRole('table', { name: 'RWC series computed from the import' }));
  const weighings = page.getByRole('region', { name: 'Weighings' });
  expect(await textOf(weighings)).toContain('10%,1,2019-03-26 09:11:00,0.5374,4.1866,6.0317,115,5.9736,yes,0.9894254045');
});

scene('the same file is recognised when it comes again, by the mapping it was read with', async () => {
  await chooseFile();
  await page.getByRole('button', { name: 'Use the mapping of kohlrabi.csv' }).click();
  await choose('Crop', 'Fig');
  await page.getByRole('button', { name: 'Preview' }).click();
  await reads(page, 'This file was imported before, with the same mapping.');
  await page.getByRole('button', { name: 'Import 2 rows' }).click();
  await reads(page, 'This file had been imported before: nothing was changed.');
  const { discs } = await stage.lab.as('AUDITOR').ask<any>('{ discs(search: "10% 1") { totalCount } }');
  expect(discs.totalCount).toBe(1);
});
