import { graphql } from '../../generated/index.js';

export const SpectrumTable = graphql(`
  query SpectrumTable {
    spectra { id label spectrumOf observedAt recordedBy { id displayName } fileKind part partName fromNm toNm peakNm waterOverlap note file { id name url } amendedBy { id } }
  }
`);

export const RecordSpectrum = graphql(`
  mutation RecordSpectrum($input: RecordSpectrumInput!) {
    recordSpectrum(input: $input) { spectrum { id } replayed problem { code field message remedy } }
  }
`);

export const BandWeighting = graphql(`
  query BandWeighting($input: BandWeightingInput!) {
    bandWeighting(input: $input) {
      problem { code field message remedy }
      weighting { fromNm toNm lamp { transmittance centreNm } sun { transmittance centreNm } mismatch bandsOverlap waterOverlap drawn { nm leaf lampWeight sunWeight water } }
    }
  }
`);
