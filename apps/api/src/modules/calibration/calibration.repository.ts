import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { DryingRun } from '../bench/bench.entity.js';
import type { RwcDocument } from '../water/rwc-document.js';
import { Calibration } from './calibration.entity.js';

export const calibrationsOf = (tx: Tx, cropId: string | null): Promise<Calibration[]> =>
  rowsWhere(tx, Calibration, '$2::uuid IS NULL OR crop_id = $2', [cropId], 'ORDER BY id DESC');

export interface CandidateFilter {
  readonly cultivar?: string | null;
  readonly growthStage?: string | null;
  readonly rigId?: string | null;
  readonly bandNm?: number | null;
  readonly openedFrom?: Date | null;
  readonly openedBefore?: Date | null;
}

const RELEASED = `EXISTS (SELECT FROM drying_run_step s WHERE s.lab_id = $1 AND s.drying_run_id = drying_run.id AND s.step = 'RELEASED')`;

/** Released runs with at least one disc of the crop, cultivar and stage, newest first. */
export const candidateRuns = (tx: Tx, cropId: string, filter: CandidateFilter): Promise<DryingRun[]> =>
  rowsWhere(
    tx, DryingRun,
    `${RELEASED}
     AND EXISTS (SELECT FROM disc JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
                 WHERE disc.lab_id = $1 AND disc.id = ANY(drying_run.disc_ids) AND plant.crop_id = $2
                   AND ($3::text IS NULL OR plant.cultivar = $3) AND ($4::text IS NULL OR leaf.growth_stage = $4))
     AND ($5::uuid IS NULL OR rig_id = $5)
     AND ($6::numeric IS NULL OR EXISTS (SELECT FROM rig WHERE rig.lab_id = $1 AND rig.id = drying_run.rig_id AND abs(rig.band_centre_nm - $6) <= rig.band_width_nm / 2))
     AND ($7::timestamptz IS NULL OR opened_at >= $7) AND ($8::timestamptz IS NULL OR opened_at < $8)`,
    [cropId, filter.cultivar ?? null, filter.growthStage ?? null, filter.rigId ?? null, filter.bandNm ?? null, filter.openedFrom ?? null, filter.openedBefore ?? null],
    'ORDER BY id DESC LIMIT 200',
  );

/** What the released runs of a crop have among them. */
export async function candidateChoices(tx: Tx, cropId: string): Promise<{ cultivars: string[]; growthStages: string[]; rigIds: string[] }> {
  const [row] = await tx.query<{ cultivars: string[]; growthStages: string[]; rigIds: string[] }>(
    `SELECT coalesce(array_agg(DISTINCT plant.cultivar ORDER BY plant.cultivar) FILTER (WHERE plant.cultivar IS NOT NULL), '{}') AS cultivars,
       coalesce(array_agg(DISTINCT leaf.growth_stage ORDER BY leaf.growth_stage) FILTER (WHERE leaf.growth_stage IS NOT NULL), '{}') AS "growthStages",
       coalesce(array_agg(DISTINCT drying_run.rig_id::text), '{}') AS "rigIds"
     FROM drying_run JOIN disc ON disc.lab_id = $1 AND disc.id = ANY(drying_run.disc_ids)
       JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
     WHERE drying_run.lab_id = $1 AND plant.crop_id = $2 AND ${RELEASED}`,
    [tx.labId, cropId],
  );
  return { ...row!, rigIds: row!.rigIds.filter(Boolean) };
}

/** Who took each reading, by its id. */
export async function operatorsOf(tx: Tx, readingIds: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.query<{ id: string; operator: string }>(
    `SELECT reading.id, account.display_name AS operator FROM meter_reading reading JOIN account ON account.id = reading.recorded_by
     WHERE reading.lab_id = $1 AND reading.id = ANY($2::uuid[])`, [tx.labId, readingIds],
  );
  return new Map(rows.map(({ id, operator }) => [id, operator]));
}

export interface SeriesForFit {
  readonly id: string;
  readonly dryingRunId: string;
  readonly discId: string;
  readonly discLabel: string;
  readonly leafId: string;
  readonly leafLabel: string;
  readonly plantId: string;
  readonly cropId: string;
  readonly stale: boolean;
  /** Without what no fit asks for, which is most of its length. */
  readonly document: Omit<RwcDocument, 'readingCovariance' | 'points'>;
}

/** The newest RWC series of each disc of these runs. */
export const newestSeriesOfRuns = (tx: Tx, dryingRunIds: readonly string[]): Promise<SeriesForFit[]> =>
  seriesForFit(tx, 'series.drying_run_id', dryingRunIds);

/** The series that a fit was made of, in the order in which it took them. */
export const seriesByIds = (tx: Tx, ids: readonly string[]): Promise<SeriesForFit[]> => seriesForFit(tx, 'series.id', ids);

const seriesForFit = (tx: Tx, column: string, values: readonly string[]): Promise<SeriesForFit[]> =>
  tx.query(
    `SELECT DISTINCT ON (series.disc_id) series.id, series.drying_run_id AS "dryingRunId", disc.id AS "discId", disc.label AS "discLabel",
       leaf.id AS "leafId", leaf.label AS "leafLabel", plant.id AS "plantId", plant.crop_id AS "cropId", series.document - 'readingCovariance' - 'points' AS document,
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
