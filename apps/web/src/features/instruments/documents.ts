import { graphql } from '../../generated/index.js';

export const InstrumentTable = graphql(`
  query InstrumentTable {
    instruments { id kind label serialNumber location checkStatus checkDueAt checkEveryHours }
    rigs { id label version source bandCentreNm bandWidthNm diffuser apertureMm meter { id label checkStatus } recordedAt recordedBy { id displayName } }
  }
`);

export const InstrumentPage = graphql(`
  query InstrumentPage($id: UUID!) {
    instrument(id: $id) {
      id
      kind
      label
      serialNumber
      location
      resolution
      repeatability
      linearity
      driftPerYear
      unit
      checkEveryHours
      checkStatus
      checkDueAt
      recordedAt
      recordedBy { id displayName }
      lineFormat { ...LineFormatFields }
      calibrations {
        id
        calibratedAt
        dueAt
        calibratedBy
        certificateNumber
        certificateFile { ...StoredFileFields }
        largestError
        expandedUncertainty
        note
        recordedBy { id displayName }
      }
      checks(first: 100) { id observedAt nominal shown tolerance passed note recordedBy { id displayName } }
    }
  }
`);

export const RegisterInstrument = graphql(`
  mutation RegisterInstrument($input: RegisterInstrumentInput!) {
    registerInstrument(input: $input) {
      instrument { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordInstrumentCheck = graphql(`
  mutation RecordInstrumentCheck($input: RecordInstrumentCheckInput!) {
    recordInstrumentCheck(input: $input) {
      check { id passed instrument { id checkStatus checkDueAt } }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordInstrumentCalibration = graphql(`
  mutation RecordInstrumentCalibration($input: RecordInstrumentCalibrationInput!) {
    recordInstrumentCalibration(input: $input) {
      calibration { id instrument { id checkStatus checkDueAt } }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RigPage = graphql(`
  query RigPage($id: UUID!) {
    rig(id: $id) {
      id
      label
      version
      source
      bandCentreNm
      bandWidthNm
      diffuser
      apertureMm
      meter { id label checkStatus }
      recordedAt
      recordedBy { id displayName }
      lampReadings { id lightPath observedAt powerNw dryingRun { id label } }
    }
  }
`);

export const SetLineFormat = graphql(`
  mutation SetLineFormat($input: SetLineFormatInput!) {
    setLineFormat(input: $input) {
      lineFormat { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RegisterRig = graphql(`
  mutation RegisterRig($input: RegisterRigInput!) {
    registerRig(input: $input) {
      rig { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const FaultReach = graphql(`
  query FaultReach($instrumentId: UUID!, $from: Moment!, $to: Moment!) {
    touchedBy(instrumentId: $instrumentId, from: $from, to: $to) {
      factCount
      truncated
      touched { kind id label restsOn stale }
    }
  }
`);

export const FaultMoves = graphql(`
  query FaultMoves($instrumentId: UUID!, $from: Moment!, $to: Moment!, $offset: Decimal, $span: Decimal) {
    faultMoves(instrumentId: $instrumentId, from: $from, to: $to, offset: $offset, span: $span) {
      corrected
      moved { id withoutRefused correctedRefused values { name unit then without corrected } }
    }
  }
`);
