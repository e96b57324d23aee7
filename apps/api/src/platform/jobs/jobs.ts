import { createHash } from 'node:crypto';
import { v7 as uuidv7 } from 'uuid';
import type { Announcer } from '../database/announcer.js';
import type { Tx } from '../database/database.js';
import { notFound, ProblemError } from '../errors/problem.js';
import type { Actor } from '../identity/actor.js';
import { cancelJob, dequeue, enqueue, insertJob, jobById, restartJob, type JobRow } from './job.repository.js';

/** What a job made, written in the transaction that ends it: both stand or neither. */
export interface JobResult {
  /** The record it made. */
  readonly result?: { readonly kind: string; readonly id: string } | null;
  /** What it found, where that is no record: plain JSON. */
  readonly outcome?: unknown;
}

/** A job while it runs. */
export interface RunningJob {
  /** Use it as the id of the record that the job makes: a job run twice then makes it once. */
  readonly id: string;
  readonly labId: string;
  /** Who started it, with the roles of today; null for nightly work. */
  readonly actor: Actor | null;
  /** Fires when the job is cancelled or the process is to stop: end soon, by throwing anything. */
  readonly signal: AbortSignal;
  /** How far it is, 0 to 1, and what it does now, as a sentence without its full stop. Cheap: told twice a second at most. */
  progress(fraction: number, sentence?: string): void;
  /** A snapshot for as long as the work takes: read first, compute afterwards. */
  read<T>(work: (tx: Tx) => Promise<T>): Promise<T>;
  /**
   * A write that stays whatever becomes of the job, for work whose parts stand by themselves: it may be asked for twice after
   * a crash, so its records take ids that follow from the job's. Refused once the job is not wanted any more.
   */
  write<T>(work: (tx: Tx) => Promise<T>): Promise<T>;
}

/**
 * Does the work, and returns what is to be written at its end: run in one transaction together with the job's own end, and
 * only if the job is still wanted. Everything before may happen twice, after a crash; that happens once. What is better
 * written part by part goes through `write`.
 */
export type JobHandler<P> = (payload: P, job: RunningJob) => Promise<(tx: Tx) => Promise<JobResult> | JobResult>;

export interface JobKind<P> {
  /** Names the kind for ever: jobs that wait know only this. */
  readonly name: string;
  readonly run: JobHandler<P>;
  /** Started in every lab once a night, with an empty payload: hour and minute are UTC. */
  readonly nightly?: { readonly hour: number; readonly minute: number; readonly label: string };
}

/** Long work: kinds of it are defined at the start, jobs are started in a use case's transaction. */
export class Jobs {
  readonly kinds = new Map<string, JobKind<unknown>>();
  /** Jobs that run in this process. */
  readonly running = new Map<string, AbortController>();

  constructor(private readonly announcer: Announcer) {}

  define<P>(kind: JobKind<P>): void {
    if (this.kinds.has(kind.name)) throw new Error(`Two kinds of job are called ${kind.name}`);
    this.kinds.set(kind.name, kind as JobKind<unknown>);
  }

  /**
   * Queues a job; it begins once the transaction has committed.
   *
   * @param label what a person calls it, for example "Compare curves of Basil 2026"
   * @param id    made by the client where it must be able to send twice; the same id is the same job
   */
  async start(tx: Tx, actor: Actor | null, name: string, label: string, payload: unknown, id: string = uuidv7()): Promise<JobRow> {
    if (!this.kinds.has(name)) throw new Error(`No kind of job is called ${name}`);
    if (await insertJob(tx, { id, name, label, startedBy: actor?.accountId ?? null, payload })) {
      await enqueue(tx, id);
      this.tell(tx, id);
    }
    const job = await jobById(tx, id);
    if (!job || job.name !== name || job.startedBy !== (actor?.accountId ?? null)) {
      throw new ProblemError('REPLAY_MISMATCH', 'id', 'The id was used before for another job.', 'Nothing was started. Send it with an id of its own.');
    }
    return job;
  }

  /** @throws ProblemError when it has ended already, or somebody else's is cancelled by one who may not */
  async cancel(tx: Tx, actor: Actor, id: string): Promise<JobRow> {
    const job = await this.own(tx, actor, id);
    if (!(await cancelJob(tx, id))) throw new ProblemError('STATE', 'id', `It is ${stateWord(job)} already.`, 'Nothing is left to cancel.');
    await dequeue(tx, id);
    tx.afterCommit(() => this.running.get(id)?.abort());
    this.tell(tx, id);
    return (await jobById(tx, id))!;
  }

  /** Starts a failed or cancelled job again, under its id. */
  async retry(tx: Tx, actor: Actor, id: string): Promise<JobRow> {
    const job = await this.own(tx, actor, id);
    if (!(await restartJob(tx, id))) throw new ProblemError('STATE', 'id', `It is ${stateWord(job)}.`, 'Only a failed or cancelled job can be started again.');
    await enqueue(tx, id);
    this.tell(tx, id);
    return (await jobById(tx, id))!;
  }

  /** Tells the lab's people that a job looks different now. */
  tell(tx: Tx, id: string): void {
    tx.afterCommit(() => this.announcer.announce({ labId: tx.labId, kind: 'job', id, dryingRunId: null }));
  }

  private async own(tx: Tx, actor: Actor, id: string): Promise<JobRow> {
    const job = await jobById(tx, id);
    if (!job) throw notFound('id', 'The job');
    const may = job.startedBy === actor.accountId || actor.roles.some((role) => role === 'MANAGER' || role === 'ADMINISTRATOR');
    if (!may) throw new ProblemError('STATE', 'id', 'Somebody else started it.', 'Ask that person, or a manager of the lab.');
    return job;
  }
}

const stateWord = ({ state }: JobRow): string => state.toLowerCase();

/** The id of a night's job: two processes, or one after a crash, start the same. A UUID of version 8 (RFC 9562). */
export function nightlyId(name: string, labId: string, due: string): string {
  const hex = createHash('sha256').update(`${name}\n${labId}\n${due}`).digest('hex');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-8${hex.slice(13, 16)}-9${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}
