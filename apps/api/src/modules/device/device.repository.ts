import type { DeviceUnitState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { pageOf, rowsWhere, type Page, type PageArgs } from '../../platform/database/rows.js';
import { BiasSweep, DeviceLot, DeviceUnit, TripTest } from './device.entity.js';

export const deviceUnitsPage = (tx: Tx, page: PageArgs, search: string | null): Promise<Page<DeviceUnit>> =>
  pageOf(tx, DeviceUnit, page, '$2::text IS NULL OR label ILIKE $2', [search?.trim() ? `%${search.trim().replace(/[\\%_]/g, '\\$&')}%` : null]);

export const allLots = (tx: Tx): Promise<DeviceLot[]> => rowsWhere(tx, DeviceLot, 'true', [], 'ORDER BY label');

// The id is named with its table: a bare id inside the subquery is the amendment's own.
const standing = (table: 'trip_test' | 'bias_sweep'): string =>
  `device_unit_id = $2 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${table}.id)`;

export const standingTripTests = (tx: Tx, deviceUnitId: string): Promise<TripTest[]> =>
  rowsWhere(tx, TripTest, standing('trip_test'), [deviceUnitId], 'ORDER BY observed_at, id');

export const standingSweeps = (tx: Tx, deviceUnitId: string): Promise<BiasSweep[]> =>
  rowsWhere(tx, BiasSweep, standing('bias_sweep'), [deviceUnitId], 'ORDER BY observed_at, id');

/** States of units by what has been done with them; one statement for all. */
export async function statesOfUnits(tx: Tx, ids: readonly string[]): Promise<Map<string, DeviceUnitState>> {
  const rows = await tx.query<{ id: string; state: DeviceUnitState }>(
    `SELECT unit.id, CASE
       WHEN EXISTS (SELECT FROM unit_retirement r WHERE r.lab_id = $1 AND r.device_unit_id = unit.id
                      AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = r.id)) THEN 'RETIRED'
       WHEN EXISTS (SELECT FROM installation i WHERE i.lab_id = $1 AND i.device_unit_id = unit.id) THEN 'INSTALLED'
       WHEN EXISTS (SELECT FROM threshold_certificate c JOIN signature s ON s.lab_id = $1 AND s.subject_id = c.id AND s.meaning = 'APPROVED'
                    WHERE c.lab_id = $1 AND c.device_unit_id = unit.id) THEN 'CERTIFIED'
       WHEN EXISTS (SELECT FROM bias_threshold_curve b WHERE b.lab_id = $1 AND b.device_unit_id = unit.id) THEN 'CHARACTERISED'
       ELSE 'RECEIVED' END AS state
     FROM device_unit unit WHERE unit.lab_id = $1 AND unit.id = ANY($2::uuid[])`,
    [tx.labId, ids],
  );
  return new Map(rows.map(({ id, state }) => [id, state]));
}
