import type { CertificateValidity } from '../../../generated/graphql.js';

const words: Readonly<Record<CertificateValidity, string>> = {
  VALID: 'valid', NOT_APPROVED: 'not approved', ENDED: 'its date has passed', WITHDRAWN: 'withdrawn', SUPERSEDED: 'superseded', STALE: 'stale', UNIT_RETIRED: 'its unit is retired',
};

/** Whether a certificate may be used, in a word or two. */
export const validityWord = (validity: CertificateValidity): string => words[validity];
