import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { CalibrationScope } from './calibration-scope.entity.js';

export async function newestScope(tx: Tx, versionId: string): Promise<CalibrationScope | null> {
  const [row] = await rowsWhere(tx, CalibrationScope, 'calibration_version_id = $2', [versionId], 'ORDER BY id DESC LIMIT 1');
  return row ?? null;
}

/** Newest scope of each version that has one. */
export async function newestScopes(tx: Tx, versionIds: readonly string[]): Promise<Map<string, CalibrationScope>> {
  const rows = await rowsWhere(tx, CalibrationScope, 'calibration_version_id = ANY($2::uuid[])', [versionIds], 'ORDER BY id');
  return new Map(rows.map((row) => [row.calibrationVersionId, row]));
}

export interface CheckFailed {
  readonly instrument: string;
  readonly kind: string;
  readonly observedAt: Date;
}

/** Checks that failed after a moment, of a rig's meter and of the balances that weighed in some runs. An amended check is none. */
export const failedChecksSince = (tx: Tx, rigId: string, runIds: readonly string[], since: Date): Promise<CheckFailed[]> =>
  tx.query(
    `SELECT instrument.label AS instrument, instrument.kind, c.observed_at AS "observedAt"
     FROM instrument_check c JOIN instrument ON instrument.lab_id = $1 AND instrument.id = c.instrument_id
     WHERE c.lab_id = $1 AND c.observed_at > $4 AND abs(c.shown - c.nominal) > c.tolerance
       AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = c.id)
       AND (c.instrument_id = (SELECT meter_id FROM rig WHERE lab_id = $1 AND id = $2)
         OR c.instrument_id IN (SELECT balance_id FROM drying_run WHERE lab_id = $1 AND id = ANY($3::uuid[])))
     ORDER BY c.observed_at`,
    [tx.labId, rigId, runIds, since],
  );

/** The number of the newest version of a rig with this label. */
export async function newestRigVersion(tx: Tx, label: string): Promise<number> {
  const [row] = await tx.query<{ newest: number }>('SELECT max(version) AS newest FROM rig WHERE lab_id = $1 AND label = $2', [tx.labId, label]);
  return row!.newest;
}

/** Installations of certificates that rest on these versions, newest first. */
export const installationsOn = (tx: Tx, versionIds: readonly string[]): Promise<{ versionId: string; id: string }[]> =>
  tx.query(
    `SELECT c.calibration_version_id AS "versionId", i.id FROM installation i
     JOIN threshold_certificate c ON c.lab_id = $1 AND c.id = i.threshold_certificate_id
     WHERE i.lab_id = $1 AND c.calibration_version_id = ANY($2::uuid[]) ORDER BY i.id DESC`,
    [tx.labId, versionIds],
  );
