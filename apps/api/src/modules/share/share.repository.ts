import type { ApprovalState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import type { CalibrationShare } from './share.entity.js';

export interface OtherLab {
  readonly id: string;
  readonly name: string;
}

export const otherLabs = (tx: Tx): Promise<OtherLab[]> => tx.query('SELECT id, name FROM lab WHERE id <> $1 ORDER BY name, id', [tx.labId]);

export const labsByIds = (tx: Tx, ids: readonly string[]): Promise<OtherLab[]> => tx.query('SELECT id, name FROM lab WHERE id = ANY($1::uuid[]) ORDER BY name', [ids]);

/** A share of another lab that stands open to this one: row-level security hands out no other. */
export interface SharedRow extends Pick<CalibrationShare, 'id' | 'labId' | 'recordedAt' | 'calibrationVersionId' | 'depth' | 'permits' | 'licence' | 'citation' | 'document'> {
  readonly giverName: string;
  /** The latest of its grants; null where one has no end. */
  readonly until: Date | null;
}

/** What other labs share with this one, newest first; of these ids only, where they are given. */
export const sharedWithLab = (tx: Tx, ids: readonly string[] | null = null): Promise<SharedRow[]> =>
  tx.query(
    `SELECT s.id, s.lab_id AS "labId", s.recorded_at AS "recordedAt", s.calibration_version_id AS "calibrationVersionId", s.depth, s.permits, s.licence, s.citation,
       s.document, lab.name AS "giverName", until.until
     FROM calibration_share s JOIN lab ON lab.id = s.lab_id
       JOIN shared_pack pack ON pack.lab_id = s.lab_id AND pack.share_id = s.id
       CROSS JOIN LATERAL (SELECT CASE WHEN bool_or(g.until IS NULL) THEN NULL ELSE max(g.until) END AS until
         FROM share_grant g WHERE g.lab_id = s.lab_id AND g.share_id = s.id AND (g.until IS NULL OR g.until > now())) until
     WHERE s.lab_id <> $1 AND ($2::uuid[] IS NULL OR s.id = ANY($2::uuid[])) ORDER BY s.id DESC`,
    [tx.labId, ids],
  );

/** The sealed pack of a share that this lab made or may see. */
export async function packOf(tx: Tx, shareId: string): Promise<Buffer | null> {
  const [row] = await tx.query<{ bytes: Buffer }>('SELECT bytes FROM shared_pack WHERE share_id = $1', [shareId]);
  return row?.bytes ?? null;
}

export async function packSizes(tx: Tx, shareIds: readonly string[]): Promise<Map<string, number>> {
  const rows = await tx.query<{ id: string; bytes: number }>('SELECT share_id AS id, length(bytes) AS bytes FROM shared_pack WHERE lab_id = $1 AND share_id = ANY($2::uuid[])', [tx.labId, shareIds]);
  return new Map(rows.map(({ id, bytes }) => [id, bytes]));
}

export async function layPack(tx: Tx, shareId: string, sha256: string, bytes: Buffer): Promise<void> {
  await tx.query('INSERT INTO shared_pack (lab_id, share_id, sha256, bytes) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING', [tx.labId, shareId, sha256, bytes]);
}

export interface Standing {
  readonly labId: string;
  readonly shareId: string;
  readonly state: ApprovalState;
  readonly stale: boolean;
  readonly since: Date;
  readonly reason: string | null;
}

/** How shares stand now, of this lab and of others, also where the grant has ended since. */
export async function standingsOf(tx: Tx, shareIds: readonly string[]): Promise<Map<string, Standing>> {
  const rows = await tx.query<Standing>(
    `SELECT DISTINCT ON (share_id) lab_id AS "labId", share_id AS "shareId", state, stale, since, reason
     FROM share_standing WHERE share_id = ANY($1::uuid[]) ORDER BY share_id, number DESC`, [shareIds],
  );
  return new Map(rows.map((row) => [row.shareId, row]));
}

export async function isGrantedStill(tx: Tx, giverId: string, shareId: string): Promise<boolean> {
  const [row] = await tx.query<{ open: boolean }>('SELECT share_stands_open($1, $2) AS open', [giverId, shareId]);
  return row!.open;
}

/** The signatures that decide a state, as in modules/signature; one statement for all shares of the lab. */
const has = (alias: string, meaning: string): string =>
  `EXISTS (SELECT FROM signature s WHERE s.lab_id = $1 AND s.subject_id = ${alias}.id AND s.meaning = '${meaning}')`;

/**
 * Writes how each share of this lab stands, where that is not as it was last written. Called in the transaction of
 * whatever may change it, so that nobody reads the old standing once the change is committed.
 *
 * @param reason why it changed, as others may read it
 */
export async function restateShares(tx: Tx, reason: string | null): Promise<void> {
  await tx.query(
    `INSERT INTO share_standing (lab_id, share_id, number, state, stale, reason)
     SELECT $1, now_.id, coalesce(last.number, 0) + 1, now_.state, now_.stale, $2
     FROM (
       SELECT share.id, CASE
           WHEN ${has('version', 'WITHDRAWN')} THEN 'WITHDRAWN'
           WHEN EXISTS (SELECT FROM calibration_version later WHERE later.lab_id = $1 AND later.calibration_id = version.calibration_id AND later.version > version.version
                          AND ${has('later', 'APPROVED')} AND NOT ${has('later', 'WITHDRAWN')}) THEN 'SUPERSEDED'
           WHEN ${has('version', 'APPROVED')} THEN 'APPROVED' WHEN ${has('version', 'REVIEWED')} THEN 'REVIEWED' ELSE 'DRAFT' END AS state,
         EXISTS (SELECT FROM stale_mark m WHERE m.lab_id = $1 AND m.result_id = version.id) AS stale
       FROM calibration_share share JOIN calibration_version version ON version.lab_id = $1 AND version.id = share.calibration_version_id
       WHERE share.lab_id = $1) now_
     LEFT JOIN LATERAL (SELECT number, state, stale FROM share_standing st WHERE st.lab_id = $1 AND st.share_id = now_.id ORDER BY number DESC LIMIT 1) last ON true
     WHERE last.number IS NULL OR last.state <> now_.state OR last.stale <> now_.stale`,
    [tx.labId, reason],
  );
}

/** Whether a record rests, however far down, on something taken over from another lab. */
export async function restsOnAdoption(tx: Tx, id: string): Promise<boolean> {
  const rows = await tx.query(
    `WITH RECURSIVE down(kind, id) AS (
       SELECT to_kind, to_id FROM lineage_edge WHERE lab_id = $1 AND from_id = $2
       UNION SELECT edge.to_kind, edge.to_id FROM down JOIN lineage_edge edge ON edge.lab_id = $1 AND edge.from_id = down.id
     ) SELECT 1 FROM down WHERE kind = 'calibration_adoption' LIMIT 1`, [tx.labId, id],
  );
  return rows.length > 0;
}
