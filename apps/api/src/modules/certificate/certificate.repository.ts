import type { ApprovalState, CertificateValidity } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsWhere } from '../../platform/database/rows.js';
import { staleAmong } from '../amendment/amendment.repository.js';
import { standingRetirements } from '../passport/passport.repository.js';
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

export interface Standing {
  readonly validity: CertificateValidity;
  /** Why it is not valid, in a sentence; null while it is. */
  readonly because: string | null;
}

/** Everything that keeps a unit from being armed by each certificate at a moment, the weightiest first; empty for a valid one. */
export async function hindrancesOfCertificates(tx: Tx, certificates: readonly ThresholdCertificate[], at: Date): Promise<Map<string, Standing[]>> {
  const ids = certificates.map(({ id }) => id);
  const states = await approvalStates(tx, 'threshold_certificate', ids);
  const stale = await staleAmong(tx, ids);
  const retired = new Map((await standingRetirements(tx, certificates.map(({ deviceUnitId }) => deviceUnitId))).map((row) => [row.deviceUnitId, row]));
  return new Map(certificates.map((certificate): [string, Standing[]] => {
    const state = states.get(certificate.id) ?? 'DRAFT';
    const retirement = retired.get(certificate.deviceUnitId);
    const found: Standing[] = [];
    if (state === 'WITHDRAWN') found.push({ validity: 'WITHDRAWN', because: 'It was withdrawn.' });
    if (retirement) found.push({ validity: 'UNIT_RETIRED', because: `The unit is retired: ${retirement.reason}` });
    if (state === 'SUPERSEDED') found.push({ validity: 'SUPERSEDED', because: 'A later certificate of the unit was approved.' });
    if (stale.has(certificate.id)) found.push({ validity: 'STALE', because: 'A fact that it rests on was amended.' });
    if (state === 'DRAFT' || state === 'REVIEWED') found.push({ validity: 'NOT_APPROVED', because: state === 'REVIEWED' ? 'It is reviewed, not yet approved.' : 'It is a draft, not for use.' });
    if (at > certificate.validUntil) found.push({ validity: 'ENDED', because: `It was valid until ${certificate.validUntil.toISOString().slice(0, 10)}.` });
    return [certificate.id, found];
  }));
}

/** Whether a unit may be armed by each certificate at a moment, and if not, why: the weightiest hindrance. */
export async function standingsOfCertificates(tx: Tx, certificates: readonly ThresholdCertificate[], at: Date): Promise<Map<string, Standing>> {
  const hindrances = await hindrancesOfCertificates(tx, certificates, at);
  return new Map(certificates.map(({ id }) => [id, hindrances.get(id)![0] ?? { validity: 'VALID', because: null }]));
}

export async function labNameOf(tx: Tx): Promise<string> {
  const [row] = await tx.query<{ name: string }>('SELECT name FROM lab WHERE id = $1', [tx.labId]);
  return row!.name;
}
