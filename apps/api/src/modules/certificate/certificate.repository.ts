import type { ApprovalState } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { approvalStates } from '../signature/signature.repository.js';
import { LightReference, ThresholdCertificate } from './certificate.entity.js';

export const lightReferencesNewest = (tx: Tx): Promise<LightReference[]> => rowsWhere(tx, LightReference, 'true', [], 'ORDER BY observed_at DESC, id DESC');

/** The newest 200 certificates, of one approval state where asked. */
export async function certificatesNewest(tx: Tx, state: ApprovalState | null): Promise<ThresholdCertificate[]> {
  const rows = await rowsWhere(tx, ThresholdCertificate, 'true', [], 'ORDER BY id DESC LIMIT 200');
  if (!state) return rows;
  const states = await approvalStates(tx, 'threshold_certificate', rows.map(({ id }) => id));
  return rows.filter(({ id }) => states.get(id) === state);
}
