import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync, gzipSync } from 'node:zlib';
import { generate } from 'otplib';
import pg from 'pg';
import { checkDatabase, restoreBackup, serve, writeBackup } from '../../apps/api/src/main.js';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { closeDatabase, withClient } from '../../apps/cli/src/database/roles.js';
import { record } from '../support/chain.js';
import { serverOfThisRun } from '../support/database.js';
import { newId, PASSWORD, signIn, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { fillLab, type FilledLab } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let filled: FilledLab;
const folder = mkdtempSync(join(tmpdir(), 'threadleaf-backup-'));
const made: string[] = [];

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Saved lab');
  filled = await fillLab(lab);
  await server.openLab('Second lab');
  const { startSecondFactor } = await lab.as('MANAGER').ask<any>('mutation ($password: String!) { startSecondFactor(password: $password) { secret } }', { password: PASSWORD });
  await lab.as('MANAGER').ask('mutation ($code: String!) { confirmSecondFactor(code: $code) { problem { code } } }', { code: await generate({ secret: startSecondFactor.secret }) });
  await server.served.settleLedger(lab.labId);
}, 180_000);

afterAll(async () => {
  rmSync(folder, { recursive: true });
  for (const name of made) await withClient(serverOfThisRun().ownerUrl, (client) => client.query(`DROP DATABASE ${name} WITH (FORCE)`));
  await server.close();
});

const inDatabase = (url: string, name: string): string => Object.assign(new URL(url), { pathname: `/${name}` }).href;

/** A database with nothing in it, not even the schema. */
async function emptyDatabase(): Promise<{ ownerUrl: string; appUrl: string }> {
  const { ownerUrl, appUrl } = serverOfThisRun();
  const name = `restored_${Date.now()}_${made.length}`;
  made.push(name);
  await withClient(ownerUrl, async (client) => {
    await client.query(`CREATE DATABASE ${name}`);
    await closeDatabase(client, name);
  });
  return { ownerUrl: inDatabase(ownerUrl, name), appUrl: inDatabase(appUrl, name) };
}

/** Every row of every table, as the database writes it. */
async function contentOf(ownerUrl: string): Promise<Record<string, string[]>> {
  return withClient(ownerUrl, async (client: pg.Client) => {
    const { rows: tables } = await client.query(`SELECT relname AS name FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname NOT IN ('session', 'schema_migration', 'ledger_pending', 'job')`);
    const content: Record<string, string[]> = {};
    for (const { name } of tables) content[name] = (await client.query(`SELECT r::text AS row FROM "${name}" r ORDER BY 1`)).rows.map(({ row }) => row);
    return content;
  });
}

const settled = async (): Promise<Record<string, string[]>> => {
  await server.served.settleLedger(lab.labId);
  return contentOf(server.database.ownerUrl);
};

describe('a backup', () => {
  it('restored into an empty database gives every row again, and a record that holds against a kept checkpoint', async () => {
    const before = await settled();
    const file = join(folder, 'whole.backup');
    const told = await writeBackup(server.database.appUrl, file);
    expect(told.rows['weighing']).toBe(before['weighing']!.length);
    // What only its own account sees is saved too.
    expect([told.rows['second_factor'], told.rows['recovery_code']]).toEqual([1, 10]);
    const target = await emptyDatabase();
    await restoreBackup(target.ownerUrl, file);
    expect(await contentOf(target.ownerUrl)).toEqual(before);
    const { checkpoint } = await lab.as('AUDITOR').ask<any>('{ checkpoint { text } }');
    const labs = await checkDatabase(target.appUrl, [checkpoint.text]);
    expect(labs.map(({ name, flaws, waiting }) => ({ name, flaws, waiting }))).toEqual([{ name: 'Saved lab', flaws: [], waiting: 0 }, { name: 'Second lab', flaws: [], waiting: 0 }]);
    expect(before['decision']!.join()).toContain(filled.decisionId);
  });

  it('made while people write is one moment: the restored record holds', async () => {
    let writing = true;
    const writers = [1, 2, 3].map(async () => {
      while (writing) await record(lab.as('MANAGER'), 'recordCrop', 'RecordCropInput', { id: newId(), name: `Crop ${newId()}` });
    });
    const file = join(folder, 'busy.backup');
    await writeBackup(server.database.appUrl, file).finally(() => { writing = false; });
    await Promise.all(writers);
    const target = await emptyDatabase();
    await restoreBackup(target.ownerUrl, file);
    const [first] = await checkDatabase(target.appUrl);
    expect(first!.flaws).toEqual([]);
    expect(first!.records).toBe(first!.size + first!.waiting);
  });

  it('that was cut or altered is refused before a row is written', async () => {
    const file = join(folder, 'good.backup');
    await writeBackup(server.database.appUrl, file);
    const bytes = readFileSync(file);
    const text = gunzipSync(bytes).toString('utf8');
    const lines = text.split('\n');
    const bad: Record<string, Buffer> = {
      cut: bytes.subarray(0, bytes.length - 200),
      'cut at a line': gzipSync(lines.slice(0, -2).join('\n') + '\n'),
      'one digit': gzipSync(text.replace(/("mass_mg": )(\d)/, (_, name: string, digit: string) => `${name}${9 - Number(digit)}`)),
      'a row less': gzipSync(lines.filter((_, i) => i !== 40).join('\n')),
      'no backup': gzipSync('{"hello": 1}\n'),
      'no gzip': Buffer.from('plain'),
    };
    // A damaged byte may stop the unpacking, or garble rows, the marks between them or the end: anywhere, by chance of the packing.
    for (let part = 1; part < 60; part += 1) {
      const at = Math.floor((bytes.length * part) / 60);
      bad[`the byte at ${at}`] = Buffer.from(bytes.map((byte, i) => (i === at ? byte ^ 1 : byte)));
    }
    expect(bad['one digit']!.equals(gzipSync(text))).toBe(false);
    const target = await emptyDatabase();
    for (const [name, content] of Object.entries(bad)) {
      const path = join(folder, 'bad.backup');
      writeFileSync(path, content);
      await expect(restoreBackup(target.ownerUrl, path).then(() => name, (error) => `${name}: ${error.code ?? error}`)).resolves.toBe(`${name}: BAD_BACKUP`);
    }
    await expect(restoreBackup(server.database.ownerUrl, file)).rejects.toMatchObject({ code: 'NOT_EMPTY' });
    await expect(writeBackup(server.database.appUrl, file)).rejects.toMatchObject({ code: 'EEXIST' });
    expect(readFileSync(file).equals(bytes)).toBe(true);
  });
});

describe('a backup of an earlier version', () => {
  const golden = join(packageRoot, 'test/database/golden');
  const names = readdirSync(golden).filter((name) => name.endsWith('.backup'));

  it.each(names)('%s is restored into the present one: rows, hashes, tree and the checkpoint kept beside it hold, and it serves', async (name) => {
    const target = await emptyDatabase();
    const told = await restoreBackup(target.ownerUrl, join(golden, name));
    const rows = await contentOf(target.ownerUrl);
    for (const [table, count] of Object.entries(told.rows)) expect({ table, rows: rows[table]!.length }).toEqual({ table, rows: count });
    expect(Object.values(told.rows).reduce((sum, count) => sum + count, 0)).toBeGreaterThan(1_000);
    const kept = readFileSync(join(golden, name.replace('.backup', '.checkpoint.txt')), 'utf8');
    const labs = await checkDatabase(target.appUrl, [kept]);
    expect(labs.map(({ flaws }) => flaws)).toEqual(labs.map(() => []));
    expect(labs[0]!.size).toBe(Number(kept.split('\n')[1]));
    // An altered checkpoint would have been noticed.
    const forged = kept.replace(/\n\d+\n/, (size) => `\n${Number(size) - 1}\n`);
    expect((await checkDatabase(target.appUrl, [forged]).then((found) => found.flatMap(({ flaws }) => flaws), (error: Error) => [error.message])).length).toBeGreaterThan(0);

    const served = await serve({ databaseUrl: target.appUrl, port: 0, poolSize: 4 });
    try {
      const auditor = await signIn(served.url, 'auditor@golden-lab.example', PASSWORD);
      const { decisions } = await auditor.ask<any>('{ decisions { nodes { id } } }');
      const { thread } = await auditor.ask<any>('query ($id: UUID!) { thread(kind: "decision", id: $id, direction: DOWN) { nodes { kind } } }', { id: decisions.nodes[0].id });
      expect(thread.nodes.filter(({ kind }: any) => kind === 'weighing').length).toBeGreaterThan(50);
      // What was recorded then can be written on today.
      const technician = await signIn(served.url, 'manager@golden-lab.example', PASSWORD);
      await record(technician, 'recordCrop', 'RecordCropInput', { id: newId(), name: 'Olive' });
    } finally {
      await served.close();
    }
  });
});
