import { graphql } from '../../generated/index.js';

export const CycleTable = graphql(`
  query CycleTable($first: Int!) {
    ovenCycles(first: $first) {
      id
      label
      startedAt
      unloadedAt
      setTemperatureC
      oven { id label }
      discs { id label }
      nextCheckAt
      coolings { id cooledAt }
      constantMass { disc { id } reached }
    }
  }
`);

export const CyclePage = graphql(`
  query CyclePage($id: UUID!) {
    ovenCycle(id: $id) {
      id
      label
      startedAt
      unloadedAt
      unloadReason
      setTemperatureC
      recordedBy { id displayName }
      oven { id label checkStatus }
      discs { id label code loss { id outcome } }
      trayRows
      trayColumns
      trayMap { row column disc { id label } }
      scannedDiscs { id }
      nextCheckAt
      constantMassRule { key name source intervalMin }
      temperatures { id observedAt temperatureC note recordedBy { id displayName } }
      coolings { id takenOutAt cooledAt coolingMin vessel recordedBy { id displayName } }
      checkWeighings { ...WeighingFields }
      constantMass { disc { id label loss { id outcome } } rule { key name source intervalMin } protocol { id name version parameters { ovenTemperatureC coolingMin } } reached message lastMassMg lossMg toleranceMg limb nextCheckAt }
    }
  }
`);

export const StartCycleChoices = graphql(`
  query StartCycleChoices($search: String) {
    instruments(kind: OVEN) { id label checkStatus }
    constantMassRules { key name source intervalMin }
    discs(first: 50, search: $search) {
      totalCount
      nodes { id label leaf { id plant { id crop { id name } } } }
    }
  }
`);

export const StartOvenCycle = graphql(`
  mutation StartOvenCycle($input: StartOvenCycleInput!) {
    startOvenCycle(input: $input) {
      ovenCycle { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const UnloadOvenCycle = graphql(`
  mutation UnloadOvenCycle($input: UnloadOvenCycleInput!) {
    unloadOvenCycle(input: $input) {
      ovenCycle { id unloadedAt unloadReason }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordOvenTemperature = graphql(`
  mutation RecordOvenTemperature($input: RecordOvenTemperatureInput!) {
    recordOvenTemperature(input: $input) {
      ovenCycle { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordOvenCooling = graphql(`
  mutation RecordOvenCooling($input: RecordOvenCoolingInput!) {
    recordOvenCooling(input: $input) {
      ovenCycle { id }
      replayed
      problem { code field message remedy }
    }
  }
`);
