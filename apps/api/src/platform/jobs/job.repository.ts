import { QUEUE_SCHEMA } from '../database/job-queue.js';
import type { Tx } from '../database/database.js';
import { PAGE_CAP, type Page, type PageArgs } from '../database/rows.js';

export type JobState = 'QUEUED' | 'RUNNING' | 'DONE' | 'FAILED' | 'CANCELLED';

/** A job as people see it; see migration 0007. */
export interface JobRow {
  readonly id: string;
  readonly name: string;
  readonly label: string;
  readonly startedBy: string | null;
  readonly payload: unknown;
  readonly state: JobState;
  readonly attempt: number;
  readonly progress: number;
  readonly sentence: string | null;
  readonly resultKind: string | null;
  readonly resultId: string | null;
  readonly outcome: unknown;
  readonly error: string | null;
  readonly remedy: string | null;
  readonly queuedAt: Date;
  readonly beganAt: Date | null;
  readonly endedAt: Date | null;
}

const COLUMNS = `id, name, label, started_by AS "startedBy", payload, state, attempt, progress, sentence, result_kind AS "resultKind",
  result_id AS "resultId", outcome, error, remedy, queued_at AS "queuedAt", began_at AS "beganAt", ended_at AS "endedAt"`;

export async function jobById(tx: Tx, id: string): Promise<JobRow | null> {
  return (await tx.query<JobRow>(`SELECT ${COLUMNS} FROM job WHERE lab_id = $1 AND id = $2`, [tx.labId, id]))[0] ?? null;
}

/** Newest first: ids of jobs that people start are UUIDv7. */
export async function jobsPage(tx: Tx, { first, after }: PageArgs, states: readonly JobState[]): Promise<Page<JobRow>> {
  const size = Math.min(Math.max(first ?? 50, 1), PAGE_CAP);
  const rows = await tx.query<JobRow>(
    `SELECT ${COLUMNS} FROM job WHERE lab_id = $1 AND (cardinality($2::text[]) = 0 OR state = ANY($2)) AND ($3::uuid IS NULL OR id < $3::uuid)
     ORDER BY id DESC LIMIT ${size + 1}`,
    [tx.labId, states, after ?? null],
  );
  const nodes = rows.slice(0, size);
  return { nodes, pageInfo: { hasNextPage: rows.length > size, endCursor: nodes.at(-1)?.id ?? null } };
}

export type NewJob = Pick<JobRow, 'id' | 'name' | 'label' | 'startedBy' | 'payload'>;

/** False when a job of this id stands already. */
export async function insertJob(tx: Tx, job: NewJob): Promise<boolean> {
  const rows = await tx.query(
    `INSERT INTO job (lab_id, id, name, label, started_by, payload) VALUES ($1, $2, $3, $4, $5, $6::jsonb) ON CONFLICT DO NOTHING RETURNING id`,
    [tx.labId, job.id, job.name, job.label, job.startedBy, JSON.stringify(job.payload)],
  );
  return rows.length === 1;
}

/** Puts a job's ids into the queue; the same job twice stands there once. */
export async function enqueue(tx: Tx, id: string): Promise<void> {
  await tx.query(`SELECT ${QUEUE_SCHEMA}.add_job('job', $1::json, job_key => $2::text)`, [JSON.stringify({ labId: tx.labId, jobId: id }), id]);
}

export async function dequeue(tx: Tx, id: string): Promise<void> {
  await tx.query(`SELECT ${QUEUE_SCHEMA}.remove_job($1::text)`, [id]);
}

/** Takes a waiting job, or one whose process died; null when there is nothing to do any more. */
export async function beginJob(tx: Tx, id: string): Promise<JobRow | null> {
  const rows = await tx.query<JobRow>(
    `UPDATE job SET state = 'RUNNING', attempt = attempt + 1, began_at = now(), ended_at = NULL, error = NULL, remedy = NULL
     WHERE lab_id = $1 AND id = $2 AND state IN ('QUEUED','RUNNING') RETURNING ${COLUMNS}`,
    [tx.labId, id],
  );
  return changed(rows)[0] ?? null;
}

/** Tells how far a run is. False when the run is not wanted any more: cancelled, or taken for dead and begun anew. */
export async function tellProgress(tx: Tx, id: string, attempt: number, progress: number, sentence: string | null): Promise<boolean> {
  const rows = await tx.query(
    `UPDATE job SET progress = $4, sentence = $5 WHERE lab_id = $1 AND id = $2 AND attempt = $3 AND state = 'RUNNING' RETURNING id`,
    [tx.labId, id, attempt, progress, sentence],
  );
  return changed(rows).length === 1;
}

/** Holds the row of a run until the transaction ends. False when the run is not wanted any more. */
export async function holdRun(tx: Tx, id: string, attempt: number): Promise<boolean> {
  return (await tx.query(`SELECT id FROM job WHERE lab_id = $1 AND id = $2 AND attempt = $3 AND state = 'RUNNING' FOR UPDATE`, [tx.labId, id, attempt])).length === 1;
}

export interface JobEnd {
  readonly state: 'DONE' | 'FAILED';
  readonly resultKind?: string | null;
  readonly resultId?: string | null;
  readonly outcome?: unknown;
  readonly error?: string | null;
  readonly remedy?: string | null;
}

export async function endJob(tx: Tx, id: string, end: JobEnd): Promise<void> {
  await tx.query(
    `UPDATE job SET state = $3, progress = CASE WHEN $3 = 'DONE' THEN 1 ELSE progress END, result_kind = $4, result_id = $5, outcome = $6::jsonb,
       error = $7, remedy = $8, ended_at = now() WHERE lab_id = $1 AND id = $2`,
    [tx.labId, id, end.state, end.resultKind ?? null, end.resultId ?? null, end.outcome === undefined ? null : JSON.stringify(end.outcome), end.error ?? null, end.remedy ?? null],
  );
}

/** Back among those that wait. */
export async function requeueJob(tx: Tx, id: string, attempt: number, error: string | null): Promise<boolean> {
  const rows = await tx.query(
    `UPDATE job SET state = 'QUEUED', error = $4 WHERE lab_id = $1 AND id = $2 AND attempt = $3 AND state = 'RUNNING' RETURNING id`, [tx.labId, id, attempt, error],
  );
  return changed(rows).length === 1;
}

export async function cancelJob(tx: Tx, id: string): Promise<boolean> {
  const rows = await tx.query(
    `UPDATE job SET state = 'CANCELLED', ended_at = now() WHERE lab_id = $1 AND id = $2 AND state IN ('QUEUED','RUNNING') RETURNING id`, [tx.labId, id],
  );
  return changed(rows).length === 1;
}

export async function restartJob(tx: Tx, id: string): Promise<boolean> {
  const rows = await tx.query(
    `UPDATE job SET state = 'QUEUED', attempt = 0, progress = 0, sentence = NULL, error = NULL, remedy = NULL, queued_at = now(), began_at = NULL, ended_at = NULL
     WHERE lab_id = $1 AND id = $2 AND state IN ('FAILED','CANCELLED') RETURNING id`, [tx.labId, id],
  );
  return changed(rows).length === 1;
}

/** Jobs are no record: what ended long ago is forgotten. */
export async function forgetJobs(tx: Tx, olderThanDays: number): Promise<void> {
  await tx.query(`DELETE FROM job WHERE lab_id = $1 AND ended_at < now() - make_interval(days => $2)`, [tx.labId, olderThanDays]);
}

export async function labIds(tx: Tx): Promise<string[]> {
  return (await tx.query<{ id: string }>('SELECT id FROM lab ORDER BY id')).map(({ id }) => id);
}

/** TypeORM answers an UPDATE with rows and their number. */
const changed = <Row>(answer: Row[]): Row[] => (Array.isArray(answer[0]) ? (answer[0] as Row[]) : answer);
