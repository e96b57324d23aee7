import type { Tx } from '../database/database.js';

export interface SecondFactorRow {
  readonly sealed: Buffer;
  readonly lastStep: number | null;
  readonly confirmed: boolean;
}

/** Of the account of the transaction's fence: row-level security shows no other. */
export async function secondFactorOf(tx: Tx, accountId: string): Promise<SecondFactorRow | null> {
  const [row] = await tx.query<SecondFactorRow>(
    'SELECT sealed, last_step::float8 AS "lastStep", confirmed_at IS NOT NULL AS confirmed FROM second_factor WHERE account_id = $1', [accountId],
  );
  return row ?? null;
}

export async function recoveryCodesLeft(tx: Tx, accountId: string): Promise<number> {
  const [row] = await tx.query<{ left: number }>('SELECT count(*)::int AS left FROM recovery_code WHERE account_id = $1 AND used_at IS NULL', [accountId]);
  return row!.left;
}

export async function startSecondFactor(tx: Tx, accountId: string, sealed: Buffer): Promise<void> {
  await tx.query(
    'INSERT INTO second_factor (account_id, sealed) VALUES ($1, $2) ON CONFLICT (account_id) DO UPDATE SET sealed = $2, last_step = NULL, started_at = now(), confirmed_at = NULL',
    [accountId, sealed],
  );
}

export async function confirmSecondFactor(tx: Tx, accountId: string, codeHashes: readonly Buffer[]): Promise<void> {
  await tx.query('UPDATE second_factor SET confirmed_at = now() WHERE account_id = $1', [accountId]);
  await tx.query('INSERT INTO recovery_code (account_id, code_hash) SELECT $1, unnest($2::bytea[])', [accountId, codeHashes]);
}

/** False where this step, or a later one, was taken before: two requests with one code do not both pass. */
export async function takeStep(tx: Tx, accountId: string, step: number): Promise<boolean> {
  const rows = await tx.query<{ taken: number }>(
    `WITH taken AS (UPDATE second_factor SET last_step = $2 WHERE account_id = $1 AND (last_step IS NULL OR last_step < $2) RETURNING 1)
     SELECT count(*)::int AS taken FROM taken`, [accountId, step],
  );
  return rows[0]!.taken === 1;
}

export async function useRecoveryCode(tx: Tx, accountId: string, codeHash: Buffer): Promise<boolean> {
  const rows = await tx.query<{ used: number }>(
    `WITH used AS (UPDATE recovery_code SET used_at = now() WHERE account_id = $1 AND code_hash = $2 AND used_at IS NULL RETURNING 1)
     SELECT count(*)::int AS used FROM used`, [accountId, codeHash],
  );
  return rows[0]!.used === 1;
}

export async function removeSecondFactor(tx: Tx, accountId: string): Promise<void> {
  await tx.query('DELETE FROM recovery_code WHERE account_id = $1', [accountId]);
  await tx.query('DELETE FROM second_factor WHERE account_id = $1', [accountId]);
}
