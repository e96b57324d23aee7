import type { CheckStatus, InstrumentKind } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { Instrument, InstrumentCalibration, InstrumentCheck, Rig } from './instrument.entity.js';

export const instrumentsByKind = (tx: Tx, kind: InstrumentKind | null): Promise<Instrument[]> =>
  rowsWhere(tx, Instrument, '$2::text IS NULL OR kind = $2', [kind], 'ORDER BY kind, label');

export const rigsByLabel = (tx: Tx): Promise<Rig[]> => rowsWhere(tx, Rig, 'true', [], 'ORDER BY label, version DESC');

export const newestChecks = (tx: Tx, instrumentId: string, most: number): Promise<InstrumentCheck[]> =>
  rowsWhere(tx, InstrumentCheck, 'instrument_id = $2', [instrumentId], `ORDER BY observed_at DESC LIMIT ${Math.min(Math.max(most, 1), 200)}`);

export const calibrationsOf = (tx: Tx, instrumentId: string): Promise<InstrumentCalibration[]> =>
  rowsWhere(tx, InstrumentCalibration, 'instrument_id = $2', [instrumentId], 'ORDER BY calibrated_at DESC LIMIT 100');

/** An instrument at a moment. */
export interface InstrumentAt {
  readonly instrumentId: string;
  readonly at: Date;
}

export interface StandingAt {
  readonly status: CheckStatus;
  readonly dueAt: Date | null;
}

/**
 * Check status of instruments at moments, by the last check made until then: FAILED when it failed, OVERDUE when it
 * passed longer ago than the instrument's checks are good for, or when its calibration, where one is recorded, has run out.
 * Amended checks and calibrations do not count. One statement for all.
 */
export async function standingsAt(tx: Tx, asked: readonly InstrumentAt[]): Promise<StandingAt[]> {
  const rows = await tx.query<{ n: string; status: CheckStatus; dueAt: Date | null }>(
    `SELECT asked.n,
       CASE WHEN last.id IS NULL THEN 'UNCHECKED'
            WHEN abs(last.shown - last.nominal) > last.tolerance THEN 'FAILED'
            WHEN last.observed_at + make_interval(hours => instrument.check_every_hours) < asked.at OR calibration.due_at < asked.at THEN 'OVERDUE'
            ELSE 'IN_CHECK' END AS status,
       least(last.observed_at + make_interval(hours => instrument.check_every_hours), calibration.due_at) AS "dueAt"
     FROM unnest($2::uuid[], $3::timestamptz[]) WITH ORDINALITY AS asked(instrument_id, at, n)
     LEFT JOIN instrument ON instrument.lab_id = $1 AND instrument.id = asked.instrument_id
     LEFT JOIN LATERAL (
       SELECT * FROM instrument_check c
       WHERE c.lab_id = $1 AND c.instrument_id = asked.instrument_id AND c.observed_at <= asked.at
         AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = c.id)
       ORDER BY c.observed_at DESC LIMIT 1) last ON true
     LEFT JOIN LATERAL (
       SELECT c.due_at FROM instrument_calibration c
       WHERE c.lab_id = $1 AND c.instrument_id = asked.instrument_id AND c.calibrated_at <= asked.at
         AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = c.id)
       ORDER BY c.calibrated_at DESC LIMIT 1) calibration ON true
     ORDER BY asked.n`,
    [tx.labId, asked.map(({ instrumentId }) => instrumentId), asked.map(({ at }) => at)],
  );
  return rows.map(({ status, dueAt }) => ({ status, dueAt }));
}

/**
 * Every instrument of lab $1 with the spans in which it was in check: the rule of `standingsAt`, for whole tables at once.
 * A check that passed is good until the next one, or until its time is over (the moment itself included).
 */
export const IN_CHECK = `SELECT instrument_id, range_agg(span) - coalesce((
      SELECT range_agg(tstzrange(due_at, next_at, '()')::tstzrange) FROM (
        SELECT c.due_at, lead(c.calibrated_at) OVER (ORDER BY c.calibrated_at) AS next_at FROM instrument_calibration c
        WHERE c.lab_id = $1 AND c.instrument_id = passed_checks.instrument_id AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = c.id)) run_out
      WHERE next_at IS NULL OR next_at > due_at), '{}') AS spans FROM (
    SELECT instrument_id, CASE WHEN next_at <= due_at THEN tstzrange(observed_at, next_at, '[)') ELSE tstzrange(observed_at, due_at, '[]') END AS span
    FROM (
      SELECT c.instrument_id, c.observed_at, c.observed_at + make_interval(hours => i.check_every_hours) AS due_at,
        abs(c.shown - c.nominal) <= c.tolerance AS passed,
        lead(c.observed_at) OVER (PARTITION BY c.instrument_id ORDER BY c.observed_at) AS next_at
      FROM instrument_check c JOIN instrument i ON i.lab_id = $1 AND i.id = c.instrument_id
      WHERE c.lab_id = $1 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = c.id)) checks
    WHERE passed) passed_checks GROUP BY instrument_id`;

/** Moment of the last standing check of an instrument until a moment. */
export async function lastCheckAt(tx: Tx, instrumentId: string, until: Date): Promise<Date | null> {
  const [row] = await tx.query<{ at: Date | null }>(
    `SELECT max(c.observed_at) AS at FROM instrument_check c
     WHERE c.lab_id = $1 AND c.instrument_id = $2 AND c.observed_at <= $3
       AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = c.id)`,
    [tx.labId, instrumentId, until],
  );
  return row!.at;
}
