import { graphql } from '../../generated/index.js';

export const ThreadOfRecord = graphql(`
  query ThreadOfRecord($kind: String!, $id: UUID!, $direction: ThreadDirection!) {
    thread(kind: $kind, id: $id, direction: $direction) {
      root { id kind label summary }
      nodes {
        kind
        id
        label
        depth
        summary
        rawLine
        observedAt
        recordedAt
        recordedBy { id displayName }
        throughToken
        instrument
        instrumentStatusThen
        amendedBy { id replacementId reasonCode reason recordedAt recordedBy { id displayName } }
        stale
        contentHash
        remarks { code severity message }
      }
      edges { fromId toId role }
      truncated
    }
  }
`);
