import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { UnitRetirement } from './passport.entity.js';

/** The retirements in force of these units: those nobody retracted. */
export const standingRetirements = (tx: Tx, deviceUnitIds: readonly string[]): Promise<UnitRetirement[]> =>
  rowsWhere(tx, UnitRetirement, 'device_unit_id = ANY($2::uuid[]) AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = unit_retirement.id)', [deviceUnitIds]);
