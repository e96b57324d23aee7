import { judgeReadback } from '#libs/switch-device';
import type { ApprovalState, CertificateValidity } from '../../../generated/graphql.js';
import { decimalText } from '../../../ui/entry.js';
import type { FlagSeen } from '../../../ui/send.js';

/** A certificate as this device holds it. */
export interface CertificateHeld {
  readonly state: ApprovalState;
  readonly validity: CertificateValidity;
  readonly biasV: number;
  readonly validUntil: string;
  readonly relativeSlope?: number | null;
  readonly thresholdPerLnBias?: number | null;
}

const hindrances: Readonly<Record<Exclude<CertificateValidity, 'VALID' | 'ENDED'>, string>> = {
  WITHDRAWN: 'The certificate was withdrawn.',
  UNIT_RETIRED: 'The unit is retired.',
  SUPERSEDED: 'A later certificate of this unit is approved.',
  STALE: 'A fact that the certificate rests on was amended.',
  NOT_APPROVED: 'The certificate is not approved.',
};

/**
 * What stands against arming a unit, as far as this device knows without the server: the bias read back, the end of the
 * certificate, and how it stood when it was last read. The server looks again, and at more, when the installation is sent.
 */
export function objectionsHere(certificate: CertificateHeld, biasReadbackV: string, armedAt: string): readonly FlagSeen[] {
  const ask = (code: string, message: string): FlagSeen => ({ code, severity: 'ASK', message });
  const readback = Number(decimalText(biasReadbackV));
  const { relativeSlope = null, thresholdPerLnBias = null, biasV } = certificate;
  const { off, told } = judgeReadback({ biasV, relativeSlope, thresholdPerLnBias }, readback);
  const { validity } = certificate;
  const ended = Date.parse(armedAt) > Date.parse(certificate.validUntil);
  return [
    ...(biasReadbackV.trim() !== '' && Number.isFinite(readback) && off ? [ask('WRONG_BIAS', told)] : []),
    ...(validity !== 'VALID' && validity !== 'ENDED' ? [ask(`CERTIFICATE_${validity}`, hindrances[validity])] : []),
    ...(ended ? [ask('CERTIFICATE_ENDED', `The certificate was valid until ${certificate.validUntil.slice(0, 10)}.`)] : []),
  ];
}
