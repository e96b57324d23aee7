import { graphql } from '../generated/index.js';

/** A weighing as every list of weighings shows it. */
export const WeighingFields = graphql(`
  fragment WeighingFields on Weighing {
    id
    state
    observedAt
    clockOffsetMs
    recordedAt
    recordedBy { id displayName }
    disc { id label }
    massText
    massUnit
    massMg
    balance { id label }
    balanceStatusThen
    dryingRun { id label }
    ovenCycle { id label }
    entryMode
    rawLine
    flags { code severity message }
    flagAnswer
    overrideReason
    amendedBy { id replacementId reasonCode reason recordedAt recordedBy { id displayName } }
  }
`);

export const AmendWeighing = graphql(`
  mutation AmendWeighing($input: RecordWeighingInput!, $amends: AmendsInput!) {
    amendWeighing(input: $input, amends: $amends) {
      weighing { id }
      amendment { id staleResults { kind id label } }
      replayed
      problem { code field message remedy }
      flags { code severity message }
    }
  }
`);

export const RetractWeighing = graphql(`
  mutation RetractWeighing($input: RetractInput!) {
    retract(input: $input) {
      amendment { id staleResults { kind id label } }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const BalanceChoices = graphql(`
  query BalanceChoices {
    instruments(kind: BALANCE) { id label checkStatus checkDueAt }
  }
`);

export const StoredFileFields = graphql(`
  fragment StoredFileFields on StoredFile {
    id
    name
    mediaType
    sizeBytes
    sha256
    purpose
    url
  }
`);
