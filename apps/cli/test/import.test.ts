import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { furnish } from '../../../test/support/chain.js';
import { PASSWORD, startTestServer, type TestLab, type TestServer } from '../../../test/support/lab.js';
import { runCommand, type Outcome } from './support/run-command.js';

/**
 * The first two rows of the open data set `leaf_drying` of an R package on CRAN (pvldcurve, MIT): kohlrabi leaves drying
 * on the bench; the last column is RWC as computed there.
 */
const KOHLRABI = `treatment,sample,date_time,dry_g,fresh_at_harvest_g,saturated_fresh_g,leaf_area_cm2,fresh_g,fw_plateau,rwc_computed
10%,1,2019-03-26 08:48:00,0.5374,4.1866,6.0317,115,6.0317,yes,1.0000000000
10%,1,2019-03-26 09:11:00,0.5374,4.1866,6.0317,115,5.9736,yes,0.9894254045
`;

const MAPPING = {
  massUnit: 'g', discColumn: 'treatment+sample', timeColumn: 'date_time', timeUnit: 'moment', utcOffset: '+01:00',
  massColumn: 'fresh_g', turgidMassColumn: 'saturated_fresh_g', dryMassColumn: 'dry_g',
};

let server: TestServer;
let lab: TestLab;
let folder: string;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Import terminal lab');
  await furnish(lab.as('MANAGER'));
  folder = mkdtempSync(join(tmpdir(), 'threadleaf-import-'));
});
afterAll(async () => {
  rmSync(folder, { recursive: true, force: true });
  await server.close();
});

function file(name: string, text: string | Buffer): string {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
}

const importing = (path: string, ...options: string[]): Promise<Outcome> =>
  runCommand(['import', path, '--crop', 'fig', '--url', server.url, '--email', lab.as('TECHNICIAN').email, ...options], { THREADLEAF_PASSWORD: PASSWORD });

const weighingsOf = async (disc: string): Promise<number> => {
  const { discByLabel } = await lab.as('AUDITOR').ask<any>('query ($label: String!) { discByLabel(label: $label) { weighings { id } } }', { label: disc });
  return discByLabel?.weighings.length ?? 0;
};

describe('threadleaf import', () => {
  it('shows the file first, and records nothing unasked', async () => {
    const { printed, code } = await importing(file('kohlrabi.csv', KOHLRABI), '--mapping', file('mapping.json', JSON.stringify(MAPPING)));
    expect(code).toBe(0);
    expect(printed).toMatch(/^2 rows of 1 disc, columns divided by ",": treatment \| sample \| date_time/);
    expect(printed).toMatch(/^ {2}3 +10% 1 +2019-03-26T09:11:00\.000\+01:00 +5973\.6 +98\.94$/m);
    expect(printed).toMatch('Nothing was recorded yet: give --yes');
    expect(await weighingsOf('kohlrabi 10% 1')).toBe(0);
  });

  it('records with --yes, and recognises the same file', async () => {
    const path = join(folder, 'kohlrabi.csv');
    const first = await importing(path, '--mapping', join(folder, 'mapping.json'), '--yes');
    expect(first).toMatchObject({ code: 0, printed: expect.stringMatching(/Recorded 4 weighings of 1 disc\.\n {2}RWC of kohlrabi 10% 1: threadleaf thread [0-9a-f-]{36}/) });
    const again = await importing(path, '--mapping', join(folder, 'mapping.json'), '--yes');
    expect(again).toMatchObject({ code: 0, printed: expect.stringContaining('Already imported') });
    expect(await weighingsOf('kohlrabi 10% 1')).toBe(4);
  });

  it('uses the newest mapping that fits the header, and says which', async () => {
    const next = await importing(file('next.csv', KOHLRABI.replaceAll('10%', '20%')), '--yes');
    expect(next.printed).toMatch(/^Mapping as used for kohlrabi\.csv on 20/);
    expect(await weighingsOf('next 20% 1')).toBe(4);
    const odd = await importing(file('odd.csv', 'treatment,sample,date_time,weight\nA,1,2026-06-03 09:00,5\n'));
    expect(odd).toMatchObject({ code: 1, complained: expect.stringMatching(/^threadleaf: The mapping lacks discColumn, timeColumn, timeUnit, massColumn, massUnit, and none used before fits/) });
  });

  it('takes the mapping from the command line', async () => {
    const path = file('semicolons.csv', 'leaf;min;mass\nA;0;5,05\nA;10;4,90\n');
    const set = ['discColumn=leaf', 'timeColumn=min', 'timeUnit=min', 'startAt=2026-06-03T09:00:00+02:00', 'massColumn=mass', 'massUnit=g', 'decimalComma=true'];
    const { printed, code } = await importing(path, ...set.flatMap((word) => ['--set', word]));
    expect(code).toBe(0);
    expect(printed).toMatch(/^ {2}3 +A +2026-06-03T09:10:00\.000\+02:00 +4900$/m);
  });

  it('lists every bad row by its line, and records nothing', async () => {
    const bad = KOHLRABI.replace('5.9736', 'heavy').replaceAll('10%,', '30%,') + '30%,1,yesterday,0.5374,4.1866,6.0317,115,5.9,yes,0.9\n30%,1\n';
    const { printed, complained, code } = await importing(file('bad.csv', bad), '--yes');
    expect(code).toBe(1);
    expect(printed).toMatch('4 rows of');
    for (const told of [/^ {2}line 3, fresh_g: .+/m, /^ {2}line 4, date_time: .+/m, /^ {2}line 5: .+/m]) expect(complained).toMatch(told);
    expect(complained).not.toMatch(/^ {2}line 2\b/m);
    expect(complained).toMatch(/\nthreadleaf: .*bad\.csv was not imported: nothing was recorded\./);
    expect(await weighingsOf('bad 30% 1')).toBe(0);
  });

  it.each([
    ['an unknown crop', ['--crop', 'oak'], /no crop is named "oak"\. Known: Fig\./],
    ['an unknown part of the mapping', ['--set', 'weight=mass'], /The mapping has no part "weight"/],
    ['a part without a value', ['--set', 'mass'], /--set "mass" has no key/],
    ['a column that is not there', ['--set', 'massColumn=weight'], /previewDryingImport, mapping\.massColumn: /],
  ])('refuses %s in one line', async (_, options, told) => {
    const { complained, code } = await importing(join(folder, 'kohlrabi.csv'), ...options);
    expect(code).toBe(1);
    expect(complained).toMatch(told);
    expect(complained.split('\n')).toHaveLength(1);
  });

  it('refuses a file that is not there or not text', async () => {
    expect((await importing(join(folder, 'none.csv'))).complained).toMatch(/none\.csv cannot be read \(ENOENT\)/);
    expect((await importing(file('table.bin', Buffer.from([0x50, 0x4b, 0xff, 0xfe])))).complained).toMatch(/is not UTF-8 text/);
  });
});
