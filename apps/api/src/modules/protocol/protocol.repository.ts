import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds, rowsWhere } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { approvalStates } from '../signature/signature.repository.js';
import { Protocol } from './protocol.entity.js';
import { HOUSE_PARAMETERS, type Parameters } from './protocol-parameters.js';

/** The newest version of every protocol, or all versions of one. */
export const protocolsNamed = (tx: Tx, name: string | null): Promise<Protocol[]> =>
  rowsWhere(
    tx, Protocol,
    `lower(name) = lower($2) OR ($2::text IS NULL AND NOT EXISTS (
       SELECT FROM protocol later WHERE later.lab_id = $1 AND lower(later.name) = lower(protocol.name) AND later.version > protocol.version))`,
    [name], 'ORDER BY lower(name), version DESC',
  );

/** The parameters that a run was opened under. */
export async function parametersOf(tx: Tx, protocolId: string | null): Promise<Parameters> {
  return protocolId ? (await rowById(tx, Protocol, protocolId))!.parameters : HOUSE_PARAMETERS;
}

/** The version that the last run of each disc is bound to; a disc of none, or of a run without a protocol, is left out. */
export async function protocolsOfDiscs(tx: Tx, discIds: readonly string[]): Promise<Map<string, Protocol>> {
  const bound = await tx.query<{ discId: string; protocolId: string }>(
    `SELECT disc_id AS "discId", run.protocol_id AS "protocolId"
     FROM unnest($2::uuid[]) AS disc_id CROSS JOIN LATERAL (
       SELECT protocol_id FROM drying_run WHERE lab_id = $1 AND disc_ids @> ARRAY[disc_id] ORDER BY opened_at DESC LIMIT 1) run
     WHERE run.protocol_id IS NOT NULL`,
    [tx.labId, discIds],
  );
  const protocols = new Map((await rowsByIds(tx, Protocol, [...new Set(bound.map(({ protocolId }) => protocolId))])).map((row) => [row.id, row]));
  return new Map(bound.map(({ discId, protocolId }) => [discId, protocols.get(protocolId)!]));
}

/**
 * @throws ProblemError `STATE` unless a new run may be opened under it
 */
export async function requireApprovedProtocol(tx: Tx, field: string, id: string): Promise<Protocol> {
  const protocol = await rowById(tx, Protocol, id);
  if (!protocol) throw notFound(field, 'The protocol');
  const state = (await approvalStates(tx, 'protocol', [id])).get(id) ?? 'DRAFT';
  if (state === 'APPROVED') return protocol;
  const remedy = state === 'SUPERSEDED' ? 'Choose its newer version.' : 'Ask a manager to approve it, or choose another.';
  throw new ProblemError('STATE', field, `Protocol ${protocol.name} version ${protocol.version} is ${state === 'DRAFT' || state === 'REVIEWED' ? 'not approved' : state.toLowerCase()}.`, remedy);
}
