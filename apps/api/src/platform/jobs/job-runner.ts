import { v7 as uuidv7 } from 'uuid';
import { runQueue, type QueueTask } from '../database/job-queue.js';
import type { Database, Fence, Tx } from '../database/database.js';
import { asProblem, ProblemError } from '../errors/problem.js';
import { accountById, membershipsOf } from '../identity/account.repository.js';
import type { Actor } from '../identity/actor.js';
import { beginJob, endJob, forgetJobs, holdRun, labIds, requeueJob, tellProgress, type JobRow } from './job.repository.js';
import { nightlyId, type JobKind, type JobResult, type Jobs, type RunningJob } from './jobs.js';

/** In one process: so many that a long one does not keep a short one waiting, so few that people's requests go first. */
const AT_ONCE = 2;
/** A job that fails by a bug or ends with its process so often is not begun again by itself. */
const ATTEMPTS = 4;
const TELL_MS = 500;
const REMEMBERED_DAYS = 90;

class NotWanted extends Error {}

/** Runs the lab's jobs in this process: everything that is queued, and the nightly work. */
export class JobRunner {
  private queue: { stop(): Promise<void> } | null = null;

  constructor(private readonly database: Database, private readonly jobs: Jobs, private readonly complain: (line: string) => void = console.error) {}

  /** @param nights false: takes jobs from the queue, and starts no nightly work itself */
  async start(databaseUrl: string, nights = true): Promise<void> {
    const nightly = !nights ? [] : [...this.jobs.kinds.values()].flatMap((kind) => (kind.nightly ? [{ name: kind.name, ...kind.nightly }] : []));
    const job: QueueTask = ({ labId, jobId }, stopping) => this.run(String(labId), String(jobId), stopping);
    this.queue = await runQueue({
      url: databaseUrl, concurrency: AT_ONCE, nightly,
      tasks: { job, nightly: ({ name, _cron }) => this.startNight(String(name), String((_cron as { ts: string }).ts)) },
    });
  }

  async close(): Promise<void> {
    await this.queue?.stop();
  }

  /** Starts a nightly kind in every lab; the same night twice starts it once. */
  async startNight(name: string, due: string): Promise<void> {
    const kind = this.jobs.kinds.get(name);
    if (!kind?.nightly) return;
    for (const labId of await this.database.write({ labId: null, accountId: null }, labIds)) {
      await this.database.write({ labId, accountId: null }, async (tx) => {
        await forgetJobs(tx, REMEMBERED_DAYS);
        await this.jobs.start(tx, null, name, kind.nightly!.label, {}, nightlyId(name, labId, due));
      });
    }
  }

  private async run(labId: string, id: string, stopping: AbortSignal): Promise<void> {
    const fence = { labId, accountId: null };
    const row = await this.database.write(fence, async (tx) => {
      const begun = await beginJob(tx, id);
      if (begun) this.jobs.tell(tx, id);
      return begun;
    });
    if (!row) return;
    const kind = this.jobs.kinds.get(row.name);
    if (!kind) return this.fail(fence, row, 'This server does not know that kind of job.', 'Update all servers to the same version, then start it again.');
    if (row.attempt > ATTEMPTS) return this.fail(fence, row, `It was begun ${ATTEMPTS} times and did not end.`, 'Look into the server log; start it again when the cause is gone.');
    const controller = new AbortController();
    const stop = (): void => controller.abort();
    stopping.addEventListener('abort', stop);
    this.jobs.running.set(id, controller);
    try {
      await this.work(kind, row, { labId, accountId: row.startedBy }, controller);
    } catch (error) {
      await this.broken(fence, row, error, stopping.aborted);
    } finally {
      stopping.removeEventListener('abort', stop);
      if (this.jobs.running.get(id) === controller) this.jobs.running.delete(id);
    }
  }

  private async work(kind: JobKind<unknown>, row: JobRow, fence: Fence, controller: AbortController): Promise<void> {
    const told = { progress: 0, sentence: null as string | null };
    const beat = this.heartbeat(row, fence, told, controller);
    try {
      const actor = await this.actorOf(fence);
      if (row.startedBy && !actor) throw new ProblemError('STATE', null, 'Whoever started it is no member of this lab any more.', 'A member can start it anew.');
      const job: RunningJob = {
        id: row.id, labId: fence.labId!, actor, signal: controller.signal,
        progress: (fraction, sentence) => {
          told.progress = Math.min(Math.max(fraction, 0), 1);
          if (sentence !== undefined) told.sentence = sentence;
        },
        read: (work) => this.reading(fence, work),
        write: (work) => this.writing(row, fence, work),
      };
      // Whoever waits for the signal hears nothing of one that has fired already.
      if (controller.signal.aborted) throw new NotWanted();
      const conclude = await kind.run(row.payload, job);
      if (controller.signal.aborted) throw new NotWanted();
      await beat.stop();
      await this.conclude(row, fence, conclude);
    } finally {
      await beat.stop();
    }
  }

  /** The end of the job and what it made, in one transaction: whoever was taken for dead finds another attempt and writes nothing. */
  private conclude(row: JobRow, fence: Fence, write: (tx: Tx) => Promise<JobResult> | JobResult): Promise<void> {
    return this.database.write(fence, async (tx) => {
      if (!(await holdRun(tx, row.id, row.attempt))) throw new NotWanted();
      const { result, outcome } = await write(tx);
      await endJob(tx, row.id, { state: 'DONE', resultKind: result?.kind, resultId: result?.id, outcome });
      this.jobs.tell(tx, row.id);
    });
  }

  /** One part of what the job makes: whoever was called off, or taken for dead, writes no more of it. */
  private writing<T>(row: JobRow, fence: Fence, work: (tx: Tx) => Promise<T>): Promise<T> {
    return this.database.write(fence, async (tx) => {
      if (!(await holdRun(tx, row.id, row.attempt))) throw new NotWanted();
      return work(tx);
    });
  }

  private heartbeat(row: JobRow, fence: Fence, told: { progress: number; sentence: string | null }, controller: AbortController): { stop(): Promise<void> } {
    let last = '';
    let beating: Promise<void> = Promise.resolve();
    const timer = setInterval(() => {
      beating = beating.then(() => this.database.write(fence, async (tx) => {
        const wanted = await tellProgress(tx, row.id, row.attempt, told.progress, told.sentence);
        if (!wanted) controller.abort();
        const now = JSON.stringify(told);
        if (wanted && now !== last) this.jobs.tell(tx, row.id);
        last = now;
      })).catch(() => undefined);
    }, TELL_MS);
    timer.unref();
    return {
      stop: () => {
        clearInterval(timer);
        return beating;
      },
    };
  }

  private async broken(fence: Fence, row: JobRow, error: unknown, stopping: boolean): Promise<void> {
    if (stopping) {
      // Somebody ended the process: the job goes on where it runs next. Throwing gives it back to the queue.
      await this.database.write(fence, async (tx) => {
        if (await requeueJob(tx, row.id, row.attempt, null)) this.jobs.tell(tx, row.id);
      }).catch(() => undefined);
      throw new NotWanted('The process stops.');
    }
    const running = await this.database.write(fence, (tx) => holdRun(tx, row.id, row.attempt));
    if (error instanceof NotWanted || !running) return;
    const expected = asProblem(error);
    if (expected) return this.fail(fence, row, expected.problem.message, expected.problem.remedy);
    const number = uuidv7();
    this.complain(`Job ${row.name} ${row.id}, attempt ${row.attempt}, error ${number}: ${error instanceof Error ? error.stack : String(error)}`);
    const told = `Something went wrong on the server. Tell the administrator the number ${number}.`;
    if (row.attempt >= ATTEMPTS) return this.fail(fence, row, told, 'Start it again when the cause is gone.');
    await this.database.write(fence, async (tx) => {
      if (await requeueJob(tx, row.id, row.attempt, told)) this.jobs.tell(tx, row.id);
    });
    throw error;
  }

  private fail(fence: Fence, row: JobRow, error: string, remedy: string): Promise<void> {
    return this.database.write(fence, async (tx) => {
      if (!(await holdRun(tx, row.id, row.attempt))) return;
      await endJob(tx, row.id, { state: 'FAILED', error, remedy });
      this.jobs.tell(tx, row.id);
    });
  }

  private async reading<T>(fence: Fence, work: (tx: Tx) => Promise<T>): Promise<T> {
    const session = await this.database.openRead(fence);
    try {
      return await work(session.tx);
    } finally {
      await session.close();
    }
  }

  /** Somebody who has left the lab since does nothing in it any more. */
  private actorOf({ labId, accountId }: Fence): Promise<Actor | null> {
    if (!accountId || !labId) return Promise.resolve(null);
    return this.database.write({ labId, accountId }, async (tx) => {
      const account = await accountById(tx, accountId);
      const membership = (await membershipsOf(tx, accountId)).find((one) => one.labId === labId);
      return account && membership ? { accountId, displayName: account.displayName, labId, roles: membership.roles, token: null } : null;
    });
  }
}
