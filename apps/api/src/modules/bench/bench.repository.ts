import type { DiscState, DryingRunState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { pageOf, rowsWhere, type Page, type PageArgs } from '../../platform/database/rows.js';
import type { Parameters } from '../protocol/protocol-parameters.js';
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
  readonly diameterMm: number | null;
  readonly cropId: string | null;
  readonly run: { readonly label: string; readonly state: DryingRunState; readonly hasDisc: boolean } | null;
  readonly balance: { readonly label: string; readonly kind: string; readonly unit: string; readonly resolution: string | null; readonly repeatability: string | null; readonly linearity: string | null } | null;
  /** Of the run, or of the last run that the disc was in; null: the house's own hold. */
  readonly parameters: Parameters | null;
  /** Its times on water that have ended, in order of their end, each with the window of the protocol that it was laid under. */
  readonly hydrations: readonly { readonly startedMs: number; readonly endedMs: number; readonly blotted: boolean; readonly leastMin: number | null; readonly mostMin: number | null }[];
  /** The line that the balance gave before in this run. */
  readonly lineBefore: { readonly discId: string; readonly rawLine: string } | null;
}

/** One statement, because it stands in the way of every weighing. */
export async function surroundings(tx: Tx, asked: { id: string | null; discId: string; dryingRunId: string | null; balanceId: string | null }): Promise<WeighingSurroundings> {
  const [row] = await tx.prepared<WeighingSurroundings>(
    `SELECT
       (SELECT coalesce(json_agg(json_build_object('id', w.id, 'state', w.state, 'massMg', w.mass_mg::float8,
                 'atMs', extract(epoch FROM w.observed_at) * 1000 + coalesce(w.clock_offset_ms, 0), 'rawLine', w.raw_line) ORDER BY w.observed_at, w.id), '[]')
        FROM weighing w WHERE w.lab_id = $1 AND w.disc_id = $2
          AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = w.id)) AS earlier,
       (SELECT extract(epoch FROM leaf.cut_at)::float8 * 1000 FROM disc JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id
        WHERE disc.lab_id = $1 AND disc.id = $2) AS "cutAtMs",
       (SELECT disc.label FROM disc WHERE disc.lab_id = $1 AND disc.id = $2) AS "discLabel",
       (SELECT disc.diameter_mm::float8 FROM disc WHERE disc.lab_id = $1 AND disc.id = $2) AS "diameterMm",
       (SELECT plant.crop_id FROM disc JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id
          JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
        WHERE disc.lab_id = $1 AND disc.id = $2) AS "cropId",
       (SELECT json_build_object('label', label, 'state', ${STATE}, 'hasDisc', $2 = ANY(disc_ids))
        FROM drying_run WHERE lab_id = $1 AND id = $3) AS run,
       (SELECT json_build_object('label', label, 'kind', kind, 'unit', unit, 'resolution', resolution::text, 'repeatability', repeatability::text, 'linearity', linearity::text)
        FROM instrument WHERE lab_id = $1 AND id = $4) AS balance,
       (SELECT protocol.parameters FROM drying_run r JOIN protocol ON protocol.lab_id = $1 AND protocol.id = r.protocol_id
        WHERE r.lab_id = $1 AND r.id = coalesce($3, (SELECT id FROM drying_run WHERE lab_id = $1 AND disc_ids @> ARRAY[$2] ORDER BY opened_at DESC LIMIT 1))) AS parameters,
       (SELECT coalesce(json_agg(json_build_object('startedMs', extract(epoch FROM h.started_at) * 1000, 'endedMs', extract(epoch FROM e.taken_out_at) * 1000, 'blotted', e.blotted,
                 'leastMin', (p.parameters->>'hydrationLeastMin')::float8, 'mostMin', (p.parameters->>'hydrationMostMin')::float8) ORDER BY e.taken_out_at, e.id), '[]')
        FROM hydration h JOIN hydration_end e ON e.lab_id = $1 AND e.hydration_id = h.id LEFT JOIN protocol p ON p.lab_id = $1 AND p.id = h.protocol_id
        WHERE h.lab_id = $1 AND h.disc_ids @> ARRAY[$2] AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id IN (e.id, h.id))) AS hydrations,
       -- By id: ids are made at the moment of capture, also where a write waited for the network.
       (SELECT json_build_object('discId', w.disc_id, 'rawLine', w.raw_line) FROM weighing w
        WHERE w.lab_id = $1 AND w.drying_run_id = $3 AND w.balance_id = $4 AND w.id < coalesce($5, 'ffffffff-ffff-ffff-ffff-ffffffffffff'::uuid) ORDER BY w.id DESC LIMIT 1) AS "lineBefore"`,
    [tx.labId, asked.discId, asked.dryingRunId, asked.balanceId, asked.id],
  );
  return row!;
}

/** What other discs of a crop let expect, from their standing RWC series; at most the 200 newest. */
export interface CropExperience {
  readonly turgidDryRatios: readonly number[];
  /** mg cm⁻², of those with a known diameter. */
  readonly turgidMassPerAreas: readonly number[];
}

export const NO_EXPERIENCE: CropExperience = { turgidDryRatios: [], turgidMassPerAreas: [] };

export async function cropExperience(tx: Tx, cropId: string, exceptDiscIds: readonly string[]): Promise<CropExperience> {
  const rows = await tx.query<{ ratio: number; perArea: number | null }>(
    `SELECT (series.document->>'turgidMassMg')::float8 / (series.document->>'dryMassMg')::float8 AS ratio,
            (series.document->>'turgidMassMg')::float8 / (pi() * (disc.diameter_mm / 2) ^ 2 / 100)::float8 AS "perArea"
     FROM rwc_series series
       JOIN disc ON disc.lab_id = $1 AND disc.id = series.disc_id
       JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id
       JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
     WHERE series.lab_id = $1 AND plant.crop_id = $2 AND series.disc_id <> ALL($3::uuid[])
       AND NOT EXISTS (SELECT FROM stale_mark s WHERE s.lab_id = $1 AND s.result_id = series.id)
     ORDER BY series.id DESC LIMIT 200`,
    [tx.labId, cropId, exceptDiscIds],
  );
  return { turgidDryRatios: rows.map(({ ratio }) => ratio), turgidMassPerAreas: rows.flatMap(({ perArea }) => perArea ?? []) };
}

export interface LastMass {
  readonly discId: string;
  readonly cropId: string;
  readonly state: DiscState;
  readonly id: string;
  readonly massMg: number;
  readonly observedAt: Date;
  readonly observedOffsetMin: number;
}

/** The last standing weighing of each disc of a run in each state. */
export const lastMasses = (tx: Tx, dryingRunId: string): Promise<LastMass[]> =>
  tx.query(
    `SELECT DISTINCT ON (w.disc_id, w.state) w.disc_id AS "discId", plant.crop_id AS "cropId", w.state, w.id, w.mass_mg::float8 AS "massMg",
            w.observed_at AS "observedAt", w.observed_offset_min AS "observedOffsetMin"
     FROM drying_run run
       JOIN weighing w ON w.lab_id = $1 AND w.disc_id = ANY(run.disc_ids)
       JOIN disc ON disc.lab_id = $1 AND disc.id = w.disc_id
       JOIN leaf ON leaf.lab_id = $1 AND leaf.id = disc.leaf_id
       JOIN plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id
     WHERE run.lab_id = $1 AND run.id = $2 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = w.id)
     ORDER BY w.disc_id, w.state, w.observed_at DESC, w.id DESC`,
    [tx.labId, dryingRunId],
  );

// The id is named with its table: a bare id inside the subquery is the amendment's own.
const standing = (table: 'weighing' | 'meter_reading'): string => `NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${table}.id)`;

/** Weighings of a disc that no amendment took out of use, in order of time. */
export const standingWeighings = (tx: Tx, discId: string): Promise<Weighing[]> =>
  rowsWhere(tx, Weighing, `disc_id = $2 AND ${standing('weighing')}`, [discId], 'ORDER BY observed_at, id');

export const standingMeterReadings = (tx: Tx, dryingRunId: string): Promise<MeterReading[]> =>
  rowsWhere(tx, MeterReading, `drying_run_id = $2 AND ${standing('meter_reading')}`, [dryingRunId], 'ORDER BY observed_at, id');

/** Standing darks and references of a rig in all its runs, newest first. */
export const lampReadings = (tx: Tx, rigId: string, most: number): Promise<MeterReading[]> =>
  rowsWhere(tx, MeterReading, `light_path <> 'READING' AND drying_run_id IN (SELECT id FROM drying_run WHERE lab_id = $1 AND rig_id = $2) AND ${standing('meter_reading')}`, [rigId], `ORDER BY observed_at DESC, id DESC LIMIT ${Math.min(Math.max(most, 1), 2000)}`);

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
