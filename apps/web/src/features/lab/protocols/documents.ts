import { graphql } from '../../../generated/index.js';

export const ProtocolParameterFields = graphql(`
  fragment ProtocolParameterFields on ProtocolParameters {
    discDiameterMm
    discsPerLeaf
    hydrationLeastMin
    hydrationMostMin
    hydrationLeastC
    hydrationMostC
    blottingPaper
    blottingCount
    blottingSeconds
    ovenTemperatureC
    coolingMin
    constantMassFraction
    constantMassSteps
    constantMassIntervalMin
    rhythmMin
    bracketMin
    lampWarmUpMin
    clockOffsetMostS
    scanFirst
    outOfCheck
    minimumMassMg
    rwcWarn
    rwcAsk
    rwcLeast
    risingSteps
    fallingTimes
    ratioRobustSd
    ratioLeastDiscs
    turgidGainPerHour
    cutToWeighingS
    blotToWeighingS
    asks
    uBlotting
    uResidualMoisture
    evaporationMg
  }
`);

export const ProtocolTable = graphql(`
  query ProtocolTable {
    protocols {
      id
      name
      versions { id version state recordedAt recordedBy { id displayName } }
    }
  }
`);

export const ProtocolPage = graphql(`
  query ProtocolPage($id: UUID!) {
    protocol(id: $id) {
      id
      name
      version
      changedBecause
      state
      contentHash
      recordedAt
      recordedBy { id displayName }
      parameters { ...ProtocolParameterFields }
      signatures { ...SignatureFields }
      versions { id version state changedBecause recordedAt recordedBy { id displayName } parameters { ...ProtocolParameterFields } }
    }
  }
`);

export const ProtocolStart = graphql(`
  query ProtocolStart($id: UUID!, $fromVersion: Boolean!) {
    houseParameters { ...ProtocolParameterFields }
    protocol(id: $id) @include(if: $fromVersion) { id name version versions { id version } parameters { ...ProtocolParameterFields } }
  }
`);

export const RecordProtocol = graphql(`
  mutation RecordProtocol($input: RecordProtocolInput!) {
    recordProtocol(input: $input) {
      protocol { id }
      replayed
      problem { code field message remedy }
    }
  }
`);
