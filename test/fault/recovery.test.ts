import { jest } from '@jest/globals';
import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { withClient } from '../../apps/cli/src/database/roles.js';
import { isAlive, isGoneWithin, pause } from '../../apps/cli/src/database/processes.js';
import { until } from '../support/until.js';
import { clearAll, freePort, kill, newFolder, postmasterOf, serversOf, startProgram, urlOf } from './program.js';

// Process numbers and working folders are read from /proc: these run on Linux, as does the CI.
jest.setTimeout(180_000);
afterEach(clearAll);

async function startOn(dataDir: string) {
  const program = startProgram(['--port', String(await freePort()), '--data', dataDir]);
  const url = await program.ready();
  return { program, url };
}

/** One row more, committed: it was acknowledged, so it must be there for ever after. */
const note = (dataDir: string, text: string) =>
  withClient(urlOf(dataDir, 'owner'), async (client) => {
    await client.query('CREATE TABLE IF NOT EXISTS fault_note (text text PRIMARY KEY)');
    await client.query('INSERT INTO fault_note VALUES ($1)', [text]);
  });

const notes = (dataDir: string) =>
  withClient(urlOf(dataDir, 'owner'), async (client) => {
    const { rows } = await client.query<{ text: string }>('SELECT text FROM fault_note ORDER BY text');
    return rows.map((row) => row.text);
  });

describe('stopping', () => {
  test.each(['SIGINT', 'SIGTERM', 'SIGHUP'] as const)('%s ends program and database in order', async (signal) => {
    const dataDir = newFolder();
    const { program } = await startOn(dataDir);
    program.child.kill(signal);
    expect(await program.ended()).toEqual({ code: 0, signal: null });
    expect(serversOf(dataDir)).toEqual([]);
    expect(existsSync(join(dataDir, 'in-use.json'))).toBe(false);
    expect(readFileSync(join(dataDir, 'postgres.log'), 'utf8').trimEnd()).toMatch(/database system is shut down$/);
  });

  test('the signal that npm passes on a moment later is not a second Ctrl-C', async () => {
    const dataDir = newFolder();
    const { program } = await startOn(dataDir);
    program.child.kill('SIGINT');
    await pause(5);
    program.child.kill('SIGINT');
    expect(await program.ended()).toEqual({ code: 0, signal: null });
    expect(serversOf(dataDir)).toEqual([]);
  });
});

describe('kill -9', () => {
  test('of program and database at once: the next start recovers and keeps what was committed', async () => {
    const dataDir = newFolder();
    const { program } = await startOn(dataDir);
    await note(dataDir, 'committed');
    const servers = serversOf(dataDir);
    expect(servers.length).toBeGreaterThan(3);
    program.child.kill('SIGKILL');
    servers.forEach(kill);
    await program.ended();

    await startOn(dataDir);
    expect(await notes(dataDir)).toEqual(['committed']);
    expect(readFileSync(join(dataDir, 'postgres.log'), 'utf8')).toMatch(/automatic recovery in progress/);
  });

  test('of the program alone: the orphaned database is ended in order and a new one serves', async () => {
    const dataDir = newFolder();
    const { program } = await startOn(dataDir);
    await note(dataDir, 'committed');
    const orphan = postmasterOf(dataDir) as number;
    program.child.kill('SIGKILL');
    await program.ended();
    expect(isAlive(orphan)).toBe(true);

    await startOn(dataDir);
    expect(isAlive(orphan)).toBe(false);
    expect(await notes(dataDir)).toEqual(['committed']);
    expect(readFileSync(join(dataDir, 'postgres.log'), 'utf8')).not.toMatch(/not properly shut down/);
  });

  test('of the database alone: it is started again under the running program', async () => {
    const dataDir = newFolder();
    const { program, url } = await startOn(dataDir);
    await note(dataDir, 'committed');
    const before = postmasterOf(dataDir) as number;
    kill(before);
    await isGoneWithin(before, 5_000);
    await until('it is started again', () => program.stderr.some((line) => /started again/.test(line)));
    let kept: string[] | undefined;
    while (!kept) kept = await notes(dataDir).catch(() => pause(50).then(() => undefined));
    expect(kept).toEqual(['committed']);
    expect((await fetch(url)).status).toBeLessThan(500);
    program.child.kill('SIGINT');
    expect(await program.ended()).toEqual({ code: 0, signal: null });
    expect(serversOf(dataDir)).toEqual([]);
  });

  test('half-way through making the database: the next start makes it anew', async () => {
    const dataDir = newFolder();
    mkdirSync(join(dataDir, 'postgres.partial/base'), { recursive: true });
    writeFileSync(join(dataDir, 'postgres.partial/PG_VERSION'), '18\n');
    await startOn(dataDir);
    await note(dataDir, 'made');
    expect(await notes(dataDir)).toEqual(['made']);
    expect(existsSync(join(dataDir, 'postgres.partial'))).toBe(false);
  });
});

test('the next start has the data; a lock whose number belongs to a stranger by now is cleared, and the stranger left in peace', async () => {
  const dataDir = newFolder();
  const first = await startOn(dataDir);
  await note(dataDir, 'before');
  first.program.child.kill('SIGINT');
  await first.program.ended();

  // Of the database's own user: only such a process makes PostgreSQL believe that its predecessor still runs.
  const { uid, gid } = statSync(join(dataDir, 'postgres'));
  const stranger = spawn('sleep', ['600'], { stdio: 'ignore', uid, gid, cwd: '/' });
  try {
    writeFileSync(join(dataDir, 'postgres/postmaster.pid'), `${stranger.pid}\n${join(dataDir, 'postgres')}\n1\n5432\n\n\n\nready\n`);
    writeFileSync(join(dataDir, 'in-use.json'), JSON.stringify({ pid: stranger.pid, birth: 'another boot/1' }));
    await startOn(dataDir);
    expect(await notes(dataDir)).toEqual(['before']);
    expect(isAlive(stranger.pid as number)).toBe(true);
  } finally {
    stranger.kill('SIGKILL');
  }
});

test("the database listens on the loopback address only and keeps its passwords to its folder's owner", async () => {
  const dataDir = newFolder();
  await startOn(dataDir);
  expect(statSync(join(dataDir, 'database.json')).mode & 0o077).toBe(0);
  expect(statSync(join(dataDir, 'postgres')).mode & 0o077).toBe(0);
  const settings = await withClient(urlOf(dataDir, 'app'), async (client) => {
    const { rows } = await client.query<Record<string, unknown>>(
      `SELECT current_setting('listen_addresses') AS listens, current_setting('fsync') AS fsync, current_setting('synchronous_commit') AS waits,
              current_setting('TimeZone') AS zone, rolsuper, rolbypassrls, rolcreatedb, rolcreaterole,
              has_database_privilege(current_database(), 'CREATE') AS makes, has_database_privilege(current_database(), 'TEMP') AS temporary
         FROM pg_roles WHERE rolname = current_user`,
    );
    return rows[0];
  });
  expect(settings).toEqual({
    listens: '127.0.0.1', fsync: 'on', waits: 'on', zone: 'UTC',
    rolsuper: false, rolbypassrls: false, rolcreatedb: false, rolcreaterole: false, makes: false, temporary: false,
  });
});
