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
      constantMass { disc { id } reached nextCheckAt }
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
      discs { id label leaf { id plant { id crop { id name } } } }
      checkWeighings { ...WeighingFields }
      constantMass { disc { id label } reached lastMassMg lossMg toleranceMg limb nextCheckAt }
    }
  }
`);

export const StartCycleChoices = graphql(`
  query StartCycleChoices($search: String) {
    instruments(kind: OVEN) { id label checkStatus }
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
