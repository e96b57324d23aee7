import { graphql } from '../../generated/index.js';

export const LedgerPage = graphql(`
  query LedgerPage(
    $after: UUID, $subjectKind: String, $id: UUID, $subjectId: UUID, $personId: UUID, $action: String, $from: Moment, $until: Moment,
    $exception: LedgerException, $lateAfterMin: Int!
  ) {
    ledger(
      first: 50, after: $after, subjectKind: $subjectKind, id: $id, subjectId: $subjectId, personId: $personId, action: $action, from: $from, until: $until,
      exception: $exception, lateAfterMin: $lateAfterMin
    ) {
      nodes { id recordedAt person { id displayName } throughToken action subjectKind subjectId contentHash reason place label summary exceptions }
      pageInfo { hasNextPage endCursor }
    }
  }
`);

export const LedgerExceptions = graphql(`
  query LedgerExceptions($subjectKind: String, $id: UUID, $subjectId: UUID, $personId: UUID, $action: String, $from: Moment, $until: Moment, $lateAfterMin: Int!) {
    ledgerExceptions(
      subjectKind: $subjectKind, id: $id, subjectId: $subjectId, personId: $personId, action: $action, from: $from, until: $until, lateAfterMin: $lateAfterMin
    ) { exception count }
  }
`);

export const LedgerChoices = graphql(`
  query LedgerChoices {
    people { person { id displayName } }
    ledgerActions
  }
`);

export const LedgerProof = graphql(`
  query LedgerProof($id: UUID!) {
    ledger(first: 1, id: $id) { nodes { id recordedAt person { id displayName } throughToken action subjectKind subjectId contentHash reason label summary } }
  }
`);

export const ProofOfEntry = graphql(`
  query ProofOfEntry($entryId: UUID!) {
    inclusionProof(entryId: $entryId) { entryId leaf place proof checkpoint { size text } }
    ledgerKeys { key firstSize lastSize change }
  }
`);

export const Consistency = graphql(`
  query Consistency($oldSize: Int!, $newSize: Int!) {
    consistencyProof(oldSize: $oldSize, newSize: $newSize) { oldSize newSize proof }
  }
`);

export const LedgerCheckpoints = graphql(`
  query LedgerCheckpoints {
    checkpoint { size text }
    ledgerKeys { key firstSize lastSize change }
  }
`);

export const CheckpointList = graphql(`
  query CheckpointList($since: Int!) {
    checkpoints(since: $since, first: 50) { size text }
  }
`);

export const VerifierFile = graphql(`
  query VerifierFile {
    verifier { fileName base64 sha256 bytes }
  }
`);

export const RecomputeRuns = graphql(`
  query RecomputeRuns {
    recomputeRuns(first: 50) {
      id endedAt codeVersion resultCount differCount
      startedBy { id displayName }
      differing { kind id label codeVersionThen differences { path then now } }
    }
  }
`);

export const RecomputeAll = graphql(`
  mutation RecomputeAll($id: UUID!) { recomputeAll(id: $id) { job { ...JobFields } problem { code field message remedy } } }
`);
