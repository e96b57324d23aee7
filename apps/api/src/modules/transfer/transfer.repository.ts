import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { TransferStudy } from './transfer.entity.js';

export const transferStudiesOf = (tx: Tx, calibrationVersionId: string | null): Promise<TransferStudy[]> =>
  rowsWhere(tx, TransferStudy, '$2::uuid IS NULL OR calibration_version_id = $2', [calibrationVersionId], 'ORDER BY id DESC LIMIT 200');

/** Versions that studies adjusted, by study. */
export const adjustedBy = (tx: Tx, studyIds: readonly string[]): Promise<{ studyId: string; versionId: string }[]> =>
  tx.query(
    `SELECT to_id AS "studyId", from_id AS "versionId" FROM lineage_edge
     WHERE lab_id = $1 AND to_id = ANY($2::uuid[]) AND from_kind = 'calibration_version' AND role = 'adjusted by' ORDER BY from_id`,
    [tx.labId, studyIds],
  );

export interface CropVersion {
  readonly cropId: string;
  readonly versionId: string;
}

/** One log-linear version of each crop that leaf effects could be told of, made of its own leaves alone: the newest approved, else the newest that was not withdrawn. */
export const versionOfEachCrop = (tx: Tx): Promise<CropVersion[]> =>
  tx.query(
    `SELECT DISTINCT ON (calibration.crop_id) calibration.crop_id AS "cropId", version.id AS "versionId"
     FROM calibration_version version JOIN calibration ON calibration.lab_id = $1 AND calibration.id = version.calibration_id
       LEFT JOIN LATERAL (SELECT bool_or(s.meaning = 'APPROVED') AS approved, bool_or(s.meaning = 'WITHDRAWN') AS withdrawn
         FROM signature s WHERE s.lab_id = $1 AND s.subject_id = version.id) signed ON true
     WHERE version.lab_id = $1 AND version.family = 'LOG_LINEAR' AND (version.document->>'leafCount')::int >= 3 AND NOT coalesce(signed.withdrawn, false) AND NOT version.document ? 'adjustedFrom'
     ORDER BY calibration.crop_id, coalesce(signed.approved, false) DESC, version.id DESC`,
    [tx.labId],
  );
