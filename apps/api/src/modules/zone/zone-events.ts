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

/** Standing at $3: nothing had taken it out of use by then. */
const STANDING = (id: string): string => `NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${id} AND a.recorded_at <= $3)`;
const AT = (table: string, alias: string): string => `FROM ${table} ${alias} JOIN placed ON placed.id = ${alias}.installation_id WHERE ${alias}.lab_id = $1 AND ${alias}.recorded_at <= $3 AND ${STANDING(`${alias}.id`)}`;

/** Everything a rule looks at, in one statement. A unit that is installed anew leaves its earlier place then. */
const FACTS = `
  WITH placed AS MATERIALIZED (
    SELECT i.id, i.armed_at, i.recorded_at,
      (SELECT min(later.armed_at) FROM installation later WHERE later.lab_id = $1 AND later.device_unit_id = i.device_unit_id AND later.armed_at > i.armed_at AND later.recorded_at <= $3) AS moved_at
    FROM installation i WHERE i.lab_id = $1 AND i.zone = $2 AND i.recorded_at <= $3)
  SELECT 'installation' AS kind, id, 'armed' AS word, armed_at AS at, recorded_at AS "knownAt", id AS unit, NULL::timestamptz AS "happenedAt", NULL::boolean AS latched, NULL::float8 AS "depthMm" FROM placed
  UNION ALL SELECT 'installation', id, 'removed', moved_at, moved_at, id, NULL, NULL, NULL FROM placed WHERE moved_at IS NOT NULL
  UNION ALL SELECT 'installation_end', e.id, 'removed', e.observed_at, e.recorded_at, e.installation_id, NULL, NULL, NULL ${AT('installation_end', 'e')}
  UNION ALL SELECT 'trip', t.id, 'trip', t.seen_at, t.recorded_at, t.installation_id, t.tripped_at, NULL, NULL ${AT('trip', 't')}
  UNION ALL SELECT 'field_report', r.id, 'heard', r.observed_at, r.recorded_at, r.installation_id, NULL, r.latched, NULL ${AT('field_report', 'r')}
  UNION ALL SELECT 'latch_reset', s.id, CASE WHEN s.opened THEN 'reset' ELSE 'heard' END, s.observed_at, s.recorded_at, s.installation_id, NULL, true, NULL ${AT('latch_reset', 's')}
  UNION ALL SELECT 'decision', d.id, 'irrigated', d.decided_at, d.recorded_at, NULL, NULL, NULL, NULL FROM decision d
    WHERE d.lab_id = $1 AND d.zone = $2 AND d.action = 'IRRIGATE' AND d.recorded_at <= $3
  UNION ALL SELECT 'rain', n.id, 'rain', n.observed_at, n.recorded_at, NULL, NULL, NULL, n.depth_mm::float8 FROM rain n
    WHERE n.lab_id = $1 AND n.zone = $2 AND n.recorded_at <= $3 AND ${STANDING('n.id')}
  ORDER BY at, id`;

/** What the record held of a zone at a moment, oldest first. */
export async function zoneFacts(tx: Tx, zone: string, recordedUntil: Date, known: KnownBy): Promise<ZoneFact[]> {
  const rows = await tx.query<FactRow>(FACTS, [tx.labId, zone, recordedUntil]);
  return rows.map(({ kind, id, word, at, knownAt, unit, happenedAt, latched, depthMm }) => ({
    kind, id,
    event: {
      kind: word, at: at.getTime(), knownAt: (known === 'SEEN' ? at : knownAt).getTime(),
      ...(unit !== null && { unit }), ...(word === 'trip' && { happenedAt: happenedAt?.getTime() ?? null }), ...(latched !== null && { latched }), ...(depthMm !== null && { depthMm }),
    } as ZoneEvent,
  }));
}

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
