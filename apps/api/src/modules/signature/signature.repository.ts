import type { ApprovalState, Role } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';

/** What can be signed, by the table it lives in. */
export const SIGNABLE = ['calibration_version', 'threshold_certificate', 'zone_rule', 'protocol'] as const;
export type Signable = (typeof SIGNABLE)[number];

/** Results pass a review before their approval; what a lab merely decides is approved at once. */
export const REVIEWED_FIRST: Record<Signable, boolean> = { calibration_version: true, threshold_certificate: true, zone_rule: true, protocol: false };

/** Whose approval counts. */
export const APPROVERS: Record<Signable, readonly Role[]> = {
  calibration_version: ['MANAGER', 'RESEARCHER'], threshold_certificate: ['MANAGER', 'RESEARCHER'], zone_rule: ['MANAGER', 'RESEARCHER'], protocol: ['MANAGER'],
};

/** A version is superseded by a later approved one of its calibration, a certificate by a later approved one of its unit. */
const LATER: Record<Signable, string> = {
  calibration_version: 'later.calibration_id = subject.calibration_id AND later.version > subject.version',
  threshold_certificate: 'later.device_unit_id = subject.device_unit_id AND later.id > subject.id',
  zone_rule: 'later.zone = subject.zone AND later.version > subject.version',
  protocol: 'lower(later.name) = lower(subject.name) AND later.version > subject.version',
};

/** What ends a result besides its own signatures: a version taken over falls with the one it was taken from. */
const FALLS_WITH: Partial<Record<Signable, string>> = {
  calibration_version: `EXISTS (SELECT FROM calibration_adoption adoption JOIN share_standing standing ON standing.lab_id = adoption.origin_lab_id AND standing.share_id = adoption.share_id
    WHERE adoption.lab_id = $1 AND adoption.id = subject.calibration_adoption_id AND standing.state = 'WITHDRAWN')`,
};

/** Approval states of results of one kind; one statement for all. */
export async function approvalStates(tx: Tx, kind: Signable, ids: readonly string[]): Promise<Map<string, ApprovalState>> {
  const has = (alias: string, meaning: string): string =>
    `EXISTS (SELECT FROM signature s WHERE s.lab_id = $1 AND s.subject_id = ${alias}.id AND s.meaning = '${meaning}')`;
  const rows = await tx.query<{ id: string; state: ApprovalState }>(
    `SELECT subject.id, CASE
       WHEN ${has('subject', 'WITHDRAWN')} OR ${FALLS_WITH[kind] ?? 'false'} THEN 'WITHDRAWN'
       WHEN EXISTS (SELECT FROM ${kind} later WHERE later.lab_id = $1 AND ${LATER[kind]}
                      AND ${has('later', 'APPROVED')} AND NOT ${has('later', 'WITHDRAWN')}) THEN 'SUPERSEDED'
       WHEN ${has('subject', 'APPROVED')} THEN 'APPROVED'
       WHEN ${has('subject', 'REVIEWED')} THEN 'REVIEWED'
       ELSE 'DRAFT' END AS state
     FROM ${kind} subject WHERE subject.lab_id = $1 AND subject.id = ANY($2::uuid[])`,
    [tx.labId, ids],
  );
  return new Map(rows.map(({ id, state }) => [id, state]));
}

export async function subjectOf(tx: Tx, kind: Signable, id: string): Promise<{ contentHash: Buffer; recordedBy: string } | null> {
  const rows = await tx.query<{ contentHash: Buffer; recordedBy: string }>(
    `SELECT content_hash AS "contentHash", recorded_by AS "recordedBy" FROM ${kind} WHERE lab_id = $1 AND id = $2`, [tx.labId, id],
  );
  return rows[0] ?? null;
}

/** What a person holds on the strength of an approval: others' signed results, and units in the field. */
export const HELD: readonly string[] = [...SIGNABLE, 'installation'];
