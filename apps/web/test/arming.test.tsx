import { objectionsHere, type CertificateHeld } from '../src/features/field/parts/arming.js';

const held: CertificateHeld = { state: 'APPROVED', validity: 'VALID', biasV: 9.4, validUntil: '2026-09-30T12:00:00Z', relativeSlope: 1, thresholdPerLnBias: -6 };
const codes = (certificate: Partial<CertificateHeld>, biasV = '9.4', armedAt = '2026-07-01T17:00:00+02:00'): string[] => objectionsHere({ ...held, ...certificate }, biasV, armedAt).map(({ code }) => code);

describe('what a device without the server knows against arming a unit', () => {
  it('is nothing for a valid certificate and its bias', () => {
    expect(codes({})).toEqual([]);
    expect(codes({}, '9,4')).toEqual([]);
  });

  it('is the end of the certificate, by the moment of arming and not by when it was read', () => {
    expect(codes({}, '9.4', '2026-09-30T14:00:00+02:00')).toEqual([]);
    expect(codes({}, '9.4', '2026-09-30T14:00:01+02:00')).toEqual(['CERTIFICATE_ENDED']);
    // Read as ended by the clock of then, armed earlier: the moment decides.
    expect(codes({ validity: 'ENDED' })).toEqual([]);
  });

  it.each(['WITHDRAWN', 'SUPERSEDED', 'STALE', 'NOT_APPROVED'] as const)('is that it was %s when it was last read', (validity) => {
    expect(codes({ validity })).toEqual([`CERTIFICATE_${validity}`]);
  });

  it('is a wrong bias, and all of it together', () => {
    expect(codes({ validity: 'WITHDRAWN' }, '9.9', '2027-01-01T00:00:00Z')).toEqual(['WRONG_BIAS', 'CERTIFICATE_WITHDRAWN', 'CERTIFICATE_ENDED']);
  });
});
