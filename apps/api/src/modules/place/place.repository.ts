import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { Custody, Place } from './place.entity.js';

/** Where each place is now: its parent, by id. One statement for all of a lab: thousands, not millions. */
export async function insideOf(tx: Tx): Promise<Map<string, { label: string; insideId: string | null }>> {
  const rows = await tx.query<{ id: string; label: string; insideId: string | null }>('SELECT id, label, inside_id AS "insideId" FROM place_as_moved WHERE lab_id = $1', [tx.labId]);
  return new Map(rows.map(({ id, label, insideId }) => [id, { label, insideId }]));
}

export const allPlaces = (tx: Tx): Promise<Place[]> => rowsWhere(tx, Place, 'true', [], 'ORDER BY label, id');

const STANDS = 'NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = custody.id)';
const NEWEST = `NOT EXISTS (SELECT FROM custody later WHERE later.lab_id = $1 AND later.subject_id = custody.subject_id
  AND (later.moved_at, later.id) > (custody.moved_at, custody.id) AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = later.id))`;

/** The newest move of each of these that stands. */
export async function standingCustodies(tx: Tx, subjectIds: readonly string[]): Promise<Map<string, Custody>> {
  const rows = await rowsWhere(tx, Custody, `subject_id = ANY($2::uuid[]) AND ${STANDS} AND ${NEWEST}`, [subjectIds]);
  return new Map(rows.map((row) => [row.subjectId, row]));
}

export const custodiesOf = (tx: Tx, subjectId: string): Promise<Custody[]> => rowsWhere(tx, Custody, 'subject_id = $2', [subjectId], 'ORDER BY moved_at DESC, id DESC');

/** Samples (not places) that lie directly in each place. */
export async function countsIn(tx: Tx, placeIds: readonly string[]): Promise<Map<string, number>> {
  const rows = await tx.query<{ id: string; count: number }>(
    `SELECT place_id AS id, count(*)::int AS count FROM custody WHERE lab_id = $1 AND place_id = ANY($2::uuid[]) AND subject_kind <> 'place' AND ${STANDS} AND ${NEWEST} GROUP BY 1`,
    [tx.labId, placeIds],
  );
  return new Map(rows.map(({ id, count }) => [id, count]));
}

export const samplesIn = (tx: Tx, placeId: string): Promise<Custody[]> =>
  rowsWhere(tx, Custody, `place_id = $2 AND subject_kind <> 'place' AND ${STANDS} AND ${NEWEST}`, [placeId], 'ORDER BY moved_at DESC, id DESC LIMIT 500');

export async function existingAmong(tx: Tx, table: string, ids: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ id: string }>(`SELECT id FROM "${table}" WHERE lab_id = $1 AND id = ANY($2::uuid[])`, [tx.labId, ids]);
  return new Set(rows.map(({ id }) => id));
}
