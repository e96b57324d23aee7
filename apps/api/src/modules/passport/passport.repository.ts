import type { Tx } from '../../platform/database/database.js';
import { kindOf, rowsWhere, type KeptEntity } from '../../platform/database/rows.js';
import { AbsorptionBand, UnitRetirement, type UnitFact } from './passport.entity.js';

/** The retirements in force of these units: those nobody retracted. */
export const standingRetirements = (tx: Tx, deviceUnitIds: readonly string[]): Promise<UnitRetirement[]> =>
  rowsWhere(tx, UnitRetirement, 'device_unit_id = ANY($2::uuid[]) AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = unit_retirement.id)', [deviceUnitIds]);

/** A unit's absorption bands in use, newest first. */
export const standingBands = (tx: Tx, deviceUnitId: string): Promise<AbsorptionBand[]> =>
  rowsWhere(tx, AbsorptionBand, 'device_unit_id = $2 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = absorption_band.id)', [deviceUnitId], 'ORDER BY observed_at DESC, id DESC');

/** Facts of one kind about a unit that nobody amended or retracted, in the order observed. */
export const standingFacts = <E extends UnitFact>(tx: Tx, entity: KeptEntity<E>, deviceUnitId: string): Promise<E[]> =>
  rowsWhere(tx, entity, `device_unit_id = $2 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${kindOf(tx, entity)}.id)`, [deviceUnitId], 'ORDER BY observed_at, id');
