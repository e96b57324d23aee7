import type { Tx } from '../../platform/database/database.js';
import { rowsByIds, rowsWhere, type KeptEntity } from '../../platform/database/rows.js';
import type { KeptRow } from '../../platform/database/kept-row.js';
import type { ResultKind } from '../amendment/amendment.repository.js';
import { MeterReading } from '../bench/bench.entity.js';

export interface UsedRecord {
  readonly kind: string;
  readonly id: string;
  readonly role: string;
}

/** What a result rests on. */
export const usedBy = (tx: Tx, resultId: string): Promise<UsedRecord[]> =>
  tx.query('SELECT to_kind AS kind, to_id AS id, role FROM lineage_edge WHERE lab_id = $1 AND from_id = $2', [tx.labId, resultId]);

/** Facts with a moment of observation, in the order in which computations take them. */
export async function observedFacts<E extends KeptRow & { observedAt: Date }>(tx: Tx, entity: KeptEntity<E>, ids: readonly string[]): Promise<E[]> {
  const rows = await rowsByIds(tx, entity, ids);
  return rows.sort((a, b) => a.observedAt.getTime() - b.observedAt.getTime() || (a.id < b.id ? -1 : 1));
}

/** Meter readings of a run that stood at a moment: recorded by then, and not yet amended. */
export const readingsThen = (tx: Tx, dryingRunId: string, at: Date): Promise<MeterReading[]> =>
  rowsWhere(
    tx, MeterReading,
    `drying_run_id = $2 AND recorded_at <= $3 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = meter_reading.id AND a.recorded_at < $3)`,
    [dryingRunId, at], 'ORDER BY observed_at, id',
  );

/** Every result of these kinds, in the order of the chain and of their making. */
export async function resultsOf(tx: Tx, kinds: readonly ResultKind[]): Promise<{ kind: ResultKind; id: string }[]> {
  const each = kinds.map((kind, i) => `SELECT ${i} AS step, '${kind}' AS kind, id FROM "${kind}" WHERE lab_id = $1`);
  return tx.query(`SELECT kind, id FROM (${each.join(' UNION ALL ')}) AS result ORDER BY step, id`, [tx.labId]);
}

/** Ids of the results that differed in the newest run before. */
export async function differedBefore(tx: Tx): Promise<Set<string>> {
  const rows = await tx.query<{ id: string }>(
    `SELECT one->>'id' AS id FROM (SELECT differing FROM recompute_run WHERE lab_id = $1 ORDER BY ended_at DESC, id LIMIT 1) AS newest, jsonb_array_elements(differing) AS one`, [tx.labId],
  );
  return new Set(rows.map(({ id }) => id));
}

export interface RunRow {
  readonly id: string;
  readonly endedAt: Date;
  readonly startedBy: string | null;
  readonly codeVersion: string;
  readonly resultCount: number;
  readonly differCount: number;
  readonly differing: readonly object[];
}

export async function insertRun(tx: Tx, run: Omit<RunRow, 'endedAt'>): Promise<void> {
  await tx.query(
    'INSERT INTO recompute_run (lab_id, id, started_by, code_version, result_count, differ_count, differing) VALUES ($1, $2, $3, $4, $5, $6, $7::jsonb)',
    [tx.labId, run.id, run.startedBy, run.codeVersion, run.resultCount, run.differCount, JSON.stringify(run.differing)],
  );
}

export const newestRuns = (tx: Tx, first: number): Promise<RunRow[]> =>
  tx.query(
    `SELECT id, ended_at AS "endedAt", started_by AS "startedBy", code_version AS "codeVersion", result_count AS "resultCount", differ_count AS "differCount", differing
     FROM recompute_run WHERE lab_id = $1 ORDER BY ended_at DESC, id LIMIT $2`, [tx.labId, first],
  );
