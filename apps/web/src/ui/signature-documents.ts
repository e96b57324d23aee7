import { graphql } from '../generated/index.js';

/** A signature as every list of signatures shows it. */
export const SignatureFields = graphql(`
  fragment SignatureFields on Signature {
    id
    meaning
    statement
    subjectHash
    confirmedBy
    recordedAt
    recordedBy { id displayName }
  }
`);

export const SignResult = graphql(`
  mutation SignResult($input: SignInput!) {
    sign(input: $input) {
      signature { ...SignatureFields }
      replayed
      problem { code field message remedy }
    }
  }
`);
