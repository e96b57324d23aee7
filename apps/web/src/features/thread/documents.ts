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
        exceptions
      }
      edges { fromId toId role }
      truncated
    }
  }
`);

export const RecomputeThread = graphql(`
  query RecomputeThread($kind: String!, $id: UUID!) {
    recompute(kind: $kind, id: $id) {
      same
      codeVersion
      steps { kind id label codeVersionThen same differences { path then now } }
    }
  }
`);

export const PackOfRecord = graphql(`
  query PackOfRecord($kind: String!, $id: UUID!) {
    evidencePack(kind: $kind, id: $id) { fileName base64 sha256 bytes }
  }
`);

export const PaperOfThread = graphql(`
  query PaperOfThread($kind: String!, $id: UUID!, $direction: ThreadDirection!) {
    threadPaper(kind: $kind, id: $id, direction: $direction) { fileName base64 sha256 bytes }
  }
`);
