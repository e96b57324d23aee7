import { jest } from '@jest/globals';
import { spawn, type ChildProcess } from 'node:child_process';
import { join } from 'node:path';
import pg from 'pg';
import { entities } from '../../apps/api/src/entities.js';
import { packageRoot } from '../../apps/cli/src/package-root.js';
import { Announcer } from '../../apps/api/src/platform/database/announcer.js';
import { Database, type Tx } from '../../apps/api/src/platform/database/database.js';
import { ProblemError } from '../../apps/api/src/platform/errors/problem.js';
import type { Actor } from '../../apps/api/src/platform/identity/actor.js';
import { jobById, type JobRow } from '../../apps/api/src/platform/jobs/job.repository.js';
import { JobRunner } from '../../apps/api/src/platform/jobs/job-runner.js';
import { Jobs } from '../../apps/api/src/platform/jobs/jobs.js';
import { Threads } from '../../apps/api/src/platform/jobs/threads.js';
import { newId, startTestServer, type TestLab, type TestServer } from '../support/lab.js';
import { until } from '../support/until.js';

let server: TestServer;
let lab: TestLab;
let other: TestLab;
let actor: Actor;
let database: Database;
let announcer: Announcer;
let jobs: Jobs;
let owner: pg.Client;
const programs: ChildProcess[] = [];

const pause = (ms: number): Promise<void> => new Promise((resolve) => { setTimeout(resolve, ms); });

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Lab with long work');
  other = await server.openLab('Lab beside');
  const { me } = await lab.as('RESEARCHER').ask<any>('{ me { person { id displayName } } }');
  actor = { accountId: me.person.id, displayName: me.person.displayName, labId: lab.labId, roles: ['RESEARCHER'], token: null };
  database = await Database.open(server.database.appUrl, entities, 4);
  announcer = new Announcer(server.database.appUrl);
  await announcer.open();
  jobs = new Jobs(announcer);
  jobs.define({ name: 'slow crop', run: async () => () => ({}) });
  owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await owner.connect();
});

afterAll(async () => {
  programs.forEach((program) => program.kill('SIGKILL'));
  await Promise.all([announcer.close(), database.close(), owner.end()]);
  await server.database.drop();
});

const write = <T>(work: (tx: Tx) => Promise<T>): Promise<T> => database.write({ labId: lab.labId, accountId: actor.accountId }, work);
const look = (id: string): Promise<JobRow | null> => write((tx) => jobById(tx, id));

const sees = (id: string, wanted: (job: JobRow) => boolean): Promise<JobRow> => until('the job stands so', async () => {
  const job = await look(id);
  return job && wanted(job) && job;
});

/** @param lastStep  it stands still there, until it is killed */
function program(lastStep = 0): { child: ChildProcess; says(line: string): Promise<unknown> } {
  const child = spawn(process.execPath, [join(packageRoot, 'test/support/job-program.mjs'), server.database.appUrl, String(lastStep)], { stdio: ['ignore', 'pipe', 'inherit'], env: { ...process.env, NODE_OPTIONS: '' } });
  programs.push(child);
  let said = '';
  child.stdout!.on('data', (chunk: Buffer) => { said += chunk.toString(); });
  return { child, says: (line) => until(`it says ${line}`, () => said.includes(line)) };
}

describe('a job, while the lab is served,', () => {
  it('started in a transaction that fails never was', async () => {
    const id = newId();
    await expect(write(async (tx) => {
      await jobs.start(tx, actor, 'slow crop', 'Rolled back', {}, id);
      throw new Error('the use case failed');
    })).rejects.toThrow('the use case failed');
    expect(await look(id)).toBeNull();
    expect((await owner.query('SELECT count(*)::int AS n FROM job_queue._private_jobs WHERE key = $1', [id])).rows[0].n).toBe(0);
  });

  it('is seen by its lab alone, and a replay of its start is the same job', async () => {
    const id = newId();
    const begun = await write((tx) => jobs.start(tx, actor, 'slow crop', 'Seen', {}, id));
    expect(await write((tx) => jobs.start(tx, actor, 'slow crop', 'Seen', {}, id))).toMatchObject({ id: begun.id, queuedAt: begun.queuedAt });
    const ask = '{ jobs { nodes { id label state startedBy { displayName } } } }';
    expect((await lab.as('AUDITOR').ask<any>(ask)).jobs.nodes).toContainEqual(expect.objectContaining({ id, label: 'Seen', startedBy: { displayName: actor.displayName } }));
    expect((await other.as('ADMINISTRATOR').ask<any>(ask)).jobs.nodes).toEqual([]);
    const { cancelJob } = await other.as('ADMINISTRATOR').ask<any>('mutation ($id: UUID!) { cancelJob(id: $id) { job { id } problem { code } } }', { id });
    expect(cancelJob).toEqual({ job: null, problem: { code: 'NOT_FOUND' } });
  });
});

describe('a job', () => {
  // The serving process takes jobs too, and does not know these kinds: from here on it is gone.
  beforeAll(() => server.served.close());

  it('whose process is killed with -9 in the middle goes on in another, and makes its record once', async () => {
    const first = program(4);
    await first.says('at work');
    const id = newId();
    await write((tx) => jobs.start(tx, actor, 'slow crop', 'A slow crop', { steps: 6, name: 'Slow basil' }, id));
    await first.says('step 4');
    const half = await sees(id, ({ progress }) => progress > 0);
    expect(half).toMatchObject({ state: 'RUNNING', attempt: 1 });
    first.child.kill('SIGKILL');
    const killed = performance.now();
    const second = program();
    await second.says('step 1');
    const done = await sees(id, ({ state }) => state === 'DONE');
    // Four hours is what the queue would wait by itself; the rest is patience with a machine that does other work too.
    expect(performance.now() - killed).toBeLessThan(120_000);
    expect(done).toMatchObject({ attempt: 2, progress: 1, resultKind: 'crop', resultId: id, error: null });
    expect((await owner.query(`SELECT count(*)::int AS n FROM crop WHERE name = 'Slow basil'`)).rows[0].n).toBe(1);
    // The queue forgets it a moment after it has ended.
    await until('the queue is empty', async () => (await owner.query('SELECT count(*)::int AS n FROM job_queue._private_jobs')).rows[0].n === 0);
    second.child.kill('SIGKILL');
  }, 180_000);
});

describe('a runner', () => {
  let runner: JobRunner;
  const log: string[] = [];
  const complaints: string[] = [];
  let failures = 0;

  beforeAll(async () => {
    await owner.query('DELETE FROM job_queue._private_jobs');
    jobs.define<{ forMs?: number }>({
      name: 'waits',
      run: async ({ forMs = 60_000 }, job) => {
        log.push(`${job.id} begins`);
        await new Promise<void>((resolve, reject) => {
          const timer = setTimeout(resolve, forMs);
          job.signal.addEventListener('abort', () => { clearTimeout(timer); reject(job.signal.reason as Error); });
        });
        return () => ({ outcome: { waited: forMs } });
      },
    });
    jobs.define({ name: 'refused', run: () => { throw new ProblemError('COMPUTATION', 'rwc', 'Too few leaves.', 'Choose three or more.'); } });
    jobs.define({ name: 'breaks once', run: async () => {
      failures += 1;
      if (failures === 1) throw new TypeError('secret internals');
      return () => ({ outcome: 'whole' });
    } });
    jobs.define({ name: 'taken for dead', run: async (_payload, job) => {
      // Another process takes it over in the very moment in which it ends.
      await owner.query('UPDATE job SET attempt = attempt + 1 WHERE id = $1', [job.id]);
      return async (tx) => {
        log.push(`${job.id} concludes`);
        await tx.query(`UPDATE job SET sentence = 'concluded' WHERE lab_id = $1 AND id = $2`, [tx.labId, job.id]);
        return {};
      };
    } });
    jobs.define({ name: 'of the night', run: async (_payload, job) => () => ({ outcome: { by: job.actor } }), nightly: { hour: 2, minute: 30, label: 'Nightly work' } });
    runner = new JobRunner(database, jobs, (line) => complaints.push(line));
    await runner.start(server.database.appUrl);
  });

  afterAll(() => runner.close());

  const start = (name: string, payload: object = {}): Promise<JobRow> => write((tx) => jobs.start(tx, actor, name, `Test of ${name}`, payload));

  it('cancels a running job at once, and starts it again on demand', async () => {
    const { id } = await start('waits');
    // It is told to run before it does.
    const hasBegun = (times: number): Promise<unknown> => until('the work began', () => log.filter((line) => line.startsWith(id)).length >= times);
    await hasBegun(1);
    expect(await look(id)).toMatchObject({ state: 'RUNNING' });
    await write((tx) => jobs.cancel(tx, actor, id));
    await until('it runs no more', () => !jobs.running.has(id));
    expect(await look(id)).toMatchObject({ state: 'CANCELLED', outcome: null });
    await expect(write((tx) => jobs.cancel(tx, actor, id))).rejects.toThrow('cancelled already');
    await write((tx) => jobs.retry(tx, actor, id));
    await hasBegun(2);
    await write((tx) => jobs.cancel(tx, actor, id));
    await until('it runs no more', () => !jobs.running.has(id));
    expect(log.filter((line) => line.startsWith(id))).toHaveLength(2);
  });

  it('cancelled between being taken from the queue and beginning its work does not begin it', async () => {
    let taken: (() => void) | null = null;
    const running = jest.spyOn(jobs.running, 'set').mockImplementation(function (this: Map<string, AbortController>, id, controller) {
      running.mockRestore();
      taken?.();
      return jobs.running.set(id, controller);
    });
    const isTaken = new Promise<void>((resolve) => { taken = resolve; });
    const { id } = await start('waits', { forMs: 1 });
    await isTaken;
    jobs.running.get(id)!.abort();
    await until('it runs no more', () => !jobs.running.has(id));
    expect(log.filter((line) => line.startsWith(id))).toEqual([]);
    await write((tx) => jobs.cancel(tx, actor, id));
  });

  it("lets nobody but its starter and a manager cancel it", async () => {
    const { id } = await start('waits', { forMs: 1 });
    const stranger = { ...actor, accountId: newId(), roles: ['TECHNICIAN'] as const };
    await expect(write((tx) => jobs.cancel(tx, stranger, id))).rejects.toThrow('Somebody else started it.');
    expect((await sees(id, ({ state }) => state === 'DONE')).outcome).toEqual({ waited: 1 });
  });

  it('tells a refusal in its own words, and tries a bug again without showing it', async () => {
    const refused = await sees((await start('refused')).id, ({ state }) => state === 'FAILED');
    expect(refused).toMatchObject({ error: 'Too few leaves.', remedy: 'Choose three or more.', attempt: 1 });
    const { id } = await start('breaks once');
    const broken = await sees(id, ({ error }) => error !== null);
    expect(broken.error).not.toContain('secret');
    expect(complaints.join()).toContain('secret internals');
    expect(await sees(id, ({ state }) => state === 'DONE')).toMatchObject({ attempt: 2, outcome: 'whole', error: null });
  });

  it('that was taken for dead meanwhile concludes nothing', async () => {
    const { id } = await start('taken for dead');
    while (!(await look(id))?.attempt || jobs.running.has(id)) await pause(20);
    expect(await look(id)).toMatchObject({ state: 'RUNNING', attempt: 2, sentence: null });
    expect(log).not.toContain(`${id} concludes`);
  });

  it('starts the work of a night once in each lab, however often the night comes', async () => {
    for (let i = 0; i < 2; i += 1) await runner.startNight('of the night', '2026-06-03T02:30:00Z');
    await runner.startNight('of the night', '2026-06-04T02:30:00Z');
    const { rows } = await owner.query(`SELECT lab_id, count(*)::int AS n FROM job WHERE name = 'of the night' GROUP BY 1`);
    expect(rows.map(({ n }) => n)).toEqual([2, 2]);
  });
});

describe('a thread', () => {
  it('computes, refuses in words, and ends when called off', async () => {
    const threads = new Threads();
    const module = new URL('../support/thread-task.mjs', import.meta.url);
    expect(await threads.run<number>(module, { square: 12 })).toBe(144);
    await expect(threads.run(module, { refuse: true })).rejects.toMatchObject({ code: 'TOO_FEW', field: 'leaves' });
    const controller = new AbortController();
    const endless = threads.run(module, { endless: true }, { signal: controller.signal });
    setTimeout(() => controller.abort(new Error('called off')), 100);
    await expect(endless).rejects.toThrow('called off');
    expect(await threads.run<number>(module, { square: 5 })).toBe(25);
    await threads.close();
  });
});
