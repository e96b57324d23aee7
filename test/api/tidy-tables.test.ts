import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { parse } from 'csv-parse/sync';
import { unzipSync } from 'fflate';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { record } from '../support/chain.js';
import { newId, PASSWORD, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { driedLeaves, otherCropDried } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
const [versionId, studyId] = [newId(), newId()];
let readings: { meterReadingId: string; rwc: number }[];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab that hands out');
  const researcher = lab.as('RESEARCHER');
  const { bench, run } = await driedLeaves(lab);
  const calibrationId = newId();
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig, "rig A"', cropId: bench.cropId });
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [run.dryingRunId] });
  readings = (await researcher.ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { points { meterReadingId rwc } } }', { id: versionId })).calibrationVersion.points;
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: newId(), calibrationId, dryingRunIds: [run.dryingRunId], exclusions: [{ meterReadingId: readings[0]!.meterReadingId, reason: 'Dew, or "fog"' }] });
  const quince = await otherCropDried(lab, bench, 'Quince', { heights: [0.01, -0.02, 0.02] });
  await record(researcher, 'studyTransfer', 'StudyTransferInput', { id: studyId, calibrationVersionId: versionId, cropId: quince.cropId, dryingRunIds: [quince.runId], marginPoints: 20 });
}, 180_000);

afterAll(() => server.close());

const tables = async (kind: string, id: string, by = lab): Promise<any> =>
  (await by.as('AUDITOR').ask<any>('query ($kind: String!, $id: UUID!) { tidyTables(kind: $kind, id: $id) { tables { fileName csv rowCount } metadata file { fileName base64 sha256 } } }', { kind, id })).tidyTables;

const rowsOf = (csv: string): Record<string, string>[] => parse(csv, { columns: true }) as Record<string, string>[];

it('gives a row for each thing of a level, joined by keys, and every column its unit and meaning', async () => {
  const { tables: made, metadata, file } = await tables('calibration_version', versionId);
  const by = Object.fromEntries(made.map(({ fileName, csv }: any) => [fileName, rowsOf(csv)]));
  expect([by['version.csv'].length, by['leaves.csv'].length, by['readings.csv'].length]).toEqual([1, 6, readings.length]);
  expect(by['version.csv'][0].label).toBe('Fig, "rig A"');
  const leaves = new Set(by['leaves.csv'].map(({ leaf_id: id }: any) => id));
  expect(by['readings.csv'].every(({ leaf_id: id }: any) => leaves.has(id))).toBe(true);
  // Every digit of the record, so that another program fits the same line.
  expect(by['readings.csv'].map(({ rwc }: any) => Number(rwc))).toEqual(readings.map(({ rwc }) => rwc));
  const told = JSON.parse(metadata);
  for (const { url, tableSchema } of told.tables) {
    const header = made.find(({ fileName }: any) => fileName === url).csv.split('\r\n')[0];
    expect(tableSchema.columns.map(({ name }: any) => name).join(',')).toBe(header);
    expect(tableSchema.columns.every((column: any) => column['dc:description'])).toBe(true);
  }
  const zip = unzipSync(Buffer.from(file.base64, 'base64'));
  expect(Object.keys(zip).sort()).toEqual(['csv-metadata.json', 'leaves.csv', 'parameters.csv', 'readings.csv', 'version.csv']);
  expect((await tables('calibration_version', versionId)).file.sha256).toBe(file.sha256);
});

it('gives a study likewise, and another lab nothing', async () => {
  const { tables: made } = await tables('transfer_study', studyId);
  expect(made.map(({ fileName, rowCount }: any) => `${fileName} ${rowCount}`)).toEqual(['study.csv 1', 'leaves.csv 3', 'readings.csv 21']);
  const other = await server.openLab('Lab without');
  expect(await tables('transfer_study', studyId, other)).toBeNull();
  expect(await tables('calibration_version', versionId, other)).toBeNull();
});

it('the worked example reads all of it with a token of the scope READ', async () => {
  const { createAccessToken } = await lab.as('RESEARCHER').ask<any>('mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) { secret problem { message } } }', {
    input: { id: newId(), label: 'example', scopes: ['READ'], expiresAt: new Date(Date.now() + 86_400_000).toISOString(), password: PASSWORD },
  });
  const folder = mkdtempSync(join(tmpdir(), 'threadleaf-example-'));
  try {
    const { stdout } = await promisify(execFile)(process.execPath, ['--import', join(packageRoot, 'test/reference/load-typescript.mjs'), join(packageRoot, 'docs/read-calibrations.ts'), server.url, folder], {
      env: { PATH: process.env['PATH'] ?? '', THREADLEAF_TOKEN: createAccessToken.secret },
    });
    expect(stdout).toContain('Fig, "rig A" (Fig): version 2, draft, 6 leaves; version 1, draft, 6 leaves');
    expect(stdout).toContain('built from all of them: Leaves differ by');
    expect(stdout).toMatch(/Fig, "rig A" version 1 for Quince: (Holds|Not enough)/);
    expect(rowsOf(readFileSync(join(folder, `transfer_study-${studyId}`, 'leaves.csv'), 'utf8'))).toHaveLength(3);
  } finally {
    rmSync(folder, { recursive: true });
  }
});

it('the worked example that writes freezes a draft with a token that builds calibrations, once, and only where it is good enough', async () => {
  const { createAccessToken } = await lab.as('RESEARCHER').ask<any>('mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) { secret problem { message } } }', {
    input: { id: newId(), label: 'builder', scopes: ['CALIBRATION'], expiresAt: new Date(Date.now() + 86_400_000).toISOString(), password: PASSWORD },
  });
  const id = newId();
  const build = async (wanted: string): Promise<string> => (await promisify(execFile)(process.execPath, ['--import', join(packageRoot, 'test/reference/load-typescript.mjs'), join(packageRoot, 'docs/build-calibration.ts'), server.url, 'fig', wanted], {
    env: { PATH: process.env['PATH'] ?? '', THREADLEAF_TOKEN: createAccessToken.secret, THREADLEAF_ID: id },
  })).stdout;
  expect(await build('1')).toMatch(/Not frozen: one new leaf would be read within ± [\d.]+ RWC points only/);
  expect(await build('90')).toMatch(/Frozen as Fig, "rig A" version 3, draft, of 6 leaves/);
  expect(await build('90')).toContain('Frozen before');
  const signing = await fetch(`${server.url}/graphql`, {
    method: 'POST', headers: { 'content-type': 'application/json', 'authorization': `Bearer ${createAccessToken.secret}` },
    body: JSON.stringify({ query: 'mutation ($input: SignInput!) { sign(input: $input) { problem { code } } }', variables: { input: { id: newId(), subjectKind: 'calibration_version', subjectId: id, meaning: 'AUTHORED', password: PASSWORD } } }),
  });
  expect(((await signing.json()) as any).errors[0].extensions.code).toBe('FORBIDDEN');
});
