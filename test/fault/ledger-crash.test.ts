import { jest } from '@jest/globals';
import pg from 'pg';
import { checkDatabase, serve } from '../../apps/api/src/main.js';
import { until } from '../support/until.js';
import { PASSWORD, newId, signIn, type Client } from '../support/lab.js';
import { clearAll, freePort, kill, newFolder, postmasterOf, serversOf, startProgram, urlOf } from './program.js';

/** Kills in one run: a short form for every change, 200 by THREADLEAF_KILLS for a release. */
const KILLS = Number(process.env['THREADLEAF_KILLS'] ?? 10);
const WRITERS = 16;

jest.setTimeout(60_000 + KILLS * 30_000);
afterEach(clearAll);

const EMAIL = 'manager@crash.example';
const RECORD_CROP = 'mutation ($input: RecordCropInput!) { recordCrop(input: $input) { crop { id } problem { message } } }';

async function openLab(dataDir: string): Promise<string> {
  const served = await serve({ databaseUrl: urlOf(dataDir, 'app'), port: 0, poolSize: 2 });
  const { labId } = await served.openLab('Crash lab', [{ email: EMAIL, displayName: 'Manager', password: PASSWORD, roles: ['MANAGER'] }]);
  await served.close();
  return labId;
}

/** Writes until the server is gone; what was acknowledged goes into the list, as a person would remember it. */
async function writeUntilGone(client: Client, acknowledged: string[]): Promise<void> {
  for (;;) {
    const id = newId();
    try {
      const { recordCrop } = await client.ask<any>(RECORD_CROP, { input: { id, name: `Crop ${id}` } });
      if (recordCrop.crop) acknowledged.push(id);
    } catch {
      return;
    }
  }
}

test(`${KILLS} kills of the server under ${WRITERS} writers: every acknowledged write has one place, true to every checkpoint`, async () => {
  const dataDir = newFolder();
  const acknowledged: string[] = [];
  const kept: string[] = [];
  let labId = '';
  for (let round = 0; round < KILLS; round += 1) {
    const program = startProgram(['--port', String(await freePort()), '--data', dataDir]);
    const url = await program.ready();
    labId ||= await openLab(dataDir);
    const client = await signIn(url, EMAIL, PASSWORD);
    const before = acknowledged.length;
    const writers = Array.from({ length: WRITERS }, () => writeUntilGone(client, acknowledged));
    // Kills of an idle server would prove nothing. Then some time, up to the third batch with its checkpoint.
    await until('writes were acknowledged', () => acknowledged.length >= before + 5);
    await new Promise((resolve) => { setTimeout(resolve, 150 + Math.random() * 900); });
    const { checkpoint } = await client.ask<any>('{ checkpoint { text } }');
    if (checkpoint) kept.push(checkpoint.text);
    const databaseToo = round % 3 === 2;
    const servers = databaseToo ? serversOf(dataDir) : [];
    expect(postmasterOf(dataDir)).toBeDefined();
    program.child.kill('SIGKILL');
    servers.forEach(kill);
    await program.ended();
    await Promise.all(writers);
  }

  const program = startProgram(['--port', String(await freePort()), '--data', dataDir]);
  const url = await program.ready();
  const client = await signIn(url, EMAIL, PASSWORD);
  const owner = new pg.Client({ connectionString: urlOf(dataDir, 'owner') });
  await owner.connect();
  const count = async (sql: string): Promise<number> => Number((await owner.query(sql, [labId])).rows[0].count);
  await until('every entry has its place', async () => (await count('SELECT count(*) FROM ledger_pending WHERE lab_id = $1')) === 0);
  const placed = (await owner.query('SELECT e.subject_id AS id, count(*)::int AS places FROM ledger_entry e JOIN ledger_place p ON p.lab_id = e.lab_id AND p.entry_id = e.id WHERE e.lab_id = $1 GROUP BY 1', [labId])).rows as { id: string; places: number }[];
  const places = new Map(placed.map(({ id, places: number }) => [id, number]));
  expect(acknowledged.filter((id) => places.get(id) !== 1)).toEqual([]);
  expect(await count('SELECT max(place) + 1 AS count FROM ledger_place WHERE lab_id = $1')).toBe(placed.length);

  expect(kept.length).toBeGreaterThan(KILLS / 3);
  const [lab] = await checkDatabase(urlOf(dataDir, 'app'), kept);
  expect(lab!.flaws).toEqual([]);
  expect(lab!.records).toBe(placed.length);
  expect((await client.ask<any>('{ checkpoint { size } }')).checkpoint.size).toBeGreaterThan(0);
  expect(acknowledged.length).toBeGreaterThan(4 * KILLS);
  console.info(`${acknowledged.length} writes acknowledged, ${placed.length} placed, ${kept.length} checkpoints kept over ${KILLS} kills`);
  await owner.end();
});
