import type { ApprovalState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';

/** All of these read inside the fence of the lab that is to hear: what its policies hide is no news to it. */
interface News {
  /** Names the news once and for all. */
  readonly news: string;
  readonly giver: string;
  readonly what: string;
  readonly shareId: string;
}

export interface StandingNews extends News {
  readonly state: ApprovalState;
  readonly stale: boolean;
  readonly reason: string | null;
}

const untold = (news: string): string => `NOT EXISTS (SELECT FROM share_news_told told WHERE told.lab_id = $1 AND told.news = ${news})`;
/** What a share is called, from the share while it is open, else from what was taken over. */
const WHAT = (share: string): string => `coalesce(
  (SELECT (s.document->>'label') || ' version ' || (s.document->>'version') FROM calibration_share s WHERE s.id = ${share}),
  (SELECT (a.document->>'label') || ' version ' || (a.document->>'version') FROM calibration_adoption a WHERE a.lab_id = $1 AND a.share_id = ${share} LIMIT 1),
  'a calibration version')`;

export const newGrants = (tx: Tx): Promise<News[]> =>
  tx.query(
    `SELECT 'grant ' || g.id AS news, lab.name AS giver, ${WHAT('g.share_id')} AS what, g.share_id AS "shareId"
     FROM share_grant g JOIN lab ON lab.id = g.lab_id
     WHERE g.lab_id <> $1 AND share_stands_open(g.lab_id, g.share_id) AND EXISTS (SELECT FROM shared_pack p WHERE p.lab_id = g.lab_id AND p.share_id = g.share_id)
       AND ${untold("'grant ' || g.id")} ORDER BY g.recorded_at`, [tx.labId],
  );

export const newWithdrawals = (tx: Tx): Promise<(News & { reason: string })[]> =>
  tx.query(
    `SELECT 'withdrawal ' || w.id AS news, lab.name AS giver, ${WHAT('g.share_id')} AS what, g.share_id AS "shareId", w.reason
     FROM share_grant_withdrawal w JOIN lab ON lab.id = w.lab_id JOIN share_grant g ON g.lab_id = w.lab_id AND g.id = w.grant_id
     WHERE w.lab_id <> $1 AND NOT share_stands_open(g.lab_id, g.share_id) AND ${untold("'withdrawal ' || w.id")} ORDER BY w.recorded_at`, [tx.labId],
  );

/** Changes since somebody here took the version over or followed it. */
export const newStandings = (tx: Tx): Promise<StandingNews[]> =>
  tx.query(
    `SELECT 'standing ' || st.share_id || ' ' || st.number AS news, lab.name AS giver, ${WHAT('st.share_id')} AS what, st.share_id AS "shareId", st.state, st.stale, st.reason
     FROM share_standing st JOIN lab ON lab.id = st.lab_id
     WHERE st.lab_id <> $1 AND st.number > 1
       AND (EXISTS (SELECT FROM calibration_adoption a WHERE a.lab_id = $1 AND a.share_id = st.share_id AND a.origin_lab_id = st.lab_id AND a.recorded_at <= st.since)
         OR EXISTS (SELECT FROM share_subscription f WHERE f.lab_id = $1 AND f.share_id = st.share_id AND f.since <= st.since))
       AND ${untold("'standing ' || st.share_id || ' ' || st.number")} ORDER BY st.since`, [tx.labId],
  );

export interface CommentNews extends News {
  readonly by: string;
  readonly labName: string;
  readonly text: string;
  readonly question: boolean;
  readonly giverLabId: string;
  readonly calibrationVersionId: string;
}

/** What people of other labs said on shares that this lab gave, took over, or talks about. */
export const newComments = (tx: Tx): Promise<CommentNews[]> =>
  tx.query(
    `SELECT 'comment ' || c.id AS news, lab.name AS giver, ${WHAT('c.share_id')} AS what, c.share_id AS "shareId", account.display_name AS by, lab.name AS "labName",
       c.comment_text AS text, c.question, c.giver_lab_id AS "giverLabId", c.calibration_version_id AS "calibrationVersionId"
     FROM calibration_comment c JOIN account ON account.id = c.recorded_by JOIN lab ON lab.id = c.lab_id
     WHERE c.lab_id <> $1 AND c.share_id IS NOT NULL AND ${untold("'comment ' || c.id")} ORDER BY c.recorded_at`, [tx.labId],
  );

/** False when another process told it meanwhile. */
export async function markTold(tx: Tx, news: string): Promise<boolean> {
  return (await tx.query('INSERT INTO share_news_told (lab_id, news) VALUES ($1, $2) ON CONFLICT DO NOTHING RETURNING 1 AS told', [tx.labId, news])).length > 0;
}

const people = async (tx: Tx, sql: string, parameters: readonly unknown[]): Promise<string[]> => (await tx.query<{ id: string }>(sql, parameters)).map(({ id }) => id);

/** Who may take over and share: they hear of what is new. */
export const sharersOf = (tx: Tx): Promise<string[]> =>
  people(tx, `SELECT DISTINCT account_id AS id FROM membership WHERE lab_id = $1 AND role IN ('RESEARCHER', 'MANAGER')`, [tx.labId]);

export const followersOf = (tx: Tx, shareId: string): Promise<string[]> =>
  people(tx, 'SELECT account_id AS id FROM share_subscription WHERE lab_id = $1 AND share_id = $2', [tx.labId, shareId]);

/** Who of this lab shares it, or spoke about it. */
export const talkersOn = (tx: Tx, shareId: string): Promise<string[]> =>
  people(tx, `SELECT recorded_by AS id FROM calibration_share WHERE lab_id = $1 AND id = $2
    UNION SELECT recorded_by FROM calibration_comment WHERE lab_id = $1 AND share_id = $2`, [tx.labId, shareId]);

/** What this lab took over of a share, newest first. */
export const adoptersOf = (tx: Tx, shareId: string): Promise<{ versionId: string }[]> =>
  tx.query(
    `SELECT v.id AS "versionId" FROM calibration_adoption a JOIN calibration_version v ON v.lab_id = $1 AND v.calibration_adoption_id = a.id
     WHERE a.lab_id = $1 AND a.share_id = $2 ORDER BY v.id DESC`, [tx.labId, shareId],
  );
