import { createHash } from 'node:crypto';
import type { LedgerFlaw } from '#libs/ledger';
import type { Tx } from '../database/database.js';

/**
 * Hashes the bytes of every stored file anew, one file in memory at a time. The hash that a stored file names is part of
 * its record; here it is held against the bytes themselves.
 */
export async function checkStoredBytes(tx: Tx): Promise<LedgerFlaw[]> {
  const flaws: LedgerFlaw[] = [];
  const rows = await tx.query<{ sha256: string; laid: boolean; named: boolean }>(
    `SELECT coalesce(laid.sha256, named.sha256) AS sha256, laid.sha256 IS NOT NULL AS laid, named.sha256 IS NOT NULL AS named
     FROM (SELECT sha256 FROM stored_bytes WHERE lab_id = $1) laid
     FULL JOIN (SELECT DISTINCT sha256 FROM stored_file WHERE lab_id = $1) named USING (sha256) ORDER BY 1`, [tx.labId],
  );
  for (const { sha256, laid, named } of rows) {
    const about = `stored_bytes ${sha256}`;
    if (!laid) flaws.push({ about, says: 'A stored file names them, but they are gone.' });
    if (!named) flaws.push({ about, says: 'They lie there, but no stored file names them.' });
    if (laid && (await hashOfBytes(tx, sha256)) !== sha256) flaws.push({ about, says: 'They are not what was stored: their SHA-256 differs.' });
  }
  return flaws;
}

async function hashOfBytes(tx: Tx, sha256: string): Promise<string> {
  const [row] = await tx.query<{ bytes: Buffer }>('SELECT bytes FROM stored_bytes WHERE lab_id = $1 AND sha256 = $2', [tx.labId, sha256]);
  return createHash('sha256').update(row!.bytes).digest('hex');
}
