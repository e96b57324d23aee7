import type { Tx } from '../../platform/database/database.js';
import { ENDED, SEEN } from '../field/field.repository.js';
import { RULES, SILENT_AFTER_HOURS } from './zone.repository.js';

export interface SilentZone {
  readonly zone: string;
  readonly installed: number;
  readonly silentAfterHours: number;
  /** Silent the longest first. */
  readonly units: readonly { readonly installationId: string; readonly label: string; readonly heardAt: string }[];
}

/** Zones in which a unit fell silent since people were told last. */
export const newlySilentZones = (tx: Tx, now: Date): Promise<SilentZone[]> =>
  tx.query(
    `WITH rule AS (${RULES}), standing AS MATERIALIZED (
       SELECT i.id, i.zone, unit.label, seen.heard_at, coalesce(rule.silent_after_hours, ${SILENT_AFTER_HOURS})::float8 AS after_hours,
         seen.heard_at + make_interval(secs => 3600 * coalesce(rule.silent_after_hours, ${SILENT_AFTER_HOURS})::float8) AS silent_from
       FROM installation i JOIN device_unit unit ON unit.lab_id = $1 AND unit.id = i.device_unit_id CROSS JOIN ${SEEN} LEFT JOIN rule ON rule.zone = i.zone
       WHERE i.lab_id = $1 AND NOT ${ENDED})
     SELECT zone, count(*)::int AS installed, max(after_hours) AS "silentAfterHours",
       json_agg(json_build_object('installationId', id, 'label', label, 'heardAt', heard_at) ORDER BY heard_at, label) FILTER (WHERE silent_from < $2::timestamptz) AS units
     FROM standing GROUP BY zone
     HAVING max(silent_from) FILTER (WHERE silent_from < $2::timestamptz) > coalesce((
       SELECT max(n.told_at) FROM notice n JOIN installation told ON told.lab_id = $1 AND told.id = n.subject_id WHERE n.lab_id = $1 AND n.kind = 'UNITS_SILENT' AND told.zone = standing.zone), '-infinity')
     ORDER BY zone`,
    [tx.labId, now],
  );

/** When people were told of each of these subjects last. */
export async function toldOfDisagreement(tx: Tx, subjectIds: readonly string[]): Promise<Map<string, Date>> {
  const rows = await tx.query<{ id: string; at: Date }>(
    `SELECT subject_id AS id, max(told_at) AS at FROM notice WHERE lab_id = $1 AND kind = 'FIELD_DISAGREES' AND subject_id = ANY($2::uuid[]) GROUP BY subject_id`, [tx.labId, subjectIds],
  );
  return new Map(rows.map(({ id, at }) => [id, at]));
}
