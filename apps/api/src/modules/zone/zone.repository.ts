import type { InstallationState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { ENDED, SEEN } from '../field/field.repository.js';
import { SitePlan, ZoneRule } from './zone.entity.js';

export interface ZoneRow {
  readonly name: string;
  readonly site: string;
  readonly installed: number;
  readonly tripped: number;
  readonly silent: number;
}

/** Hours without a word after which a unit is silent where no rule says otherwise. Common practice, no source. */
export const SILENT_AFTER_HOURS = 6;

/** Approved rules by zone: the newest approved one that was not withdrawn. */
export const RULES = `SELECT DISTINCT ON (rule.zone) rule.* FROM zone_rule rule WHERE rule.lab_id = $1
  AND EXISTS (SELECT FROM signature s WHERE s.lab_id = $1 AND s.subject_id = rule.id AND s.meaning = 'APPROVED')
  AND NOT EXISTS (SELECT FROM signature s WHERE s.lab_id = $1 AND s.subject_id = rule.id AND s.meaning = 'WITHDRAWN') ORDER BY rule.zone, rule.version DESC`;

/** Zones as they stand; counts are of units under a leaf now. */
export const zonesNow = (tx: Tx, now: Date, name: string | null): Promise<ZoneRow[]> =>
  tx.query(
    `WITH rule AS (${RULES}), standing AS MATERIALIZED (
       SELECT i.zone, i.site, i.armed_at, ended.ended, seen.latched AND NOT ended.ended AS latched, CASE WHEN NOT ended.ended THEN seen.heard_at END AS heard_at
       FROM installation i CROSS JOIN LATERAL (SELECT ${ENDED} AS ended) ended CROSS JOIN ${SEEN} WHERE i.lab_id = $1 AND ($3::text IS NULL OR i.zone = $3))
     SELECT standing.zone AS name, (array_agg(standing.site ORDER BY standing.armed_at DESC))[1] AS site,
       count(*) FILTER (WHERE NOT ended)::int AS installed, count(*) FILTER (WHERE latched)::int AS tripped,
       count(*) FILTER (WHERE heard_at < $2::timestamptz - make_interval(secs => 3600 * coalesce(rule.silent_after_hours, ${SILENT_AFTER_HOURS})::float8))::int AS silent
     FROM standing LEFT JOIN rule ON rule.zone = standing.zone GROUP BY standing.zone ORDER BY standing.zone`,
    [tx.labId, now, name],
  );

/** The rule that speaks in each of these zones. */
export async function speakingRules(tx: Tx, zones: readonly string[]): Promise<Map<string, ZoneRule>> {
  const rules = await rowsWhere(tx, ZoneRule, `zone = ANY($2::text[]) AND id IN (SELECT id FROM (${RULES}) speaking)`, [zones]);
  return new Map(rules.map((rule) => [rule.zone, rule]));
}

export async function nextRuleVersion(tx: Tx, zone: string): Promise<number> {
  const [row] = await tx.query<{ next: number }>('SELECT coalesce(max(version), 0) + 1 AS next FROM zone_rule WHERE lab_id = $1 AND zone = $2', [tx.labId, zone]);
  return row!.next;
}

export const newestSitePlans = (tx: Tx): Promise<SitePlan[]> =>
  rowsWhere(tx, SitePlan, 'NOT EXISTS (SELECT FROM site_plan later WHERE later.lab_id = $1 AND later.site = site_plan.site AND later.id > site_plan.id)', [], 'ORDER BY site');

export interface SpreadRow {
  readonly tripRwc: number;
  readonly sd: number;
  readonly sharedShare: number;
}

/** What units of a zone share: the light they stand in and the calibration they were certified by. */
const SHARED_CAUSES = ['irradiance', 'fit'];

/** Target and spread of the certificates of the units under a leaf in a zone. */
export const zoneSpreads = (tx: Tx, zone: string): Promise<SpreadRow[]> =>
  tx.query(
    `SELECT c.target_rwc::float8 AS "tripRwc", (c.document->>'tripRwcSd')::float8 AS sd,
       coalesce((SELECT sum((share->>'share')::float8) FROM jsonb_array_elements(c.document->'shares') share WHERE share->>'cause' = ANY($3::text[])), 0) AS "sharedShare"
     FROM installation i JOIN threshold_certificate c ON c.lab_id = $1 AND c.id = i.threshold_certificate_id
     WHERE i.lab_id = $1 AND i.zone = $2 AND NOT ${ENDED}`, [tx.labId, zone, SHARED_CAUSES],
  );

export interface FieldMarkRow {
  readonly installationId: string;
  readonly unitLabel: string;
  readonly site: string;
  readonly zone: string;
  readonly state: InstallationState;
  readonly silent: boolean;
  readonly latitude: string | null;
  readonly longitude: string | null;
}

/** Every unit under a leaf now. */
export const fieldMarks = (tx: Tx, now: Date): Promise<FieldMarkRow[]> =>
  tx.query(
    `WITH rule AS (${RULES})
     SELECT i.id AS "installationId", unit.label AS "unitLabel", i.site, i.zone, i.latitude, i.longitude, CASE WHEN seen.latched THEN 'TRIPPED' ELSE 'ARMED' END AS state,
       seen.heard_at < $2::timestamptz - make_interval(secs => 3600 * coalesce(rule.silent_after_hours, ${SILENT_AFTER_HOURS})::float8) AS silent
     FROM installation i JOIN device_unit unit ON unit.lab_id = $1 AND unit.id = i.device_unit_id CROSS JOIN ${SEEN} LEFT JOIN rule ON rule.zone = i.zone
     WHERE i.lab_id = $1 AND NOT ${ENDED} ORDER BY i.site, i.zone, unit.label LIMIT 10000`,
    [tx.labId, now],
  );
