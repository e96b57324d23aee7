import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { Hydration, HydrationEnd } from './hydration.entity.js';

const standing = (table: 'hydration' | 'hydration_end'): string => `NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${table}.id)`;

export const hydrationsNewest = (tx: Tx, most: number): Promise<Hydration[]> =>
  rowsWhere(
    tx, Hydration, standing('hydration'), [],
    `ORDER BY EXISTS (SELECT FROM hydration_end WHERE hydration_end.lab_id = $1 AND hydration_end.hydration_id = hydration.id AND ${standing('hydration_end')}), started_at DESC LIMIT ${Math.min(Math.max(most, 1), 200)}`,
  );

/** The standing end of each hydration that has one. */
export const endsOf = (tx: Tx, hydrationIds: readonly string[]): Promise<HydrationEnd[]> =>
  rowsWhere(tx, HydrationEnd, `hydration_id = ANY($2::uuid[]) AND ${standing('hydration_end')}`, [hydrationIds], 'ORDER BY taken_out_at');
