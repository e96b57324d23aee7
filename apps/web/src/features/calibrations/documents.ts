import { graphql } from '../../generated/index.js';

/** A version as lists show it, with the line and bands from which its new-leaf half-width is read. */
export const CalibrationVersionSummary = graphql(`
  fragment CalibrationVersionSummary on CalibrationVersion {
    id
    version
    state
    stale
    family
    leafCount
    rwcMin
    rwcMax
    recordedAt
    recordedBy { id displayName }
    rig { id label version }
    curve { rwc transmittance newLeafLow newLeafHigh }
  }
`);

export const CalibrationTable = graphql(`
  query CalibrationTable($cropId: UUID) {
    crops { id name }
    calibrations(cropId: $cropId) { id label crop { id name } versions { ...CalibrationVersionSummary } }
  }
`);

export const CalibrationPage = graphql(`
  query CalibrationPage($id: UUID!) {
    calibration(id: $id) {
      id
      label
      crop { id name scientificName }
      recordedAt
      recordedBy { id displayName }
      versions { ...CalibrationVersionSummary certificates { id } }
    }
  }
`);

export const CalibrationCandidates = graphql(`
  query CalibrationCandidates($id: UUID!, $cropId: UUID!) {
    calibration(id: $id) { id label crop { id name } }
    calibrationCandidates(cropId: $cropId) {
      id
      label
      openedAt
      rig { id label version }
      rwcSeries {
        id
        stale
        disc { id label leaf { id label plant { id crop { id } } } }
        readings { meterReadingId at rwc uRwc transmittance uTransmittance }
      }
    }
  }
`);

export const CalibrationCrop = graphql(`
  query CalibrationCrop($id: UUID!) {
    calibration(id: $id) { id crop { id } }
  }
`);

export const CalibrationVersionPage = graphql(`
  query CalibrationVersionPage($id: UUID!) {
    calibrationVersion(id: $id) {
      id
      version
      state
      stale
      family
      codeVersion
      contentHash
      recordedAt
      recordedBy { id displayName }
      calibration { id label crop { id name } }
      rig { id label version source bandCentreNm bandWidthNm }
      parameters { name value standardError }
      residualSd
      degreesOfFreedom
      betweenLeafSdRwc
      leafCount
      rwcMin
      rwcMax
      points { rwcSeriesId meterReadingId leaf { kind id label } rwc uRwc transmittance uTransmittance used exclusionReason residual }
      curve { rwc transmittance meanLow meanHigh newLeafLow newLeafHigh }
      remarks { code severity message }
      signatures { ...SignatureFields }
      certificates { id state targetRwc biasV deviceUnit { id label } validUntil }
    }
  }
`);

export const ReadBack = graphql(`
  query ReadBack($id: UUID!, $transmittance: Float!) {
    calibrationVersion(id: $id) {
      id
      rwcAt(transmittance: $transmittance) { rwc meanLow meanHigh newLeafLow newLeafHigh fiellerG problem { code field message remedy } }
    }
  }
`);

export const RecordCalibration = graphql(`
  mutation RecordCalibration($input: RecordCalibrationInput!) {
    recordCalibration(input: $input) { calibration { id } replayed problem { code field message remedy } }
  }
`);

export const FitCalibration = graphql(`
  mutation FitCalibration($input: FitCalibrationInput!) {
    fitCalibration(input: $input) { calibrationVersion { id } replayed problem { code field message remedy } }
  }
`);
