import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { LabelPrint } from './label.entity.js';

export interface Scannable {
  readonly kind: LabelPrint['subjectKind'];
  readonly id: string;
  readonly label: string;
}

const TABLES: readonly Scannable['kind'][] = ['disc', 'leaf', 'plant', 'place', 'device_unit'];

const found = (tx: Tx, where: string, parameter: string): Promise<Scannable[]> =>
  tx.query(TABLES.map((table) => `(SELECT '${table}' AS kind, id, label FROM ${table} WHERE lab_id = $1 AND ${where} LIMIT 10)`).join(' UNION ALL '), [tx.labId, parameter]);

export const byCodeKey = (tx: Tx, key: string): Promise<Scannable[]> => found(tx, 'code_key(id) = $2', key);

export const byLabel = (tx: Tx, label: string): Promise<Scannable[]> => found(tx, 'label = $2', label);

/** How often each label was printed, before a print where one is named. */
export async function printCounts(tx: Tx, subjectIds: readonly string[], before: string | null = null): Promise<Map<string, number>> {
  const rows = await tx.query<{ id: string; count: number }>(
    `SELECT subject.id, count(*)::int AS count FROM label_print p CROSS JOIN LATERAL unnest(p.subject_ids) AS subject(id)
     WHERE p.lab_id = $1 AND p.subject_ids && $2::uuid[] AND subject.id = ANY($2::uuid[])
       AND ($3::uuid IS NULL OR (p.recorded_at, p.id) < (SELECT recorded_at, id FROM label_print WHERE lab_id = $1 AND id = $3))
     GROUP BY 1`, [tx.labId, subjectIds, before],
  );
  return new Map(rows.map(({ id, count }) => [id, count]));
}

export const labelPrintsOf = (tx: Tx, first: number, subjectId: string | null): Promise<LabelPrint[]> =>
  rowsWhere(tx, LabelPrint, '$2::uuid IS NULL OR subject_ids @> ARRAY[$2::uuid]', [subjectId], `ORDER BY id DESC LIMIT ${Math.min(Math.max(first, 1), 200)}`);

/** What a label tells beside code and label, by id. */
export async function labelLines(tx: Tx, kind: Scannable['kind'], ids: readonly string[]): Promise<Map<string, { label: string; beside: string }>> {
  const told: Readonly<Record<Scannable['kind'], string>> = {
    plant: `SELECT p.id, p.label, concat_ws(', ', crop.name, p.cultivar) AS beside FROM plant_as_amended p JOIN crop ON crop.lab_id = $1 AND crop.id = p.crop_id`,
    leaf: `SELECT p.id, p.label, concat_ws(', ', crop.name, plant.cultivar, p.growth_stage) AS beside FROM leaf_as_amended p
           JOIN plant_as_amended plant ON plant.lab_id = $1 AND plant.id = p.plant_id JOIN crop ON crop.lab_id = $1 AND crop.id = plant.crop_id`,
    disc: `SELECT p.id, p.label, concat_ws(', ', crop.name, plant.cultivar) AS beside FROM disc p JOIN leaf ON leaf.lab_id = $1 AND leaf.id = p.leaf_id
           JOIN plant_as_amended plant ON plant.lab_id = $1 AND plant.id = leaf.plant_id JOIN crop ON crop.lab_id = $1 AND crop.id = plant.crop_id`,
    place: `SELECT p.id, p.label, lower(p.place_kind) AS beside FROM place p`,
    device_unit: `SELECT p.id, p.label, concat('unit of lot ', lot.label) AS beside FROM device_unit p JOIN device_lot lot ON lot.lab_id = $1 AND lot.id = p.device_lot_id`,
  };
  const rows = await tx.query<{ id: string; label: string; beside: string }>(`${told[kind]} WHERE p.lab_id = $1 AND p.id = ANY($2::uuid[])`, [tx.labId, ids]);
  return new Map(rows.map((row) => [row.id, row]));
}
