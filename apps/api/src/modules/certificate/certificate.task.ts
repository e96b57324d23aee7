import { computeCertificate, type CertificateBasis, type CertificateOutcome } from './compute.js';

/** One certificate of a batch, in a thread of its own: see platform/jobs/threads.ts. */
export const run = (basis: CertificateBasis): CertificateOutcome => computeCertificate(basis);
