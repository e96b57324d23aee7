import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { DryingRun } from '../bench/bench.entity.js';
import type { RwcDocument } from '../water/rwc-document.js';
import { Calibration } from './calibration.entity.js';

export const calibrationsOf = (tx: Tx, cropId: string | null): Promise<Calibration[]> =>
  rowsWhere(tx, Calibration, '$2::uuid IS NULL OR crop_id = $2', [cropId], 'ORDER BY id DESC');

/** Released runs with at least one disc of the crop, newest first. */
export const candidateRuns = (tx: Tx, cropId: string): Promise<DryingRun[]> =>
  rowsWhere(
    tx, DryingRun,
    `EXISTS (SELECT FROM drying_run_step s WHERE s.lab_id = $1 AND s.drying_run_id = drying_run.id AND s.step = 'RELEASED')
     AND EXISTS (SELECT FROM disc JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
                 WHERE disc.lab_id = $1 AND disc.id = ANY(drying_run.disc_ids) AND plant.crop_id = $2)`,
    [cropId], 'ORDER BY id DESC LIMIT 200',
  );

export interface SeriesForFit {
  readonly id: string;
  readonly dryingRunId: string;
  readonly discLabel: string;
  readonly leafId: string;
  readonly leafLabel: string;
  readonly cropId: string;
  readonly stale: boolean;
  readonly document: RwcDocument;
}

/** The newest RWC series of each disc of these runs. */
export const newestSeriesOfRuns = (tx: Tx, dryingRunIds: readonly string[]): Promise<SeriesForFit[]> =>
  seriesForFit(tx, 'series.drying_run_id', dryingRunIds);

/** The series that a fit was made of, in the order in which it took them. */
export const seriesByIds = (tx: Tx, ids: readonly string[]): Promise<SeriesForFit[]> => seriesForFit(tx, 'series.id', ids);

const seriesForFit = (tx: Tx, column: string, values: readonly string[]): Promise<SeriesForFit[]> =>
  tx.query(
    `SELECT DISTINCT ON (series.disc_id) series.id, series.drying_run_id AS "dryingRunId", disc.label AS "discLabel",
       leaf.id AS "leafId", leaf.label AS "leafLabel", plant.crop_id AS "cropId", series.document,
       EXISTS (SELECT FROM stale_mark s WHERE s.lab_id = $1 AND s.result_id = series.id) AS stale
     FROM rwc_series series
       JOIN disc ON disc.lab_id = $1 AND disc.id = series.disc_id
       JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id
       JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
     WHERE series.lab_id = $1 AND ${column} = ANY($2::uuid[])
     ORDER BY series.disc_id, series.id DESC`,
    [tx.labId, values],
  );

export async function nextVersion(tx: Tx, calibrationId: string): Promise<number> {
  const [row] = await tx.query<{ next: number }>(
    'SELECT coalesce(max(version), 0) + 1 AS next FROM calibration_version WHERE lab_id = $1 AND calibration_id = $2', [tx.labId, calibrationId],
  );
  return row!.next;
}
