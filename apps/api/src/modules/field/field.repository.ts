import type { InstallationState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { pageOf, rowsWhere, type Page, type PageArgs } from '../../platform/database/rows.js';
import { Decision, Installation, Trip } from './field.entity.js';

export const installationsPage = (tx: Tx, page: PageArgs, zone: string | null): Promise<Page<Installation>> =>
  pageOf(tx, Installation, page, '$2::text IS NULL OR zone = $2', [zone]);

export const tripsPage = (tx: Tx, page: PageArgs): Promise<Page<Trip>> => pageOf(tx, Trip, page);

export const decisionsPage = (tx: Tx, page: PageArgs): Promise<Page<Decision>> => pageOf(tx, Decision, page);

/** An installation ends when its unit is installed anew; until then it is armed, or tripped by a standing trip. */
export async function statesOfInstallations(tx: Tx, ids: readonly string[]): Promise<Map<string, InstallationState>> {
  const rows = await tx.query<{ id: string; state: InstallationState }>(
    `SELECT i.id, CASE
       WHEN EXISTS (SELECT FROM installation later WHERE later.lab_id = $1 AND later.device_unit_id = i.device_unit_id AND later.armed_at > i.armed_at) THEN 'REMOVED'
       WHEN EXISTS (SELECT FROM trip t WHERE t.lab_id = $1 AND t.installation_id = i.id
                      AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = t.id)) THEN 'TRIPPED'
       ELSE 'ARMED' END AS state
     FROM installation i WHERE i.lab_id = $1 AND i.id = ANY($2::uuid[])`,
    [tx.labId, ids],
  );
  return new Map(rows.map(({ id, state }) => [id, state]));
}

/** By trip: the decisions that name it. */
export const decisionsNaming = (tx: Tx, tripIds: readonly string[]): Promise<Decision[]> =>
  rowsWhere(tx, Decision, 'trip_ids && $2::uuid[]', [tripIds], 'ORDER BY decided_at');
