import { v7 as uuidv7 } from 'uuid';
import type { NoticeKind } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import type { Actor } from '../../platform/identity/actor.js';

/** Something to tell: to whom, about which record. */
export interface Telling {
  readonly kind: NoticeKind;
  /** What happened and what it means for the reader: whole sentences. */
  readonly text: string;
  readonly subjectKind: string;
  readonly subjectId: string;
  readonly accountIds: readonly string[];
}

export interface NoticeRow extends Omit<Telling, 'accountIds'> {
  readonly id: string;
  readonly toldAt: Date;
  readonly seenAt: Date | null;
}

/** Returns the ids of the notices written: a person who has not seen the same one yet is not told again. */
export async function insertNotices(tx: Tx, telling: Telling): Promise<string[]> {
  const rows = await tx.query<{ id: string }>(
    `INSERT INTO notice (lab_id, id, account_id, kind, text, subject_kind, subject_id)
     SELECT $1, told.id, told.account_id, $2, $3, $4, $5 FROM unnest($6::uuid[], $7::uuid[]) AS told(id, account_id)
     ON CONFLICT DO NOTHING RETURNING id`,
    [tx.labId, telling.kind, telling.text, telling.subjectKind, telling.subjectId, telling.accountIds.map(() => uuidv7()), telling.accountIds],
  );
  return rows.map(({ id }) => id);
}

/** Most that one page of a person's notices holds. */
const MOST = { unseen: 200, seen: 50 };

export const noticesOf = (tx: Tx, { accountId }: Actor, seen: boolean): Promise<NoticeRow[]> =>
  tx.query(
    `SELECT id, kind, text, subject_kind AS "subjectKind", subject_id AS "subjectId", told_at AS "toldAt", seen_at AS "seenAt"
     FROM notice WHERE lab_id = $1 AND account_id = $2 AND (seen_at IS NOT NULL) = $3
     ORDER BY id DESC LIMIT ${seen ? MOST.seen : MOST.unseen}`,
    [tx.labId, accountId, seen],
  );

export async function markSeen(tx: Tx, { accountId }: Actor, ids: readonly string[]): Promise<number> {
  const [row] = await tx.query<{ marked: number }>(
    `WITH marked AS (
       UPDATE notice SET seen_at = now() WHERE lab_id = $1 AND account_id = $2 AND id = ANY($3::uuid[]) AND seen_at IS NULL RETURNING 1
     ) SELECT count(*)::int AS marked FROM marked`,
    [tx.labId, accountId, ids],
  );
  return row!.marked;
}
