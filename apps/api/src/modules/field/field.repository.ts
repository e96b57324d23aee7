import type { InstallationState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { pageOf, rowsWhere, type Page, type PageArgs } from '../../platform/database/rows.js';
import { Decision, FieldReport, Installation, Trip } from './field.entity.js';

export const installationsPage = (tx: Tx, page: PageArgs, zone: string | null): Promise<Page<Installation>> =>
  pageOf(tx, Installation, page, '$2::text IS NULL OR zone = $2', [zone]);

export const tripsPage = (tx: Tx, page: PageArgs): Promise<Page<Trip>> => pageOf(tx, Trip, page);

export const decisionsPage = (tx: Tx, page: PageArgs): Promise<Page<Decision>> => pageOf(tx, Decision, page);

const NOT_AMENDED = (id: string): string => `NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${id})`;

/** SQL: an installation `i` has left its leaf, because somebody said so or its unit was installed anew. */
export const ENDED = `(EXISTS (SELECT FROM installation_end e WHERE e.lab_id = $1 AND e.installation_id = i.id)
  OR EXISTS (SELECT FROM installation later WHERE later.lab_id = $1 AND later.device_unit_id = i.device_unit_id AND later.armed_at > i.armed_at))`;

/**
 * SQL, to be joined as `CROSS JOIN`: how an installation `i` was seen last. `seen.latched`: its latch stands; `seen.heard_at`:
 * when it was last heard of, its arming included. What was retracted was not heard: it may have been another unit.
 */
export const SEEN = `LATERAL (
  SELECT coalesce((array_agg(newest.latched ORDER BY newest.at DESC, newest.id DESC))[1], false) AS latched, greatest(i.armed_at, max(newest.at)) AS heard_at FROM (
    (SELECT t.seen_at AS at, true AS latched, t.id FROM trip t WHERE t.lab_id = $1 AND t.installation_id = i.id AND ${NOT_AMENDED('t.id')} ORDER BY t.seen_at DESC LIMIT 1)
    UNION ALL (SELECT r.observed_at, r.latched, r.id FROM field_report r WHERE r.lab_id = $1 AND r.installation_id = i.id AND ${NOT_AMENDED('r.id')} ORDER BY r.observed_at DESC LIMIT 1)
    UNION ALL (SELECT s.observed_at, NOT s.opened, s.id FROM latch_reset s WHERE s.lab_id = $1 AND s.installation_id = i.id AND ${NOT_AMENDED('s.id')} ORDER BY s.observed_at DESC LIMIT 1)
  ) newest) seen`;

export async function statesOfInstallations(tx: Tx, ids: readonly string[]): Promise<Map<string, InstallationState>> {
  const rows = await tx.query<{ id: string; state: InstallationState }>(
    `SELECT i.id, CASE WHEN ${ENDED} THEN 'REMOVED' WHEN seen.latched THEN 'TRIPPED' ELSE 'ARMED' END AS state
     FROM installation i CROSS JOIN ${SEEN} WHERE i.lab_id = $1 AND i.id = ANY($2::uuid[])`,
    [tx.labId, ids],
  );
  return new Map(rows.map(({ id, state }) => [id, state]));
}

export async function heardAtOf(tx: Tx, ids: readonly string[]): Promise<Map<string, Date>> {
  const rows = await tx.query<{ id: string; heardAt: Date }>(
    `SELECT i.id, seen.heard_at AS "heardAt" FROM installation i CROSS JOIN ${SEEN} WHERE i.lab_id = $1 AND i.id = ANY($2::uuid[])`, [tx.labId, ids],
  );
  return new Map(rows.map(({ id, heardAt }) => [id, heardAt]));
}

/** Newest reports of each installation, at most a hundred each. */
export const newestReports = (tx: Tx, ids: readonly string[]): Promise<FieldReport[]> =>
  rowsWhere(
    tx, FieldReport,
    `id IN (SELECT recent.id FROM unnest($2::uuid[]) AS wanted(id) CROSS JOIN LATERAL (
       SELECT r.id FROM field_report r WHERE r.lab_id = $1 AND r.installation_id = wanted.id ORDER BY r.observed_at DESC LIMIT 100) recent)`,
    [ids], 'ORDER BY observed_at DESC',
  );

/** By trip: the decisions that name it. */
export const decisionsNaming = (tx: Tx, tripIds: readonly string[]): Promise<Decision[]> =>
  rowsWhere(tx, Decision, 'trip_ids && $2::uuid[]', [tripIds], 'ORDER BY decided_at');
