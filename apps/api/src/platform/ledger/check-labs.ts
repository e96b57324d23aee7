import { InputError } from '#libs/quantity';
import { parseCheckpoint } from '#libs/ledger';
import type { Database } from '../database/database.js';
import type { KeptEntity } from '../database/rows.js';
import { checkRecord, type RecordCheck } from './check.js';
import { originOf } from './signer.js';

export interface LabCheck extends RecordCheck {
  readonly labId: string;
  readonly name: string;
}

/**
 * Checks every lab, each in a snapshot of its own, people going on with their work.
 *
 * @param kept texts of checkpoints kept outside, of any of the labs
 * @throws InputError for a kept text that is no checkpoint, or of a lab that the database does not have
 */
export async function checkLabs(
  database: Database, entities: readonly KeptEntity[], resultKinds: readonly string[], kept: readonly string[],
): Promise<LabCheck[]> {
  const labs = await database.write({ labId: null, accountId: null }, (tx) =>
    tx.query<{ id: string; name: string }>('SELECT id, name FROM lab ORDER BY created_at, id'));
  const byOrigin = new Map<string, string[]>();
  for (const text of kept) {
    const { origin } = parseCheckpoint(text);
    byOrigin.set(origin, [...(byOrigin.get(origin) ?? []), text]);
  }
  const known = new Set(labs.map(({ id }) => originOf(id)));
  const strange = [...byOrigin.keys()].find((origin) => !known.has(origin));
  if (strange !== undefined) {
    throw new InputError('UNKNOWN_LEDGER', 'checkpoint', `is of the ledger ${strange}, which is not in this database`, 'Name the database that the checkpoint came from.');
  }
  const checks: LabCheck[] = [];
  for (const { id, name } of labs) {
    const session = await database.openRead({ labId: id, accountId: null });
    try {
      checks.push({ labId: id, name, ...(await checkRecord(session.tx, entities, resultKinds, byOrigin.get(originOf(id)))) });
    } finally {
      await session.close();
    }
  }
  return checks;
}
