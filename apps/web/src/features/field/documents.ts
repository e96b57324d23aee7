import { graphql } from '../../generated/index.js';

export const TripFields = graphql(`
  fragment TripFields on Trip {
    id
    trippedAt
    seenAt
    source
    lightPowerNw
    inferredRwc
    inferredLow
    inferredHigh
    note
    recordedBy { id displayName }
    amendedBy { id reason }
    installation { id zone site deviceUnit { id label } }
    decisions { id action decidedAt }
  }
`);

export const DecisionFields = graphql(`
  fragment DecisionFields on Decision {
    id
    decidedAt
    zone
    action
    depthMm
    reason
    overrode
    recordedBy { id displayName }
    trips { id }
  }
`);

export const FieldOverview = graphql(`
  query FieldOverview($after: String, $zone: String) {
    installations(first: 50, after: $after, zone: $zone) {
      nodes {
        id
        state
        site
        zone
        plantNote
        biasReadbackV
        armedAt
        overrideReason
        deviceUnit { id label }
        certificate { id state stale targetRwc validUntil }
      }
      pageInfo { hasNextPage endCursor }
    }
  }
`);

export const FieldEvents = graphql(`
  query FieldEvents {
    trips(first: 50) { nodes { ...TripFields } pageInfo { hasNextPage endCursor } }
    decisions(first: 5) { nodes { ...DecisionFields } pageInfo { hasNextPage } }
  }
`);

export const DecisionList = graphql(`
  query DecisionList($after: String) {
    decisions(first: 50, after: $after) { nodes { ...DecisionFields } pageInfo { hasNextPage endCursor } }
  }
`);

export const TripChoices = graphql(`
  query TripChoices($after: String) {
    trips(first: 200, after: $after) { nodes { ...TripFields } pageInfo { hasNextPage endCursor } }
  }
`);

export const InstallationPage = graphql(`
  query InstallationPage($id: UUID!) {
    installation(id: $id) {
      id
      state
      site
      zone
      plantNote
      leafSide
      tiltDeg
      latitude
      longitude
      biasReadbackV
      armedAt
      overrideReason
      recordedAt
      recordedBy { id displayName }
      deviceUnit { id label }
      certificate { id state stale biasV targetRwc tripRwcLow tripRwcHigh validUntil }
      trips { ...TripFields }
      fieldChecks { id observedAt note recordedBy { id displayName } discs { id label } }
    }
  }
`);

export const TripPage = graphql(`
  query TripPage($id: UUID!) {
    trip(id: $id) { ...TripFields recordedAt }
  }
`);

export const DecisionPage = graphql(`
  query DecisionPage($id: UUID!) {
    decision(id: $id) { id decidedAt zone action depthMm reason overrode recordedAt recordedBy { id displayName } trips { ...TripFields } advice { id madeFor stale rule { id version } standing { advice reasons } } outcomes { id observedAt verdict seen recordedBy { id displayName } } }
  }
`);

export const UnitChoices = graphql(`
  query UnitChoices($search: String) {
    deviceUnits(first: 20, search: $search) {
      nodes { id label state certificates { id state stale biasV targetRwc validUntil } }
      pageInfo { hasNextPage }
    }
  }
`);

/** What is held for installing without the server: the newest certificates that are approved, their units, and the newest plants. */
export const UnitsToTake = graphql(`
  query UnitsToTake {
    thresholdCertificates(state: APPROVED) { id state stale validity biasV targetRwc validUntil relativeSlope thresholdPerLnBias deviceUnit { id label state } }
    plants(first: 200) { nodes { id label } }
  }
`);

export const UnitToInstall = graphql(`
  query UnitToInstall($id: UUID!) {
    deviceUnit(id: $id) { id label state certificates { id state stale validity biasV targetRwc validUntil relativeSlope thresholdPerLnBias } }
  }
`);

export const RecordDecision = graphql(`
  mutation RecordDecision($input: RecordDecisionInput!) {
    recordDecision(input: $input) { decision { id } replayed problem { code field message remedy } }
  }
`);

export const FieldCheckDiscs = graphql(`
  query FieldCheckDiscs($search: String) {
    discs(first: 30, search: $search) { nodes { id label leaf { id label plant { id label crop { id name } } } } totalCount }
  }
`);
