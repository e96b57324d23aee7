import { graphql } from '../../generated/index.js';

export const RunTable = graphql(`
  query RunTable($first: Int!, $after: String, $state: DryingRunState) {
    dryingRuns(first: $first, after: $after, state: $state) {
      pageInfo { hasNextPage endCursor }
      nodes {
        id
        label
        state
        openedAt
        rhythmMin
        rig { id label version }
        balance { id label }
        discs { id label }
      }
    }
  }
`);

export const RunPage = graphql(`
  query RunPage($id: UUID!) {
    dryingRun(id: $id) {
      id
      label
      state
      rhythmMin
      openedAt
      recordedBy { id displayName }
      rig { id label version source bandCentreNm bandWidthNm meter { id label checkStatus checkDueAt lineFormat { ...LineFormatFields } } }
      balance { id label checkStatus checkDueAt resolution unit lineFormat { ...LineFormatFields } }
      protocol { id name version }
      parameters { rhythmMin bracketMin scanFirst lampWarmUpMin clockOffsetMostS outOfCheck }
      preflights {
        id
        observedAt
        recordedBy { id displayName }
        balanceStatus
        lampOnSince
        clockOffsetMs
        skipped { point reason }
      }
      rwcNow { disc { id } weighingId observedAt massMg rwc uRwc provisional }
      discs { id label leaf { id plant { id crop { id name } } } }
      weighings { ...WeighingFields }
      meterReadings {
        id
        lightPath
        observedAt
        clockOffsetMs
        powerText
        powerUnit
        powerNw
        disc { id label }
        recordedBy { id displayName }
        entryMode
        rawLine
        amendedBy { id replacementId reasonCode reason recordedAt recordedBy { id displayName } }
      }
      rwcSeries {
        id
        stale
        disc { id label }
        turgidMassMg
        uTurgidMassMg
        dryMassMg
        uDryMassMg
        turgidTransmittance
        flags { code severity message }
        points { weighingId rwc u }
        readings { meterReadingId }
      }
    }
  }
`);

export const OpenRunChoices = graphql(`
  query OpenRunChoices {
    rigs { id label version source bandCentreNm meter { id label checkStatus } }
    instruments(kind: BALANCE) { id label checkStatus checkDueAt }
    protocols { id versions { id name version state parameters { rhythmMin discDiameterMm discsPerLeaf } } }
  }
`);

export const OpenRunDiscs = graphql(`
  query OpenRunDiscs($search: String) {
    discs(first: 50, search: $search) {
      totalCount
      nodes { id label leaf { id label plant { id crop { id name } } } }
    }
  }
`);

export const OpenDryingRun = graphql(`
  mutation OpenDryingRun($input: OpenDryingRunInput!) {
    openDryingRun(input: $input) {
      dryingRun { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const CloseDryingRun = graphql(`
  mutation CloseDryingRun($input: DryingRunStepInput!) {
    closeDryingRun(input: $input) {
      dryingRun { id state }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const ReleaseDryingRun = graphql(`
  mutation ReleaseDryingRun($input: DryingRunStepInput!) {
    releaseDryingRun(input: $input) {
      dryingRun { id state }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const WhatWouldItBe = graphql(`
  query WhatWouldItBe($input: WeighWouldBeInput!) {
    weighWouldBe(input: $input) {
      massMg
      rwc
      uRwc
      provisional
      flags { code severity message }
      problem { code field message remedy }
    }
  }
`);

export const AmendMeterReading = graphql(`
  mutation AmendMeterReading($input: RecordMeterReadingInput!, $amends: AmendsInput!) {
    amendMeterReading(input: $input, amends: $amends) {
      meterReading { id }
      amendment { id staleResults { kind id label } }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const PreflightStanding = graphql(`
  query PreflightStanding($input: PreflightStandingInput!) {
    preflightStanding(input: $input) { point met told remedy skippable }
  }
`);

export const RecordPreflight = graphql(`
  mutation RecordPreflight($input: RecordPreflightInput!) {
    recordPreflight(input: $input) {
      preflight { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const HydrationTable = graphql(`
  query HydrationTable {
    hydrations(first: 50) {
      id
      label
      startedAt
      waterC
      note
      endsFrom
      endsBy
      recordedBy { id displayName }
      discs { id label }
      protocol { id name version }
      parameters { hydrationLeastMin hydrationMostMin hydrationLeastC hydrationMostC blottingPaper blottingCount blottingSeconds }
      end { id takenOutAt waterC blotted overrideReason recordedBy { id displayName } }
    }
  }
`);

export const StartHydration = graphql(`
  mutation StartHydration($input: StartHydrationInput!) {
    startHydration(input: $input) {
      hydration { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const EndHydration = graphql(`
  mutation EndHydration($input: EndHydrationInput!) {
    endHydration(input: $input) {
      hydration { id }
      replayed
      problem { code field message remedy }
    }
  }
`);
