import type { Tx } from '../../platform/database/database.js';
import { kindOf, rowsWhere, type KeptEntity } from '../../platform/database/rows.js';
import type { DeviceUnit } from '../device/device.entity.js';
import { AbsorptionBand, UnitRetirement, type UnitFact } from './passport.entity.js';

/** The retirements in force of these units: those nobody retracted. */
export const standingRetirements = (tx: Tx, deviceUnitIds: readonly string[]): Promise<UnitRetirement[]> =>
  rowsWhere(tx, UnitRetirement, 'device_unit_id = ANY($2::uuid[]) AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = unit_retirement.id)', [deviceUnitIds]);

/** Absorption bands in use that tell of a unit, the one that counts first: its own before those of its lot, the newest before others. */
export const standingBands = (tx: Tx, { id, deviceLotId }: Pick<DeviceUnit, 'id' | 'deviceLotId'>): Promise<AbsorptionBand[]> =>
  rowsWhere(
    tx, AbsorptionBand, '(device_unit_id = $2 OR device_lot_id = $3) AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = absorption_band.id)', [id, deviceLotId],
    'ORDER BY device_unit_id IS NULL, observed_at DESC, id DESC',
  );

/** Facts of one kind about a unit that nobody amended or retracted, in the order observed. */
export const standingFacts = <E extends UnitFact>(tx: Tx, entity: KeptEntity<E>, deviceUnitId: string): Promise<E[]> =>
  rowsWhere(tx, entity, `device_unit_id = $2 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${kindOf(tx, entity)}.id)`, [deviceUnitId], 'ORDER BY observed_at, id');
