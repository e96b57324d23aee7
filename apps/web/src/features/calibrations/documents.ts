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
    parameters { name value }
    curve { rwc transmittance newLeafLow newLeafHigh }
    certificates { id }
    installations { id }
    findings { code severity message }
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
      versions { ...CalibrationVersionSummary }
    }
  }
`);

export const CalibrationCandidates = graphql(`
  query CalibrationCandidates($id: UUID!, $cropId: UUID!, $filter: CandidateFilterInput) {
    calibration(id: $id) { id label crop { id name } }
    candidateChoices(cropId: $cropId) { cultivars growthStages rigs { id label version bandCentreNm bandWidthNm } }
    calibrationCandidates(cropId: $cropId, filter: $filter) {
      id
      label
      openedAt
      rig { id label version bandCentreNm }
      rwcSeries { id stale disc { id label leaf { id label growthStage plant { id cultivar crop { id } } } } }
    }
  }
`);

export const CalibrationStudy = graphql(`
  query CalibrationStudy($input: CalibrationStudyInput!) {
    calibrationStudy(input: $input) {
      problem { code field message remedy }
      study {
        atRwc
        tooNarrowTimes
        weighingPoints
        finding
        leafEffects
        figures { ...StudyFigureFields }
        withAll { ...StudyFigureFields }
        points { meterReadingId leaf rwc uRwc transmittance uTransmittance day operator order used exclusionReason within around cooksDistance flags }
        curve { rwc transmittance mean newLeaf tolerance }
        readBack { transmittance rwc mean newLeaf tolerance }
        leaves { leaf readings ownPoints shrunkPoints sdPoints reliability }
        residualsBy { by pValue }
        durbinWatson
        orderPValue
        lackOfFitPValue
        lackOfFitReason
        advice {
          betweenLeavesShare readingShare meanLineShare floorPoints sentence
          moreLeaves { ...StudyEffortFields } moreReadings { ...StudyEffortFields } byLeaves { ...StudyEffortFields } byReadings { ...StudyEffortFields }
        }
        remarks { code severity message }
      }
    }
  }
`);

export const StudyFigureFields = graphql(`
  fragment StudyFigureFields on StudyFigures {
    readings leaves slope parameters { name value standardError } rwcAtTarget naiveHalfWidthPoints meanHalfWidthPoints newLeafHalfWidthPoints toleranceHalfWidthPoints betweenLeavesPoints withinLeavesPoints
  }
`);

export const StudyEffortFields = graphql(`
  fragment StudyEffortFields on StudyEffort { extraLeaves extraReadingsPerLeaf halfWidthPoints }
`);

export const CompareCalibrations = graphql(`
  mutation CompareCalibrations($id: UUID!, $input: CalibrationStudyInput!) {
    compareCalibrations(id: $id, input: $input) { job { ...JobFields } replayed problem { code field message remedy } }
  }
`);

export const RecordCalibrationScope = graphql(`
  mutation RecordCalibrationScope($input: RecordCalibrationScopeInput!) {
    recordCalibrationScope(input: $input) { scope { id } replayed problem { code field message remedy } }
  }
`);

export const CalibrationCrop = graphql(`
  query CalibrationCrop($id: UUID!) {
    calibration(id: $id) { id crop { id } }
  }
`);

export const RefitParent = graphql(`
  query RefitParent($id: UUID!) {
    calibrationVersion(id: $id) { id version leafCount state calibration { id label } credits { labName } }
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
      hasLeafEffects
      rwcMin
      rwcMax
      adjustedFrom { kind id label }
      refitOf { kind id label }
      credits { labName label version licence citation }
      besideLeafCount
      points { rwcSeriesId meterReadingId leaf { kind id label } rwc uRwc transmittance uTransmittance used exclusionReason residual beside ofParent }
      curve { rwc transmittance meanLow meanHigh newLeafLow newLeafHigh }
      remarks { code severity message }
      signatures { ...SignatureFields }
      certificates { id state targetRwc biasV deviceUnit { id label } validUntil }
      installations { id zone site state armedAt deviceUnit { id label } }
      scope { id recordedAt recordedBy { id displayName } cultivars growthStages leafSide bandFromNm bandToNm rwcMin rwcMax validUntil endsOn note }
      findings { code severity message }
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

export const CropCalibrations = graphql(`
  query CropCalibrations($cropId: UUID!) {
    calibrations(cropId: $cropId) { id label }
  }
`);

export const AcrossCrops = graphql(`
  query AcrossCrops($atRwc: Float!) {
    acrossCrops(atRwc: $atRwc) {
      atRwc
      crops { crop { id name } label version { id version } slope slopeStandardError transmittance lnStandardError weight }
      slope { mean low high nextLow nextHigh tau iSquared }
      transmittance { mean low high nextLow nextHigh tau iSquared }
    }
  }
`);

export const TidyTables = graphql(`
  query TidyTables($kind: String!, $id: UUID!) {
    tidyTables(kind: $kind, id: $id) { file { fileName base64 } }
  }
`);
