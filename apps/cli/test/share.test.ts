import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import { unzipPack, zipPack } from '#libs/ledger';
import { furnish, record } from '../../../test/support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../../../test/support/lab.js';
import { driedLeaves, sign } from '../../../test/support/whole-chain.js';
import { runCommand, type Outcome } from './support/run-command.js';

describe('threadleaf share, between two servers with a database each', () => {
  let home: TestServer;
  let elsewhere: TestServer;
  let giver: TestLab;
  let far: TestLab;
  let versionId: string;
  const folder = mkdtempSync(join(tmpdir(), 'threadleaf-share-'));
  const file = join(folder, 'fig.zip');

  beforeAll(async () => {
    [home, elsewhere] = [await startTestServer(), await startTestServer()];
    [giver, far] = [await home.openLab('Fig lab'), await elsewhere.openLab('Far lab')];
    const { bench, run } = await driedLeaves(giver, [0.02, -0.05, 0.04]);
    const calibrationId = newId();
    versionId = newId();
    const researcher = giver.as('RESEARCHER');
    await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: bench.cropId });
    await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [run.dryingRunId] });
    await sign(giver.as('FIELD_ENGINEER'), 'calibration_version', versionId, 'REVIEWED');
    await sign(giver.as('MANAGER'), 'calibration_version', versionId, 'APPROVED');
    await furnish(far.as('MANAGER'));
  });
  afterAll(async () => {
    await home.close();
    await elsewhere.close();
  });

  const by = (server: TestServer, lab: TestLab, ...args: string[]): Promise<Outcome> =>
    runCommand(['share', ...args, '--url', server.url, '--email', lab.as('RESEARCHER').email], { THREADLEAF_PASSWORD: PASSWORD });
  const takeOver = (pack: string, ...options: string[]): Promise<Outcome> => by(elsewhere, far, 'take-over', pack, ...options);
  const WITH = ['--calibration', 'Fig from afar', '--crop', 'Fig', '--rig', 'Rig A', '--key-compared-with', 'the key on their door', '--reason', 'Same crop, same lamp'];

  it('saves only what is shared', async () => {
    expect(await by(home, giver, 'save', versionId, '--out', file)).toMatchObject({ code: 1, complained: expect.stringContaining('is not shared') });
    await record(giver.as('RESEARCHER'), 'shareCalibration', 'ShareCalibrationInput', { id: newId(), calibrationVersionId: versionId, depth: 'RAW', permits: 'REUSE', licence: 'CC BY 4.0', citation: 'Fig lab, 2026' });
    const saved = await by(home, giver, 'save', versionId, '--out', file);
    expect(saved).toMatchObject({ code: 0, printed: expect.stringMatching(/fig\.zip: \d+ bytes, SHA-256 [0-9a-f]{64}/) });
    expect(await by(home, giver, 'save', versionId, '--out', file)).toMatchObject({ code: 1, complained: expect.stringContaining('is there already') });
  });

  it('shows what a pack says and its key, and records nothing before the key was compared', async () => {
    const { printed, code } = await takeOver(file);
    expect(code).toBe(0);
    expect(printed).toContain('Fig on rig A version 1 of Fig lab, for Fig: 3 leaves');
    expect(printed).toContain(`Ledger threadleaf/ledger/${giver.labId}`);
    expect(printed).toContain('Nothing was taken over.');
    const { calibrations } = await far.as('RESEARCHER').ask<any>('{ calibrations { id } }');
    expect(calibrations).toEqual([]);
  });

  it('takes it over as a draft that reads RWC as at home', async () => {
    expect(await takeOver(file, ...WITH.slice(0, 2), ...WITH.slice(4))).toMatchObject({ code: 1, complained: expect.stringContaining('name its crop with --crop') });
    const { printed, code } = await takeOver(file, ...WITH);
    expect(code).toBe(0);
    expect(printed).toMatch(/Taken over as version 1 of Fig from afar, a draft/);
    const READ = 'rwcAt(transmittance: 0.18) { rwc newLeafLow newLeafHigh }';
    const { calibrations: [made] } = await far.as('RESEARCHER').ask<any>(`{ calibrations { versions { state ${READ} origin { labName licence keyComparedWith source } } } }`);
    expect(made.versions).toEqual([expect.objectContaining({ state: 'DRAFT', origin: { labName: 'Fig lab', licence: 'CC BY 4.0', keyComparedWith: 'the key on their door', source: 'FILE' } })]);
    const { calibrationVersion: home } = await giver.as('RESEARCHER').ask<any>(`query ($id: UUID!) { calibrationVersion(id: $id) { ${READ} } }`, { id: versionId });
    expect(made.versions[0].rwcAt).toEqual(home.rwcAt);
  });

  const storedFiles = async (): Promise<number> => {
    const client = new pg.Client({ connectionString: elsewhere.database.ownerUrl });
    await client.connect();
    const { rows } = await client.query<{ n: number }>('SELECT count(*)::int AS n FROM stored_file');
    await client.end();
    return rows[0]!.n;
  };

  it('refuses one that was changed on its way, before anything is sent', async () => {
    const before = await storedFiles();
    expect(before).toBeGreaterThan(0);
    const files = new Map(unzipPack(readFileSync(file)));
    files.set('records.jsonl', Buffer.from(Buffer.from(files.get('records.jsonl')!).toString().replace('"licence":"CC BY 4.0"', '"licence":"Public domain"')));
    const altered = join(folder, 'altered.zip');
    writeFileSync(altered, zipPack(files));
    expect(await takeOver(altered, ...WITH)).toMatchObject({ code: 1, complained: expect.stringContaining('does not hold, so nothing in it is believed') });
    writeFileSync(altered, 'no pack');
    expect(await takeOver(altered, ...WITH)).toMatchObject({ code: 1, complained: expect.stringContaining('altered.zip') });
    expect(await storedFiles()).toBe(before);
    const { calibrations } = await far.as('RESEARCHER').ask<any>('{ calibrations { versions { id } } }');
    expect(calibrations.flatMap(({ versions }: any) => versions)).toHaveLength(1);
  });
});
