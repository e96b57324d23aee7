import { mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { record } from '../../../test/support/chain.js';
import { serverOfThisRun } from '../../../test/support/database.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../../../test/support/lab.js';
import { closeDatabase, withClient } from '../src/database/roles.js';
import { runCommand } from './support/run-command.js';

/** The drill, as whoever runs the server does it: back up under work, restore elsewhere, compare with what was kept outside. */
let server: TestServer;
let lab: TestLab;
const folder = mkdtempSync(join(tmpdir(), 'threadleaf-drill-'));
const file = join(folder, 'night.backup');
const kept = join(folder, 'kept.txt');
const made: string[] = [];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Drill lab');
  for (let i = 0; i < 20; i += 1) await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: newId(), name: `Crop ${i}` });
  await server.served.settleLedger(lab.labId);
  const { checkpoint } = await lab.as('AUDITOR').ask<any>('{ checkpoint { text } }');
  writeFileSync(kept, checkpoint.text);
});

afterAll(async () => {
  rmSync(folder, { recursive: true });
  for (const name of made) await withClient(serverOfThisRun().ownerUrl, (client) => client.query(`DROP DATABASE ${name} WITH (FORCE)`));
  await server.close();
});

async function emptyDatabase(): Promise<string> {
  const { ownerUrl } = serverOfThisRun();
  const name = `drill_${Date.now()}_${made.length}`;
  made.push(name);
  await withClient(ownerUrl, async (client) => {
    await client.query(`CREATE DATABASE ${name}`);
    await closeDatabase(client, name);
  });
  return Object.assign(new URL(ownerUrl), { pathname: `/${name}` }).href;
}

test('a backup made while people write is restored, and told to hold by counts, hashes, tree and the checkpoint kept outside', async () => {
  let writing = true;
  let written = 0;
  const writers = [1, 2, 3].map(async () => {
    for (; writing; written += 1) await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: newId(), name: `Crop ${newId()}` });
  });
  while (written < 3) await new Promise((resolve) => { setTimeout(resolve, 10); });
  const saved = await runCommand(['backup', '--out', file, '--database-url', server.database.ownerUrl]).finally(() => { writing = false; });
  await Promise.all(writers);
  expect(saved).toMatchObject({ code: 0, printed: expect.stringMatching(/night\.backup: \d+ rows of \d+ tables, SHA-256 of its lines [0-9a-f]{64}$/) });
  const [, rows, sha256] = /: (\d+) rows.* ([0-9a-f]{64})$/.exec(saved.printed)!;

  const target = await emptyDatabase();
  const restored = await runCommand(['restore', file, '--checkpoint', kept, '--database-url', target]);
  expect({ code: restored.code, complained: restored.complained }).toEqual({ code: 0, complained: '' });
  expect(restored.printed).toContain(`Restored ${rows} rows of the backup of `);
  expect(restored.printed).toContain(`SHA-256 of its lines ${sha256} as it tells`);
  expect(restored.printed).toMatch(/^Drill lab: holds\n {2}\d+ records, \d+ entries in the ledger, \d+ checkpoints, root /m);
  // Not a second time, and nothing of it into the database that it came from.
  expect(await runCommand(['restore', file, '--database-url', target])).toMatchObject({ code: 1, complained: expect.stringContaining('holds a lab already') });
});

test('a backup from before what was kept outside is found to be older', async () => {
  const older = join(folder, 'older.backup');
  await runCommand(['backup', '--out', older, '--database-url', server.database.ownerUrl]);
  for (let i = 0; i < 3; i += 1) await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: newId(), name: `Later crop ${i}` });
  await server.served.settleLedger(lab.labId);
  const { checkpoint } = await lab.as('AUDITOR').ask<any>('{ checkpoint { text } }');
  const newest = join(folder, 'newest.txt');
  writeFileSync(newest, checkpoint.text);
  const restored = await runCommand(['restore', older, '--checkpoint', newest, '--database-url', await emptyDatabase()]);
  expect(restored.code).toBe(1);
  expect(restored.printed).toMatch(/Drill lab: DOES NOT HOLD[\s\S]*set back/);
});

test('a cut one is refused in a line, and nothing is restored', async () => {
  truncateSync(file, 2_000);
  const target = await emptyDatabase();
  expect(await runCommand(['restore', file, '--database-url', target])).toMatchObject({ code: 1, complained: expect.stringMatching(/cut|altered/) });
  expect(await runCommand(['restore', join(folder, 'none.backup'), '--database-url', target])).toMatchObject({ code: 1, complained: expect.stringContaining('cannot be read') });
});
