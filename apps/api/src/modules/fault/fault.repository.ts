import type { InstrumentKind } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import type { RecordKey } from '../thread/thread.repository.js';

/** Facts of one instrument within a span: lab $1, instrument $2, from $3, to $4. Trip tests name no bias source. */
const FACTS: Readonly<Record<InstrumentKind, string | null>> = {
  BALANCE: `SELECT 'weighing' AS kind, id, observed_at AS at FROM weighing
    WHERE lab_id = $1 AND balance_id = $2 AND observed_at BETWEEN $3 AND $4`,
  POWER_METER: `SELECT 'meter_reading', r.id, r.observed_at FROM meter_reading r
    JOIN drying_run run ON run.lab_id = $1 AND run.id = r.drying_run_id JOIN rig ON rig.lab_id = $1 AND rig.id = run.rig_id
    WHERE r.lab_id = $1 AND rig.meter_id = $2 AND r.observed_at BETWEEN $3 AND $4`,
  OVEN: `SELECT 'oven_cycle', c.id, c.started_at FROM oven_cycle c
    LEFT JOIN oven_unloading u ON u.lab_id = $1 AND u.oven_cycle_id = c.id
    WHERE c.lab_id = $1 AND c.oven_id = $2 AND c.started_at <= $4 AND coalesce(u.unloaded_at, 'infinity') >= $3`,
  BIAS_SOURCE: null,
};

/** In order of time; null for a kind of instrument that facts do not name. */
export async function factsOf(tx: Tx, kind: InstrumentKind, instrumentId: string, from: Date, to: Date): Promise<RecordKey[] | null> {
  const facts = FACTS[kind];
  if (facts === null) return null;
  return tx.query<RecordKey>(`SELECT kind, id FROM (${facts}) AS fact(kind, id, at) ORDER BY at, id`, [tx.labId, instrumentId, from, to]);
}

/** Kinds told, in the order of the chain. Signatures and amendments rest on records too, but no fault moves them. */
const TOLD = ['rwc_series', 'calibration_version', 'bias_threshold_curve', 'threshold_certificate', 'installation', 'trip', 'field_check', 'decision'] as const;

export interface Touched extends RecordKey {
  readonly restsOn: number;
}

/** Everything that rests on one of the facts. UNION keeps a record once for each fact, so that no path is walked twice. */
export const touchedBy = (tx: Tx, factIds: readonly string[], most: number): Promise<Touched[]> =>
  tx.query(
    `WITH RECURSIVE up(fact, kind, id) AS (
       SELECT edge.to_id, edge.from_kind, edge.from_id FROM lineage_edge edge WHERE edge.lab_id = $1 AND edge.to_id = ANY($2::uuid[])
       UNION
       SELECT up.fact, edge.from_kind, edge.from_id FROM up JOIN lineage_edge edge ON edge.lab_id = $1 AND edge.to_id = up.id
     )
     SELECT kind, id, count(DISTINCT fact)::int AS "restsOn" FROM up WHERE kind = ANY($3::text[])
     GROUP BY kind, id ORDER BY array_position($3::text[], kind), id LIMIT $4`,
    [tx.labId, factIds, TOLD, most],
  );
