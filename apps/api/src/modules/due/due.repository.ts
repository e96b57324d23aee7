import { CONSTANT_MASS_RULES } from '#libs/leaf-water';
import type { DueKind } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsByIds } from '../../platform/database/rows.js';
import { constantMasses } from '../oven/constant-mass.js';
import { OvenCycle } from '../oven/oven.entity.js';
import { HOUSE_PARAMETERS } from '../protocol/protocol-parameters.js';
import { ENDED, SEEN } from '../field/field.repository.js';
import { REVIEWED_FIRST, type Signable } from '../signature/signature.repository.js';
import { SILENT_AFTER_HOURS } from '../zone/zone.repository.js';

export interface DueRow {
  readonly kind: DueKind;
  readonly dueAt: Date;
  readonly subjectKind: string;
  readonly subjectId: string;
  readonly label: string;
  /** Who made the record, where another person must act. */
  readonly madeBy: string | null;
  /** Who has put a name to it already. */
  readonly signedBy: readonly string[] | null;
}

/** Readings between two references before the next bracket is due; trade practice is every 5 to 10 (common practice, no source). */
const READINGS_A_BRACKET = 8;

const NOT_AMENDED = (id: string): string => `NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = ${id})`;
const STEP = (step: string): string => `EXISTS (SELECT FROM drying_run_step s WHERE s.lab_id = $1 AND s.drying_run_id = run.id AND s.step = '${step}')`;
const SIGNED = (meaning: string): string => `EXISTS (SELECT FROM signature s WHERE s.lab_id = $1 AND s.subject_id = r.id AND s.meaning = '${meaning}')`;
/** Drafts that a later version or certificate has overtaken ask for nothing. */
const NEWEST: Record<Signable, string> = {
  calibration_version: 'NOT EXISTS (SELECT FROM calibration_version later WHERE later.lab_id = $1 AND later.calibration_id = r.calibration_id AND later.version > r.version)',
  protocol: 'NOT EXISTS (SELECT FROM protocol later WHERE later.lab_id = $1 AND lower(later.name) = lower(r.name) AND later.version > r.version)',
  zone_rule: 'NOT EXISTS (SELECT FROM zone_rule later WHERE later.lab_id = $1 AND later.zone = r.zone AND later.version > r.version)',
  threshold_certificate: 'NOT EXISTS (SELECT FROM threshold_certificate later WHERE later.lab_id = $1 AND later.device_unit_id = r.device_unit_id AND later.id > r.id)',
};

/** How far apart, at the least, two checks of an oven cycle must be to decide about one of its discs: by the protocol of the disc's run, else by the rule of the cycle. */
const CHECKS_APART = `LATERAL (
      SELECT min(coalesce((p.parameters->>'constantMassIntervalMin')::float8,
        CASE cycle.constant_mass_rule ${Object.entries(CONSTANT_MASS_RULES).map(([key, { intervalMin }]) => `WHEN '${key}' THEN ${intervalMin}`).join(' ')} ELSE ${CONSTANT_MASS_RULES.disc.intervalMin} END)) AS least_min
      FROM unnest(cycle.disc_ids) AS disc_id
        LEFT JOIN LATERAL (SELECT protocol_id FROM drying_run r WHERE r.lab_id = $1 AND r.disc_ids @> ARRAY[disc_id] ORDER BY r.opened_at DESC LIMIT 1) run ON true
        LEFT JOIN protocol p ON p.lab_id = $1 AND p.id = run.protocol_id) apart`;

const review = (kind: Signable, label: string, join: string): string => `
  SELECT CASE WHEN ${REVIEWED_FIRST[kind] ? SIGNED('REVIEWED') : 'true'} THEN 'APPROVAL' ELSE 'REVIEW' END, r.recorded_at, '${kind}', r.id, ${label}, r.recorded_by,
    (SELECT array_agg(s.recorded_by) FROM signature s WHERE s.lab_id = $1 AND s.subject_id = r.id)
  FROM ${kind} r ${join}
  WHERE r.lab_id = $1 AND NOT ${SIGNED('APPROVED')} AND NOT ${SIGNED('WITHDRAWN')} AND ${NEWEST[kind]}
    AND NOT EXISTS (SELECT FROM stale_mark s WHERE s.lab_id = $1 AND s.result_id = r.id)`;

/** Everything that must happen until a moment, in one statement, soonest first. */
export const DUE = `
  SELECT * FROM (
    SELECT 'NEXT_READING'::text AS kind, coalesce(last.at, run.opened_at) + make_interval(mins => run.rhythm_min) AS "dueAt",
           'drying_run'::text AS "subjectKind", run.id AS "subjectId", run.label AS label, NULL::uuid AS "madeBy", NULL::uuid[] AS "signedBy"
    FROM drying_run run LEFT JOIN LATERAL (
      SELECT max(at) AS at FROM (
        SELECT max(observed_at) AS at FROM weighing w WHERE w.lab_id = $1 AND w.drying_run_id = run.id
        UNION ALL SELECT max(observed_at) FROM meter_reading m WHERE m.lab_id = $1 AND m.drying_run_id = run.id) moments) last ON true
    WHERE run.lab_id = $1 AND NOT ${STEP('CLOSED')} AND coalesce(last.at, run.opened_at) > $2::timestamptz - interval '12 hours'
    UNION ALL
    SELECT 'RUN_TO_CLOSE', coalesce(last.at, run.opened_at), 'drying_run', run.id, run.label, NULL, NULL
    FROM drying_run run LEFT JOIN LATERAL (
      SELECT max(observed_at) AS at FROM weighing w WHERE w.lab_id = $1 AND w.drying_run_id = run.id) last ON true
    WHERE run.lab_id = $1 AND NOT ${STEP('CLOSED')} AND coalesce(last.at, run.opened_at) <= $2::timestamptz - interval '12 hours'
    UNION ALL
    SELECT 'RUN_TO_RELEASE', closed.recorded_at, 'drying_run', run.id, run.label, NULL, NULL
    FROM drying_run run JOIN drying_run_step closed ON closed.lab_id = $1 AND closed.drying_run_id = run.id AND closed.step = 'CLOSED'
    WHERE run.lab_id = $1 AND NOT ${STEP('RELEASED')}
      AND NOT EXISTS (SELECT FROM unnest(run.disc_ids) AS member(disc_id)
        WHERE NOT EXISTS (SELECT FROM weighing w WHERE w.lab_id = $1 AND w.disc_id = member.disc_id AND w.state = 'DRY')
          AND NOT EXISTS (SELECT FROM sample_loss l WHERE l.lab_id = $1 AND l.subject_id = member.disc_id AND ${NOT_AMENDED('l.id')}))
    UNION ALL
    SELECT 'BRACKET', since.last_at, 'drying_run', run.id, run.label, NULL, NULL
    FROM drying_run run CROSS JOIN LATERAL (
      SELECT count(*) AS readings, max(m.observed_at) AS last_at FROM meter_reading m
      WHERE m.lab_id = $1 AND m.drying_run_id = run.id AND m.light_path = 'READING' AND m.observed_at > coalesce((
        SELECT max(b.observed_at) FROM meter_reading b WHERE b.lab_id = $1 AND b.drying_run_id = run.id AND b.light_path = 'REFERENCE'), '-infinity')) since
    WHERE run.lab_id = $1 AND NOT ${STEP('CLOSED')} AND since.readings >= ${READINGS_A_BRACKET}
    UNION ALL
    SELECT CASE WHEN cooling.cooled_at > coalesce(last.at, '-infinity') THEN 'DISCS_COOLED' ELSE 'OVEN_CHECK' END,
           CASE WHEN cooling.cooled_at > coalesce(last.at, '-infinity') THEN cooling.cooled_at
                WHEN last.at IS NULL THEN cycle.started_at + interval '24 hours'
                ELSE last.at + make_interval(secs => 60 * apart.least_min) END,
           'oven_cycle', cycle.id, cycle.label, NULL, NULL
    FROM oven_cycle cycle LEFT JOIN LATERAL (
      SELECT max(observed_at) AS at FROM weighing w WHERE w.lab_id = $1 AND w.oven_cycle_id = cycle.id) last ON true
    LEFT JOIN LATERAL (
      SELECT max(c.taken_out_at + make_interval(mins => c.cooling_min)) AS cooled_at FROM oven_cooling c
      WHERE c.lab_id = $1 AND c.oven_cycle_id = cycle.id AND ${NOT_AMENDED('c.id')}) cooling ON true
    CROSS JOIN ${CHECKS_APART}
    WHERE cycle.lab_id = $1 AND NOT EXISTS (SELECT FROM oven_unloading u WHERE u.lab_id = $1 AND u.oven_cycle_id = cycle.id)
    UNION ALL
    SELECT 'INSTALLATION_SILENT', seen.heard_at + make_interval(secs => 3600 * coalesce(rule.silent_after_hours, ${SILENT_AFTER_HOURS})::float8), 'installation', i.id,
           device_unit.label || ' in zone ' || i.zone, NULL, NULL
    FROM installation i JOIN device_unit ON device_unit.lab_id = $1 AND device_unit.id = i.device_unit_id
      CROSS JOIN ${SEEN}
      LEFT JOIN LATERAL (SELECT z.silent_after_hours FROM zone_rule z WHERE z.lab_id = $1 AND z.zone = i.zone
        AND EXISTS (SELECT FROM signature s WHERE s.lab_id = $1 AND s.subject_id = z.id AND s.meaning = 'APPROVED')
        AND NOT EXISTS (SELECT FROM signature s WHERE s.lab_id = $1 AND s.subject_id = z.id AND s.meaning = 'WITHDRAWN') ORDER BY z.version DESC LIMIT 1) rule ON true
    WHERE i.lab_id = $1 AND NOT ${ENDED}
    UNION ALL
    SELECT 'INSTRUMENT_CHECK', coalesce(last.good_until, instrument.recorded_at), 'instrument', instrument.id, instrument.label, NULL, NULL
    FROM instrument LEFT JOIN LATERAL (
      -- A failed check is good for no time: the instrument is due at once.
      SELECT CASE WHEN abs(c.shown - c.nominal) <= c.tolerance
               THEN c.observed_at + make_interval(hours => instrument.check_every_hours) ELSE c.observed_at END AS good_until
      FROM instrument_check c WHERE c.lab_id = $1 AND c.instrument_id = instrument.id AND ${NOT_AMENDED('c.id')}
      ORDER BY c.observed_at DESC LIMIT 1) last ON true
    WHERE instrument.lab_id = $1
    UNION ALL
    SELECT 'INSTRUMENT_CALIBRATION', last.due_at, 'instrument', instrument.id, instrument.label, NULL, NULL
    FROM instrument CROSS JOIN LATERAL (
      SELECT c.due_at FROM instrument_calibration c WHERE c.lab_id = $1 AND c.instrument_id = instrument.id AND ${NOT_AMENDED('c.id')}
      ORDER BY c.calibrated_at DESC LIMIT 1) last
    WHERE instrument.lab_id = $1
    UNION ALL
    SELECT 'HYDRATION_ENDS', h.started_at + make_interval(secs => 60 * coalesce((protocol.parameters->>'hydrationLeastMin')::float8, ${HOUSE_PARAMETERS.hydrationLeastMin})), 'hydration', h.id, h.label, NULL, NULL
    FROM hydration h LEFT JOIN protocol ON protocol.lab_id = $1 AND protocol.id = h.protocol_id
    WHERE h.lab_id = $1 AND ${NOT_AMENDED('h.id')}
      AND NOT EXISTS (SELECT FROM hydration_end e WHERE e.lab_id = $1 AND e.hydration_id = h.id AND ${NOT_AMENDED('e.id')})
    UNION ALL ${review('protocol', "'protocol ' || r.name || ' version ' || r.version", '')}
    UNION ALL ${review('zone_rule', "'the rule of zone ' || r.zone || ', version ' || r.version", '')}
    UNION ALL ${review('calibration_version', "calibration.label || ' version ' || r.version", 'JOIN calibration ON calibration.lab_id = $1 AND calibration.id = r.calibration_id')}
    UNION ALL ${review('threshold_certificate', "'of unit ' || device_unit.label", 'JOIN device_unit ON device_unit.lab_id = $1 AND device_unit.id = r.device_unit_id')}
    UNION ALL
    SELECT 'TRIP_TO_DECIDE', trip.seen_at, 'trip', trip.id, device_unit.label || ' in zone ' || installation.zone, NULL, NULL
    FROM trip JOIN installation ON installation.lab_id = $1 AND installation.id = trip.installation_id
      JOIN device_unit ON device_unit.lab_id = $1 AND device_unit.id = installation.device_unit_id
    WHERE trip.lab_id = $1 AND ${NOT_AMENDED('trip.id')}
      AND NOT EXISTS (SELECT FROM decision WHERE decision.lab_id = $1 AND decision.trip_ids @> ARRAY[trip.id])
    UNION ALL
    SELECT 'STALE_RESULT', max(amendment.recorded_at), 'rwc_series', series.id, disc.label, NULL, NULL
    FROM stale_mark mark JOIN amendment ON amendment.lab_id = $1 AND amendment.id = mark.amendment_id
      JOIN rwc_series series ON series.lab_id = $1 AND series.id = mark.result_id
      JOIN disc ON disc.lab_id = $1 AND disc.id = series.disc_id
    WHERE mark.lab_id = $1 AND NOT EXISTS (SELECT FROM rwc_series later WHERE later.lab_id = $1 AND later.disc_id = series.disc_id AND later.id > series.id)
    GROUP BY series.id, disc.label
    UNION ALL
    SELECT 'CERTIFICATE_ENDS', r.valid_until, 'threshold_certificate', r.id, device_unit.label, NULL, NULL
    FROM threshold_certificate r JOIN device_unit ON device_unit.lab_id = $1 AND device_unit.id = r.device_unit_id
    WHERE r.lab_id = $1 AND ${SIGNED('APPROVED')} AND NOT ${SIGNED('WITHDRAWN')} AND ${NEWEST.threshold_certificate}
      AND EXISTS (SELECT FROM installation i WHERE i.lab_id = $1 AND i.threshold_certificate_id = r.id)
  ) due WHERE "dueAt" <= $3 ORDER BY "dueAt", label LIMIT 500`;

export const dueUntil = async (tx: Tx, now: Date, until: Date): Promise<DueRow[]> => unloadWhereDry(tx, await tx.query<DueRow>(DUE, [tx.labId, now, until]));

/** A cycle whose discs are all dry, or gone, asks to be unloaded, since the last of them was seen to be, and not to be weighed once more. */
async function unloadWhereDry(tx: Tx, rows: DueRow[]): Promise<DueRow[]> {
  const loaded = rows.filter(({ kind }) => kind === 'OVEN_CHECK').map(({ subjectId }) => subjectId);
  if (loaded.length === 0) return rows;
  const masses = await constantMasses(tx, await rowsByIds(tx, OvenCycle, loaded));
  return rows.map((row): DueRow => {
    const discs = row.kind === 'OVEN_CHECK' ? (masses.get(row.subjectId) ?? []) : [];
    if (discs.length === 0 || !discs.every(({ result, gone }) => result?.constant || gone)) return row;
    const seen = discs.flatMap(({ lastAt }) => lastAt?.getTime() ?? []);
    return { ...row, kind: 'OVEN_UNLOAD', dueAt: seen.length > 0 ? new Date(Math.max(...seen)) : row.dueAt };
  }).sort((a, b) => a.dueAt.getTime() - b.dueAt.getTime());
}
