import type { Role } from '../../generated/schema.js';
import type { Tx } from '../database/database.js';

export interface AccountRow {
  readonly id: string;
  readonly email: string;
  readonly displayName: string;
  readonly passwordHash: string;
}

export interface LabMembership {
  readonly labId: string;
  readonly labName: string;
  readonly roles: Role[];
}

const ACCOUNT = 'id, email, display_name AS "displayName", password_hash AS "passwordHash"';

export async function accountByEmail(tx: Tx, email: string): Promise<AccountRow | null> {
  const rows = await tx.query<AccountRow>(`SELECT ${ACCOUNT} FROM account WHERE lower(email) = lower($1) AND disabled_at IS NULL`, [email]);
  return rows[0] ?? null;
}

export async function accountById(tx: Tx, id: string): Promise<AccountRow | null> {
  const rows = await tx.query<AccountRow>(`SELECT ${ACCOUNT} FROM account WHERE id = $1 AND disabled_at IS NULL`, [id]);
  return rows[0] ?? null;
}

export async function insertAccount(tx: Tx, account: AccountRow): Promise<void> {
  await tx.query('INSERT INTO account (id, email, display_name, password_hash) VALUES ($1, $2, $3, $4)', [
    account.id, account.email, account.displayName, account.passwordHash,
  ]);
}

export async function updatePassword(tx: Tx, accountId: string, passwordHash: string): Promise<void> {
  await tx.query('UPDATE account SET password_hash = $2 WHERE id = $1', [accountId, passwordHash]);
}

/** Labs that the account of the transaction's fence belongs to, by name. */
export async function membershipsOf(tx: Tx, accountId: string): Promise<LabMembership[]> {
  return tx.query<LabMembership>(
    `SELECT lab.id AS "labId", lab.name AS "labName", array_agg(membership.role ORDER BY membership.role) AS roles
     FROM membership JOIN lab ON lab.id = membership.lab_id
     WHERE membership.account_id = $1 GROUP BY lab.id, lab.name ORDER BY lab.name`,
    [accountId],
  );
}

export async function insertLab(tx: Tx, lab: { id: string; name: string; demo: boolean }): Promise<void> {
  await tx.query('INSERT INTO lab (id, name, demo) VALUES ($1, $2, $3)', [lab.id, lab.name, lab.demo]);
}

export async function insertMemberships(tx: Tx, labId: string, accountId: string, roles: readonly Role[]): Promise<void> {
  await tx.query(
    'INSERT INTO membership (lab_id, account_id, role) SELECT $1, $2, unnest($3::text[]) ON CONFLICT DO NOTHING',
    [labId, accountId, roles],
  );
}

export async function membersOfLab(tx: Tx): Promise<{ id: string; displayName: string; email: string; roles: Role[] }[]> {
  return tx.query(
    `SELECT account.id, account.display_name AS "displayName", account.email, array_agg(membership.role ORDER BY membership.role) AS roles
     FROM membership JOIN account ON account.id = membership.account_id
     WHERE membership.lab_id = $1 GROUP BY account.id ORDER BY account.display_name`,
    [tx.labId],
  );
}

/** Accounts of the lab that have any of these roles in it. */
export async function membersWithRole(tx: Tx, roles: readonly Role[]): Promise<string[]> {
  const rows = await tx.query<{ id: string }>('SELECT DISTINCT account_id AS id FROM membership WHERE lab_id = $1 AND role = ANY($2::text[])', [tx.labId, roles]);
  return rows.map(({ id }) => id);
}

export async function peopleByIds(tx: Tx, ids: readonly string[]): Promise<{ id: string; displayName: string }[]> {
  return tx.query('SELECT id, display_name AS "displayName" FROM account WHERE id = ANY($1::uuid[])', [ids]);
}

export async function insertSession(tx: Tx, session: { tokenHash: Buffer; accountId: string; labId: string | null; hours: number }): Promise<void> {
  await tx.query(
    `INSERT INTO session (token_hash, account_id, lab_id, expires_at) VALUES ($1, $2, $3, now() + make_interval(hours => $4))`,
    [session.tokenHash, session.accountId, session.labId, session.hours],
  );
}

export interface SessionRow {
  readonly accountId: string;
  readonly displayName: string;
  readonly labId: string | null;
}

export async function standingSession(tx: Tx, tokenHash: Buffer): Promise<SessionRow | null> {
  const rows = await tx.query<SessionRow>(
    `SELECT account.id AS "accountId", account.display_name AS "displayName", session.lab_id AS "labId"
     FROM session JOIN account ON account.id = session.account_id
     WHERE session.token_hash = $1 AND session.ended_at IS NULL AND session.expires_at > now() AND account.disabled_at IS NULL`,
    [tokenHash],
  );
  return rows[0] ?? null;
}

export async function endSession(tx: Tx, tokenHash: Buffer): Promise<void> {
  await tx.query('UPDATE session SET ended_at = now() WHERE token_hash = $1 AND ended_at IS NULL', [tokenHash]);
}

export async function moveSession(tx: Tx, tokenHash: Buffer, labId: string): Promise<void> {
  await tx.query('UPDATE session SET lab_id = $2 WHERE token_hash = $1', [tokenHash, labId]);
}

export async function labById(tx: Tx, id: string): Promise<{ id: string; name: string; demo: boolean } | null> {
  const rows = await tx.query<{ id: string; name: string; demo: boolean }>('SELECT id, name, demo FROM lab WHERE id = $1', [id]);
  return rows[0] ?? null;
}

export async function labNamed(tx: Tx, name: string): Promise<boolean> {
  return (await tx.query('SELECT 1 FROM lab WHERE lower(name) = lower($1)', [name])).length > 0;
}

export interface StandingLabs {
  readonly any: boolean;
  /** When the demo lab was opened, and whether its last events, the decisions, are there; null without one. */
  readonly demo: { readonly openedAt: Date; readonly complete: boolean } | null;
}

/** What a starting server finds. Decisions are fenced by lab, so they are looked for inside the demo's own fence. */
export async function standingLabs(tx: Tx): Promise<StandingLabs> {
  const [row] = await tx.query<{ any: boolean; demoId: string | null; openedAt: Date | null }>(
    `SELECT count(*) > 0 AS any, (array_agg(id ORDER BY created_at) FILTER (WHERE demo))[1] AS "demoId",
       min(created_at) FILTER (WHERE demo) AS "openedAt" FROM lab`,
  );
  if (!row!.demoId || !row!.openedAt) return { any: row!.any, demo: null };
  await tx.query(`SELECT set_config('threadleaf.lab_id', $1, true)`, [row!.demoId]);
  const decisions = await tx.query('SELECT 1 FROM decision WHERE lab_id = $1 LIMIT 1', [row!.demoId]);
  return { any: true, demo: { openedAt: row!.openedAt, complete: decisions.length > 0 } };
}
