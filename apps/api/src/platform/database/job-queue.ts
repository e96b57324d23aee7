import { EventEmitter } from 'node:events';
import { Logger, parseCronItems, run, runMigrations, type Runner, type WorkerEvents } from 'graphile-worker';
import pg from 'pg';

/** Of the queue's own tables, beside ours. */
export const QUEUE_SCHEMA = 'job_queue';

/** First half of the advisory locks by which a process says that it lives; any constant. */
const LIFE_LOCK = 4_180_009;
/** How often to look for jobs of processes that died. */
const SWEEP_MS = 4_000;
/** A process takes its lock a moment after its first job: younger jobs are left alone. */
const GRACE_S = 4;
const RECONNECT_MS = 1_000;
/** Asked to stop, jobs are broken off after this long and taken up again by whoever runs next. */
const STOP_AFTER_MS = 500;

const quiet = new Logger(() => (level, message, meta) => {
  // A job that failed is told by whoever runs jobs; here only the queue's own trouble.
  if (level === 'error' && !meta?.['failure']) console.error(`Job queue: ${message}`);
});

/**
 * Makes or updates the queue's schema, as the owner, and lets the serving role put jobs in and take them out. Its rows hold
 * ids only. The library fences its tables by row-level security without a policy, so that nobody but the owner sees a
 * row: the serving role gets a policy of its own.
 */
export async function installQueue(client: pg.Client, ownerUrl: string): Promise<void> {
  await runMigrations({ connectionString: ownerUrl, schema: QUEUE_SCHEMA, logger: quiet });
  await client.query(`
    GRANT USAGE ON SCHEMA ${QUEUE_SCHEMA} TO threadleaf_app;
    GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA ${QUEUE_SCHEMA} TO threadleaf_app;
    REVOKE INSERT, UPDATE, DELETE ON ${QUEUE_SCHEMA}.migrations FROM threadleaf_app;
    GRANT USAGE ON ALL SEQUENCES IN SCHEMA ${QUEUE_SCHEMA} TO threadleaf_app;
    DO $$
    DECLARE fenced regclass;
    BEGIN
      FOR fenced IN SELECT oid FROM pg_class WHERE relnamespace = '${QUEUE_SCHEMA}'::regnamespace AND relkind = 'r' AND relrowsecurity
        AND NOT EXISTS (SELECT FROM pg_policy WHERE polrelid = pg_class.oid AND polname = 'served')
      LOOP
        EXECUTE format('CREATE POLICY served ON %s TO threadleaf_app USING (true) WITH CHECK (true)', fenced);
      END LOOP;
    END $$;`);
}

/** A task of the queue: the ids it was given, and a signal that the process is to stop. */
export type QueueTask = (payload: Readonly<Record<string, unknown>>, stopping: AbortSignal) => Promise<void>;

export interface Nightly {
  readonly name: string;
  /** Of the day, UTC. */
  readonly hour: number;
  readonly minute: number;
}

export interface QueueOptions {
  readonly url: string;
  readonly tasks: Readonly<Record<string, QueueTask>>;
  /** Each puts the task `nightly` with its name into the queue, once a night for all processes together. */
  readonly nightly: readonly Nightly[];
  /** Jobs at once in this process. */
  readonly concurrency: number;
}

/**
 * Takes jobs out of the queue and runs them, until it is stopped. Any number of processes do so on one database. A job of a
 * process that was killed is taken up again within seconds: each process holds an advisory lock while it lives.
 */
export async function runQueue({ url, tasks, nightly, concurrency }: QueueOptions): Promise<{ stop(): Promise<void> }> {
  const pool = new pg.Pool({ connectionString: url, max: concurrency + 2, application_name: 'threadleaf jobs', options: '-c role=threadleaf_app' });
  // A connection that breaks makes the statement under way fail; the queue looks again.
  pool.on('error', () => undefined);
  pool.on('connect', (client) => client.on('error', () => undefined));
  const life = new Life(url);
  const events: WorkerEvents = new EventEmitter();
  events.on('pool:create', ({ workerPool }) => void life.begin(workerPool.id));
  let runner: Runner;
  try {
    runner = await run(
      {
        pgPool: pool, schema: QUEUE_SCHEMA, logger: quiet, events, concurrency, noHandleSignals: true, pollInterval: 2_000, gracefulShutdownAbortTimeout: STOP_AFTER_MS,
      },
      Object.fromEntries(Object.entries(tasks).map(([name, task]) => [
        name,
        (payload: unknown, { abortSignal }: { abortSignal?: AbortSignal }) => task(payload as Record<string, unknown>, abortSignal ?? new AbortController().signal),
      ])),
      parseCronItems(nightly.map(({ name, hour, minute }) => ({
        task: 'nightly', identifier: name, match: `${minute} ${hour} * * *`, payload: { name }, options: { backfillPeriod: 12 * 3_600_000 },
      }))),
    );
  } catch (error) {
    await Promise.all([life.end(), pool.end()]);
    throw error;
  }
  runner.promise.catch((error: Error) => console.error(`Job queue: ${error.message}`));
  return {
    stop: async () => {
      await runner.stop().catch(() => undefined);
      await life.end();
      await pool.end();
    },
  };
}

/** The lock that tells other processes that this one lives, and the look-out for those that do not. */
class Life {
  private client: pg.Client | null = null;
  private poolId: string | null = null;
  private sweeping: NodeJS.Timeout | null = null;
  private ended = false;

  constructor(private readonly url: string) {}

  async begin(poolId: string): Promise<void> {
    this.poolId = poolId;
    await this.hold().catch(() => this.again());
    this.sweeping = setInterval(() => { this.sweep().catch(() => undefined); }, SWEEP_MS);
    this.sweeping.unref();
    await this.sweep().catch(() => undefined);
  }

  async end(): Promise<void> {
    this.ended = true;
    if (this.sweeping) clearInterval(this.sweeping);
    await this.client?.end().catch(() => undefined);
  }

  private async hold(): Promise<void> {
    if (this.ended) return;
    const client = new pg.Client({ connectionString: this.url, application_name: 'threadleaf job life', options: '-c role=threadleaf_app' });
    client.on('error', () => this.again());
    await client.connect();
    await client.query('SELECT pg_advisory_lock($1, hashtext($2))', [LIFE_LOCK, this.poolId]);
    this.client = client;
    if (this.ended) await client.end();
  }

  private again(): void {
    this.client = null;
    if (!this.ended) setTimeout(() => { this.hold().catch(() => this.again()); }, RECONNECT_MS).unref();
  }

  /** Whoever's lock is free has died, however it died: its jobs may be taken again. */
  private async sweep(): Promise<void> {
    const { client } = this;
    if (!client) return;
    const { rows } = await client.query<{ holder: string }>(
      `SELECT DISTINCT locked_by AS holder FROM ${QUEUE_SCHEMA}._private_jobs
       WHERE locked_by IS NOT NULL AND locked_by <> $1 AND locked_at < now() - make_interval(secs => ${GRACE_S})`, [this.poolId],
    );
    for (const { holder } of rows) {
      const { rows: [lock] } = await client.query<{ free: boolean }>('SELECT pg_try_advisory_lock($1, hashtext($2)) AS free', [LIFE_LOCK, holder]);
      if (!lock?.free) continue;
      await client.query(`SELECT ${QUEUE_SCHEMA}.force_unlock_workers(ARRAY[$1])`, [holder]);
      await client.query('SELECT pg_advisory_unlock($1, hashtext($2))', [LIFE_LOCK, holder]);
    }
  }
}
