import type { DiscState, DryingRunState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { pageOf, rowsWhere, type Page, type PageArgs } from '../../platform/database/rows.js';
import { DryingRun, MeterReading, Weighing } from './bench.entity.js';

const STATE = `CASE
  WHEN EXISTS (SELECT FROM drying_run_step s WHERE s.lab_id = $1 AND s.drying_run_id = drying_run.id AND s.step = 'RELEASED') THEN 'RELEASED'
  WHEN EXISTS (SELECT FROM drying_run_step s WHERE s.lab_id = $1 AND s.drying_run_id = drying_run.id AND s.step = 'CLOSED') THEN 'CLOSED'
  ELSE 'OPEN' END`;

export const dryingRunsPage = (tx: Tx, page: PageArgs, state: DryingRunState | null): Promise<Page<DryingRun>> =>
  pageOf(tx, DryingRun, page, `$2::text IS NULL OR ${STATE} = $2`, [state]);

export async function statesOfRuns(tx: Tx, ids: readonly string[]): Promise<Map<string, DryingRunState>> {
  const rows = await tx.query<{ id: string; state: DryingRunState }>(
    `SELECT id, ${STATE} AS state FROM drying_run WHERE lab_id = $1 AND id = ANY($2::uuid[])`, [tx.labId, ids],
  );
  return new Map(rows.map(({ id, state }) => [id, state]));
}

/** What is known around a weighing that is about to be recorded. */
export interface WeighingSurroundings {
  /** Standing weighings of the disc until now, in order of time. */
  readonly earlier: readonly { readonly id: string; readonly state: DiscState; readonly massMg: number; readonly atMs: number; readonly rawLine: string }[];
  readonly cutAtMs: number | null;
  readonly discLabel: string | null;
  readonly cropId: string | null;
  readonly run: { readonly label: string; readonly state: DryingRunState; readonly hasDisc: boolean } | null;
  readonly balance: { readonly label: string; readonly kind: string; readonly unit: string; readonly resolution: string | null; readonly repeatability: string | null } | null;
}

/** One statement, because it stands in the way of every weighing. */
export async function surroundings(tx: Tx, asked: { discId: string; dryingRunId: string | null; balanceId: string | null }): Promise<WeighingSurroundings> {
  const [row] = await tx.prepared<WeighingSurroundings>(
    `SELECT
       (SELECT coalesce(json_agg(json_build_object('id', w.id, 'state', w.state, 'massMg', w.mass_mg::float8,
                 'atMs', extract(epoch FROM w.observed_at) * 1000, 'rawLine', w.raw_line) ORDER BY w.observed_at, w.id), '[]')
        FROM weighing w WHERE w.lab_id = $1 AND w.disc_id = $2
          AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = w.id)) AS earlier,
       (SELECT extract(epoch FROM leaf.cut_at)::float8 * 1000 FROM disc JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id
        WHERE disc.lab_id = $1 AND disc.id = $2) AS "cutAtMs",
       (SELECT disc.label FROM disc WHERE disc.lab_id = $1 AND disc.id = $2) AS "discLabel",
       (SELECT plant.crop_id FROM disc JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id
          JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
        WHERE disc.lab_id = $1 AND disc.id = $2) AS "cropId",
       (SELECT json_build_object('label', label, 'state', ${STATE}, 'hasDisc', $2 = ANY(disc_ids))
        FROM drying_run WHERE lab_id = $1 AND id = $3) AS run,
       (SELECT json_build_object('label', label, 'kind', kind, 'unit', unit, 'resolution', resolution::text, 'repeatability', repeatability::text)
        FROM instrument WHERE lab_id = $1 AND id = $4) AS balance`,
    [tx.labId, asked.discId, asked.dryingRunId, asked.balanceId],
  );
  return row!;
}

/** T/D of other discs of a crop, from their last standing turgid and dry weighings; at most the 200 newest. */
export async function turgidDryRatios(tx: Tx, cropId: string, exceptDiscId: string): Promise<number[]> {
  const rows = await tx.query<{ ratio: number }>(
    `SELECT (series.document->>'turgidMassMg')::float8 / (series.document->>'dryMassMg')::float8 AS ratio
     FROM rwc_series series
       JOIN disc ON disc.lab_id = $1 AND disc.id = series.disc_id
       JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id
       JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
     WHERE series.lab_id = $1 AND plant.crop_id = $2 AND series.disc_id <> $3
       AND NOT EXISTS (SELECT FROM stale_mark s WHERE s.lab_id = $1 AND s.result_id = series.id)
     ORDER BY series.id DESC LIMIT 200`,
    [tx.labId, cropId, exceptDiscId],
  );
  return rows.map(({ ratio }) => ratio);
}

// The id is named with its table: a bare id inside the subquery is the amendment's own.
const standing = (table: 'weighing' | 'meter_reading'): string => `NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${table}.id)`;

/** Weighings of a disc that no amendment took out of use, in order of time. */
export const standingWeighings = (tx: Tx, discId: string): Promise<Weighing[]> =>
  rowsWhere(tx, Weighing, `disc_id = $2 AND ${standing('weighing')}`, [discId], 'ORDER BY observed_at, id');

export const standingMeterReadings = (tx: Tx, dryingRunId: string): Promise<MeterReading[]> =>
  rowsWhere(tx, MeterReading, `drying_run_id = $2 AND ${standing('meter_reading')}`, [dryingRunId], 'ORDER BY observed_at, id');

export async function missingDiscs(tx: Tx, ids: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ id: string }>('SELECT id FROM disc WHERE lab_id = $1 AND id = ANY($2::uuid[])', [tx.labId, ids]);
  const found = new Set(rows.map(({ id }) => id));
  return ids.filter((id) => !found.has(id));
}

/** Those of the discs with a dry mass that stands. */
export async function weighedDry(tx: Tx, discIds: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ id: string }>(
    `SELECT DISTINCT disc_id AS id FROM weighing w WHERE lab_id = $1 AND disc_id = ANY($2::uuid[]) AND state = 'DRY'
       AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = w.id)`, [tx.labId, discIds],
  );
  return new Set(rows.map(({ id }) => id));
}
