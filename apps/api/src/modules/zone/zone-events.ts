import type { SolarNoon, ZoneEvent } from '#libs/zone-rule';
import { getTimes } from 'suncalc';
import type { Tx } from '../../platform/database/database.js';
import type { ZoneRule } from './zone.entity.js';

/** From when a record counts as known: from when the record had it, or from when somebody saw it. */
export type KnownBy = 'RECORDED' | 'SEEN';

export interface ZoneFact {
  readonly kind: string;
  readonly id: string;
  readonly event: ZoneEvent;
}

interface FactRow {
  readonly kind: string;
  readonly id: string;
  readonly word: ZoneEvent['kind'];
  readonly at: Date;
  readonly knownAt: Date;
  readonly unit: string | null;
  readonly happenedAt: Date | null;
  readonly latched: boolean | null;
  readonly depthMm: number | null;
}

/** Recorded by $3, and nothing had taken it out of use by then. */
const STOOD = (alias: string): string => `${alias}.recorded_at <= $3 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${alias}.id AND a.recorded_at <= $3)`;
const AT = (table: string, alias: string): string => `FROM ${table} ${alias} JOIN placed ON placed.id = ${alias}.installation_id WHERE ${alias}.lab_id = $1 AND ${STOOD(alias)}`;

/** Units of the zone. One that is installed anew leaves its earlier place then. */
const PLACED = `placed AS MATERIALIZED (
    SELECT i.id, i.armed_at, i.recorded_at,
      (SELECT min(later.armed_at) FROM installation later WHERE later.lab_id = $1 AND later.device_unit_id = i.device_unit_id AND later.armed_at > i.armed_at AND later.recorded_at <= $3) AS moved_at
    FROM installation i WHERE i.lab_id = $1 AND i.zone = $2 AND i.recorded_at <= $3)`;

/** All but what is heard of units. */
const BUT_REPORTS = `
  SELECT 'installation' AS kind, id, 'armed' AS word, armed_at AS at, recorded_at AS "knownAt", id AS unit, NULL::timestamptz AS "happenedAt", NULL::boolean AS latched, NULL::float8 AS "depthMm" FROM placed
  UNION ALL SELECT 'installation', id, 'removed', moved_at, moved_at, id, NULL, NULL, NULL FROM placed WHERE moved_at IS NOT NULL
  UNION ALL SELECT 'installation_end', e.id, 'removed', e.observed_at, e.recorded_at, e.installation_id, NULL, NULL, NULL ${AT('installation_end', 'e')}
  UNION ALL SELECT 'trip', t.id, 'trip', t.seen_at, t.recorded_at, t.installation_id, t.tripped_at, NULL, NULL ${AT('trip', 't')}
  UNION ALL SELECT 'latch_reset', s.id, CASE WHEN s.opened THEN 'reset' ELSE 'heard' END, s.observed_at, s.recorded_at, s.installation_id, NULL, true, NULL ${AT('latch_reset', 's')}
  UNION ALL SELECT 'decision', d.id, 'irrigated', d.decided_at, d.recorded_at, NULL, NULL, NULL, NULL FROM decision d
    WHERE d.lab_id = $1 AND d.zone = $2 AND d.action = 'IRRIGATE' AND d.recorded_at <= $3
  UNION ALL SELECT 'rain', n.id, 'rain', n.observed_at, n.recorded_at, NULL, NULL, NULL, n.depth_mm::float8 FROM rain n
    WHERE n.lab_id = $1 AND n.zone = $2 AND ${STOOD('n')}`;

const REPORT = (alias: string): string => `SELECT 'field_report', ${alias}.id, 'heard', ${alias}.observed_at, ${alias}.recorded_at, ${alias}.installation_id, NULL::timestamptz, ${alias}.latched, NULL::float8`;

/**
 * The reports that tell how units stand at $3: of a standing latch; the first of an open one after a latch was told; and the
 * newest of each unit. Another report of an open latch after one of an open latch changes nothing but when the unit was heard of.
 */
const TELLING_REPORTS = `
  latched AS MATERIALIZED (
    SELECT r.id, r.observed_at AS at, r.recorded_at, r.installation_id ${AT('field_report', 'r')} AND r.latched),
  told AS (SELECT at, installation_id FROM latched UNION ALL SELECT t.seen_at, t.installation_id ${AT('trip', 't')}
    UNION ALL SELECT s.observed_at, s.installation_id ${AT('latch_reset', 's')} AND NOT s.opened),
  telling AS (
    SELECT id FROM latched
    UNION SELECT newest.id FROM placed CROSS JOIN LATERAL (
      SELECT r.id FROM field_report r WHERE r.lab_id = $1 AND r.installation_id = placed.id AND ${STOOD('r')} ORDER BY r.observed_at DESC, r.id DESC LIMIT 1) newest
    UNION SELECT opened.id FROM told CROSS JOIN LATERAL (
      SELECT r.id FROM field_report r WHERE r.lab_id = $1 AND r.installation_id = told.installation_id AND r.observed_at >= told.at AND NOT r.latched AND ${STOOD('r')} ORDER BY r.observed_at, r.recorded_at LIMIT 1) opened)`;

const MOMENT = `WITH ${PLACED}, ${TELLING_REPORTS} ${BUT_REPORTS}
  UNION ALL ${REPORT('r')} FROM telling JOIN field_report r ON r.lab_id = $1 AND r.id = telling.id
  ORDER BY at, id`;

/**
 * What the record held of a zone at a moment, oldest first: all that tells how its units stand then. For the moment alone:
 * what was said of earlier ones may be left out where it was overtaken.
 */
export async function zoneFacts(tx: Tx, zone: string, moment: Date): Promise<ZoneFact[]> {
  return (await tx.query<FactRow>(MOMENT, [tx.labId, zone, moment])).map((row) => factOf(row, 'RECORDED'));
}

/**
 * The facts that an advice looked at, as they were, whatever was amended since. Looked up by name, not by the moment: a write
 * that was under way when the advice was made bears an earlier moment, and yet the advice could not know it.
 */
export async function factsOfAdvice(tx: Tx, adviceId: string): Promise<ZoneFact[]> {
  const rows = await tx.query<FactRow>(
    `WITH looked AS MATERIALIZED (SELECT to_id AS id FROM lineage_edge WHERE lab_id = $1 AND from_id = $2 AND role = 'looked at')
     SELECT 'installation' AS kind, i.id, 'armed' AS word, i.armed_at AS at, i.recorded_at AS "knownAt", i.id AS unit, NULL::timestamptz AS "happenedAt", NULL::boolean AS latched, NULL::float8 AS "depthMm"
       FROM looked JOIN installation i ON i.lab_id = $1 AND i.id = looked.id
     UNION ALL SELECT 'trip', t.id, 'trip', t.seen_at, t.recorded_at, t.installation_id, t.tripped_at, NULL, NULL FROM looked JOIN trip t ON t.lab_id = $1 AND t.id = looked.id
     UNION ALL SELECT 'latch_reset', s.id, CASE WHEN s.opened THEN 'reset' ELSE 'heard' END, s.observed_at, s.recorded_at, s.installation_id, NULL, true, NULL FROM looked JOIN latch_reset s ON s.lab_id = $1 AND s.id = looked.id
     UNION ALL SELECT 'decision', d.id, 'irrigated', d.decided_at, d.recorded_at, NULL, NULL, NULL, NULL FROM looked JOIN decision d ON d.lab_id = $1 AND d.id = looked.id
     UNION ALL SELECT 'rain', n.id, 'rain', n.observed_at, n.recorded_at, NULL, NULL, NULL, n.depth_mm::float8 FROM looked JOIN rain n ON n.lab_id = $1 AND n.id = looked.id
     UNION ALL ${REPORT('r')} FROM looked JOIN field_report r ON r.lab_id = $1 AND r.id = looked.id
     ORDER BY at, id`,
    [tx.labId, adviceId],
  );
  return rows.map((row) => factOf(row, 'RECORDED'));
}

const factOf = ({ kind, id, word, at, knownAt, unit, happenedAt, latched, depthMm }: FactRow, known: KnownBy): ZoneFact => ({
  kind, id,
  event: {
    kind: word, at: at.getTime(), knownAt: (known === 'SEEN' ? at : knownAt).getTime(),
    ...(unit !== null && { unit }), ...(word === 'trip' && { happenedAt: happenedAt?.getTime() ?? null }), ...(latched !== null && { latched }), ...(depthMm !== null && { depthMm }),
  } as ZoneEvent,
});

/** Everything ever told of a zone, as a replay needs it: reports packed unit by unit, since a season has many. */
export interface ZoneSeason {
  readonly events: readonly ZoneEvent[];
  /** By unit, as text: `[[at, knownAt, latched], …]`, moments in ms since 1970 UTC. */
  readonly reports: readonly { readonly unit: string; readonly packed: string }[];
}

const MS = (column: string): string => `(extract(epoch FROM ${column}) * 1000)::bigint`;

/** What the record holds of a zone at a moment, for its whole season. */
export async function zoneSeason(tx: Tx, zone: string, moment: Date, known: KnownBy): Promise<ZoneSeason> {
  const parameters = [tx.labId, zone, moment];
  const rows = await tx.query<FactRow>(`WITH ${PLACED} ${BUT_REPORTS} ORDER BY at, id`, parameters);
  const reports = await tx.query<{ unit: string; packed: string }>(
    `WITH ${PLACED} SELECT placed.id AS unit, '[' || packed.text || ']' AS packed FROM placed CROSS JOIN LATERAL (
       SELECT string_agg('[' || ${MS('r.observed_at')} || ',' || ${MS(known === 'SEEN' ? 'r.observed_at' : 'r.recorded_at')} || CASE WHEN r.latched THEN ',1]' ELSE ',0]' END, ',') AS text
       FROM field_report r WHERE r.lab_id = $1 AND r.installation_id = placed.id AND ${STOOD('r')}) packed
     WHERE packed.text IS NOT NULL`, parameters,
  );
  return { events: rows.map((row) => factOf(row, known).event), reports };
}

/** All events of a season. */
export const eventsOf = ({ events, reports }: ZoneSeason): ZoneEvent[] => [
  ...events,
  ...reports.flatMap(({ unit, packed }) => (JSON.parse(packed) as [number, number, 0 | 1][]).map(([at, knownAt, latched]): ZoneEvent => ({ kind: 'heard', unit, at, knownAt, latched: latched === 1 }))),
];

const HALF_DAY_MS = 12 * 3_600_000;

/** Solar noon nearest to a moment at the rule's place; each solar day is worked out once. */
export function solarNoonAt({ latitude, longitude }: Pick<ZoneRule, 'latitude' | 'longitude'>): SolarNoon {
  const [north, east] = [Number(latitude), Number(longitude)];
  const known = new Map<number, number>();
  return (at) => {
    // Days are counted from the local mean midnight, which is twelve hours from a mean noon: the equation of time is a quarter of an hour.
    const day = Math.floor(at / (2 * HALF_DAY_MS) + east / 360);
    let noon = known.get(day);
    if (noon === undefined) {
      noon = getTimes(new Date((day - east / 360) * 2 * HALF_DAY_MS + HALF_DAY_MS), north, east).solarNoon.getTime();
      known.set(day, noon);
    }
    return noon;
  };
}
