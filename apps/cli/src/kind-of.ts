import type { ApiClient } from './client.js';
import { OperatorFailure } from './failure.js';

/** Kind of the record with this id, as the ledger names it. */
export async function kindOf(client: ApiClient, id: string): Promise<string> {
  const { recordKind } = await client.ask<{ recordKind: string | null }>('query ($id: UUID!) { recordKind(id: $id) }', { id });
  if (recordKind === null) throw new OperatorFailure(`No record of this lab has the id ${id}. Copy it from the record's page, or sign in to the lab it belongs to.`);
  return recordKind;
}
