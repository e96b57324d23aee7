import type { Tx } from '../../platform/database/database.js';

/** Lays the bytes under their hash; bytes that lie there already stay. */
export async function layBytes(tx: Tx, sha256: string, bytes: Buffer): Promise<void> {
  await tx.query('INSERT INTO stored_bytes (lab_id, sha256, bytes) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING', [tx.labId, sha256, bytes]);
}

export async function bytesOf(tx: Tx, sha256: string): Promise<Buffer | null> {
  const [row] = await tx.query<{ bytes: Buffer }>('SELECT bytes FROM stored_bytes WHERE lab_id = $1 AND sha256 = $2', [tx.labId, sha256]);
  return row?.bytes ?? null;
}
