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
  readonly versionId: string;
  readonly instrument: string;
  readonly kind: string;
  readonly observedAt: Date;
}

/** Of each version the checks that failed since it was made, of its rig's meter and of the balances that weighed in its runs. An amended check is none. */
export const failedChecksSince = (tx: Tx, versions: readonly { readonly id: string; readonly rigId: string; readonly runIds: readonly string[]; readonly since: Date }[]): Promise<CheckFailed[]> =>
  tx.query(
    `SELECT asked.id AS "versionId", instrument.label AS instrument, instrument.kind, c.observed_at AS "observedAt"
     FROM jsonb_to_recordset($2::jsonb) AS asked(id uuid, "rigId" uuid, "runIds" jsonb, since timestamptz)
       JOIN instrument_check c ON c.lab_id = $1 AND c.observed_at > asked.since JOIN instrument ON instrument.lab_id = $1 AND instrument.id = c.instrument_id
     WHERE abs(c.shown - c.nominal) > c.tolerance
       AND NOT EXISTS (SELECT FROM amendment a WHERE a.lab_id = $1 AND a.target_id = c.id)
       AND (c.instrument_id = (SELECT meter_id FROM rig WHERE lab_id = $1 AND id = asked."rigId")
         OR c.instrument_id IN (SELECT balance_id FROM drying_run WHERE lab_id = $1 AND id IN (SELECT run::uuid FROM jsonb_array_elements_text(asked."runIds") AS run)))
     ORDER BY c.observed_at`,
    [tx.labId, JSON.stringify(versions)],
  );

/** The number of the newest version of the rigs with these labels. */
export async function newestRigVersions(tx: Tx, labels: readonly string[]): Promise<Map<string, number>> {
  const rows = await tx.query<{ label: string; newest: number }>('SELECT label, max(version) AS newest FROM rig WHERE lab_id = $1 AND label = ANY($2::text[]) GROUP BY label', [tx.labId, labels]);
  return new Map(rows.map(({ label, newest }) => [label, newest]));
}

/** Installations of certificates that rest on these versions, newest first. */
export const installationsOn = (tx: Tx, versionIds: readonly string[]): Promise<{ versionId: string; id: string }[]> =>
  tx.query(
    `SELECT c.calibration_version_id AS "versionId", i.id FROM installation i
     JOIN threshold_certificate c ON c.lab_id = $1 AND c.id = i.threshold_certificate_id
     WHERE i.lab_id = $1 AND c.calibration_version_id = ANY($2::uuid[]) ORDER BY i.id DESC`,
    [tx.labId, versionIds],
  );
