import type { Tx } from '../../platform/database/database.js';
import type { Actor } from '../../platform/identity/actor.js';

export interface CommentRow {
  readonly id: string;
  readonly at: Date;
  readonly by: string;
  readonly labId: string;
  readonly labName: string;
  readonly question: boolean;
  readonly text: string;
  readonly answersId: string | null;
  readonly shareId: string | null;
  readonly calibrationVersionId: string;
}

/** Comments that this lab may read, its own and those of labs it shares with, oldest first. Row-level security hands out no other. */
export const comments = (tx: Tx, by: 'share' | 'version', ids: readonly string[]): Promise<CommentRow[]> =>
  tx.query(
    `SELECT c.id, c.recorded_at AS at, account.display_name AS by, c.lab_id AS "labId", lab.name AS "labName", c.question, c.comment_text AS text,
       c.answers_id AS "answersId", c.share_id AS "shareId", c.calibration_version_id AS "calibrationVersionId"
     FROM calibration_comment c JOIN account ON account.id = c.recorded_by JOIN lab ON lab.id = c.lab_id
     WHERE ${by === 'share' ? 'c.share_id' : 'c.giver_lab_id = $2 AND c.calibration_version_id'} = ANY($1::uuid[]) ORDER BY c.recorded_at, c.id`,
    by === 'share' ? [ids] : [ids, tx.labId],
  );

/** Of a share, this lab's or one open to it: whose it is and which version it states. */
export async function shareSeen(tx: Tx, shareId: string): Promise<{ labId: string; calibrationVersionId: string } | null> {
  const [row] = await tx.query<{ labId: string; calibrationVersionId: string }>(
    'SELECT lab_id AS "labId", calibration_version_id AS "calibrationVersionId" FROM calibration_share WHERE id = $1', [shareId],
  );
  return row ?? null;
}

export async function follow(tx: Tx, { accountId }: Actor, giverLabId: string, shareId: string): Promise<void> {
  await tx.query('INSERT INTO share_subscription (lab_id, account_id, giver_lab_id, share_id) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING', [tx.labId, accountId, giverLabId, shareId]);
}

export async function unfollow(tx: Tx, { accountId }: Actor, shareId: string): Promise<void> {
  await tx.query('DELETE FROM share_subscription WHERE lab_id = $1 AND account_id = $2 AND share_id = $3', [tx.labId, accountId, shareId]);
}

export async function followedBy(tx: Tx, { accountId }: Actor, shareIds: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ id: string }>('SELECT share_id AS id FROM share_subscription WHERE lab_id = $1 AND account_id = $2 AND share_id = ANY($3::uuid[])', [tx.labId, accountId, shareIds]);
  return new Set(rows.map(({ id }) => id));
}
