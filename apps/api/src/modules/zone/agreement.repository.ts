import type { Tx } from '../../platform/database/database.js';

export interface CheckRow {
  readonly fieldCheckId: string;
  readonly tripId: string;
  readonly certificateId: string;
  readonly calibrationVersionId: string;
  readonly unitId: string;
  readonly unitLabel: string;
  readonly lotId: string;
  readonly lotLabel: string;
  readonly calibrationLabel: string;
  readonly lightReferenceId: string;
  readonly lightLabel: string;
  /** When the check was recorded. */
  readonly recordedAt: Date;
  readonly cropId: string;
  readonly cropName: string;
  readonly lightPowerNw: number | null;
  readonly targetRwc: number;
  readonly tripRwcLow: number;
  readonly tripRwcHigh: number;
  readonly realisedRwc: number;
  readonly discCount: number;
}

/** A check speaks of a trip that was seen at most so long before its discs were taken, h. Common practice, no source. */
const TRIP_BEFORE_HOURS = 24;
const CHECKS_MOST = 2_000;

/** Newest field checks of a trip whose discs have an RWC that is not stale: the first mass of each disc is the one in the field. */
export const checkedTrips = (tx: Tx): Promise<CheckRow[]> =>
  tx.query(
    `SELECT c.id AS "fieldCheckId", c.recorded_at AS "recordedAt", light.id AS "lightReferenceId", light.label AS "lightLabel", trip.id AS "tripId", cert.id AS "certificateId", version.id AS "calibrationVersionId", unit.id AS "unitId", unit.label AS "unitLabel",
       lot.id AS "lotId", lot.label AS "lotLabel", calibration.label || ' version ' || version.version AS "calibrationLabel", crop.id AS "cropId", crop.name AS "cropName",
       trip.light_power_nw::float8 AS "lightPowerNw", cert.target_rwc AS "targetRwc", (cert.document->>'tripRwcLow')::float8 AS "tripRwcLow", (cert.document->>'tripRwcHigh')::float8 AS "tripRwcHigh",
       realised.rwc AS "realisedRwc", realised.discs AS "discCount"
     FROM field_check c
       JOIN installation i ON i.lab_id = $1 AND i.id = c.installation_id
       JOIN LATERAL (
         SELECT t.* FROM trip t WHERE t.lab_id = $1 AND t.installation_id = i.id AND t.seen_at <= c.observed_at AND t.seen_at > c.observed_at - interval '${TRIP_BEFORE_HOURS} hours'
           AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = t.id) ORDER BY t.seen_at DESC LIMIT 1) trip ON true
       JOIN LATERAL (
         SELECT avg((newest.document #>> '{points,0,rwc}')::float8) AS rwc, count(*)::int AS discs FROM (
           SELECT DISTINCT ON (s.disc_id) s.id, s.document FROM rwc_series s WHERE s.lab_id = $1 AND s.disc_id = ANY(c.disc_ids) ORDER BY s.disc_id, s.id DESC) newest
         WHERE NOT EXISTS (SELECT FROM stale_mark m WHERE m.lab_id = $1 AND m.result_id = newest.id)) realised ON realised.discs > 0
       JOIN threshold_certificate cert ON cert.lab_id = $1 AND cert.id = i.threshold_certificate_id
       JOIN light_reference light ON light.lab_id = $1 AND light.id = cert.light_reference_id
       JOIN calibration_version version ON version.lab_id = $1 AND version.id = cert.calibration_version_id
       JOIN calibration ON calibration.lab_id = $1 AND calibration.id = version.calibration_id
       JOIN crop ON crop.lab_id = $1 AND crop.id = calibration.crop_id
       JOIN device_unit unit ON unit.lab_id = $1 AND unit.id = i.device_unit_id
       JOIN device_lot lot ON lot.lab_id = $1 AND lot.id = unit.device_lot_id
     WHERE c.lab_id = $1 AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = c.id)
     ORDER BY c.observed_at DESC LIMIT ${CHECKS_MOST}`, [tx.labId],
  );
