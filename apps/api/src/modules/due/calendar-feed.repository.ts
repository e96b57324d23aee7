import type { Tx } from '../../platform/database/database.js';

export async function replaceFeed(tx: Tx, accountId: string, secretHash: Buffer): Promise<Date> {
  const [row] = await tx.query<{ madeAt: Date }>(
    `INSERT INTO calendar_feed (lab_id, account_id, secret_hash) VALUES ($1, $2, $3)
     ON CONFLICT (lab_id, account_id) DO UPDATE SET secret_hash = excluded.secret_hash, made_at = now() RETURNING made_at AS "madeAt"`, [tx.labId, accountId, secretHash],
  );
  return row!.madeAt;
}

export async function removeFeed(tx: Tx, accountId: string): Promise<void> {
  await tx.query('DELETE FROM calendar_feed WHERE lab_id = $1 AND account_id = $2', [tx.labId, accountId]);
}

export async function feedMadeAt(tx: Tx, accountId: string): Promise<Date | null> {
  const [row] = await tx.query<{ madeAt: Date }>('SELECT made_at AS "madeAt" FROM calendar_feed WHERE lab_id = $1 AND account_id = $2', [tx.labId, accountId]);
  return row?.madeAt ?? null;
}

/** Whose feed a secret is; asked outside of any lab. */
export async function feedBehind(tx: Tx, secretHash: Buffer): Promise<{ labId: string; accountId: string } | null> {
  const [row] = await tx.query<{ labId: string; accountId: string }>('SELECT lab_id AS "labId", account_id AS "accountId" FROM calendar_feed WHERE secret_hash = $1', [secretHash]);
  return row ?? null;
}
