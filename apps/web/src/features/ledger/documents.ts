import { graphql } from '../../generated/index.js';

export const LedgerPage = graphql(`
  query LedgerPage($after: UUID, $subjectKind: String, $subjectId: UUID, $personId: UUID) {
    ledger(first: 50, after: $after, subjectKind: $subjectKind, subjectId: $subjectId, personId: $personId) {
      nodes { id recordedAt person { id displayName } throughToken action subjectKind subjectId contentHash reason }
      pageInfo { hasNextPage endCursor }
    }
  }
`);

export const LedgerPeople = graphql(`
  query LedgerPeople {
    people { person { id displayName } }
  }
`);
