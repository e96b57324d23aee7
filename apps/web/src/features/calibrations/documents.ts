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
    readings leaves slope rwcAtTarget naiveHalfWidthPoints meanHalfWidthPoints newLeafHalfWidthPoints toleranceHalfWidthPoints betweenLeavesPoints withinLeavesPoints
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
      adjustedFrom { kind id label }
      besideLeafCount
      points { rwcSeriesId meterReadingId leaf { kind id label } rwc uRwc transmittance uTransmittance used exclusionReason residual beside }
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

export const TransferChoices = graphql(`
  query TransferChoices($id: UUID!) {
    calibrationVersion(id: $id) {
      id version family rwcMin rwcMax leafCount
      calibration { id label crop { id name } }
      rig { id label version }
      points { meterReadingId used leaf { id } }
    }
    crops { id name }
  }
`);

export const TransferRuns = graphql(`
  query TransferRuns($cropId: UUID!) {
    calibrationCandidates(cropId: $cropId) {
      id label openedAt
      rig { id label version }
      rwcSeries { id stale disc { id leaf { id label plant { id crop { id } } } } }
    }
  }
`);

export const StudyTransfer = graphql(`
  mutation StudyTransfer($input: StudyTransferInput!) {
    studyTransfer(input: $input) { transferStudy { id } replayed problem { code field message remedy } }
  }
`);

export const StudyWaterThickness = graphql(`
  mutation StudyWaterThickness($input: StudyWaterThicknessInput!) {
    studyWaterThickness(input: $input) { transferStudy { id } replayed problem { code field message remedy } }
  }
`);

export const AdjustCalibration = graphql(`
  mutation AdjustCalibration($input: AdjustCalibrationInput!) {
    adjustCalibration(input: $input) { calibrationVersion { id } replayed problem { code field message remedy } }
  }
`);

export const TransferStudyList = graphql(`
  query TransferStudyList($versionId: UUID) {
    transferStudies(calibrationVersionId: $versionId) {
      id recordedAt stale basis sentence
      recordedBy { id displayName }
      crop { id name }
      readings { verdict marginPoints leafCount }
      thickness { leafCount }
    }
  }
`);

export const TransferStudyPage = graphql(`
  query TransferStudyPage($id: UUID!) {
    transferStudy(id: $id) {
      id recordedAt stale basis sentence codeVersion contentHash
      recordedBy { id displayName }
      crop { id name }
      given { kind id label crop rig leafCount rwcMin rwcMax slope }
      remarks { code severity message }
      adjusted { id version state calibration { id label } }
      readings {
        verdict marginPoints alpha level leafEffects rwcFrom rwcTo leafCount readingCount moreLeaves dryingRunIds
        biasPoints biasLow biasHigh rmsPoints insideLeaves insideShareLow insideShareHigh insidePValue
        comparison { ownSlope slopeRatio slopeRatioLow slopeRatioHigh offsetPoints offsetStandardErrorPoints commonLinePValue worstPoints worstAfterOffsetPoints off { rwc points low high } }
        leaves { leaf { kind id label } readings biasPoints rmsPoints promisedHalfWidthPoints inside }
        points { meterReadingId leaf { kind id label } rwc uRwc transmittance uTransmittance used exclusionReason }
        curve { rwc transmittance newLeafLow newLeafHigh marginLow marginHigh }
      }
      thickness {
        level structureSd leafCount ewtTurgidUm uEwtTurgidUm betweenLeavesUm givenEwtFromUm givenEwtToUm
        discs { disc { kind id label } leaf { kind id label } turgidMassMg dryMassMg areaCm2 }
        curve { rwc ewtUm transmittance meanLow meanHigh newLeafLow newLeafHigh newLeafHalfWidthPoints uCalibration uThickness uStructure extrapolated }
      }
    }
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

/** What a lab states of a version for others. */
export const StatementFields = graphql(`
  fragment StatementFields on CalibrationStatement {
    labName
    calibrationVersionId
    versionContentHash
    label
    version
    cropName
    scientificName
    family
    codeVersion
    fittedAt
    adjustedFrom
    rigText
    bandCentreNm
    bandWidthNm
    parameters { name value standardError }
    residualSd
    degreesOfFreedom
    betweenLeafSdRwc
    leafCount
    readingCount
    leftOutCount
    rwcMin
    rwcMax
    curve { rwc transmittance meanLow meanHigh newLeafLow newLeafHigh }
    validation { atRwc meanHalfWidthPoints newLeafHalfWidthPoints leaveOneLeafOutPoints }
    scope { cultivars growthStages leafSide bandFromNm bandToNm rwcMin rwcMax validUntil note }
    signatures { meaning by at statement }
    remarks { code severity message }
  }
`);

export const CommentFields = graphql(`
  fragment CommentFields on CalibrationComment { id at by labName own question text answersId shareId }
`);

export const SharedTable = graphql(`
  query SharedTable {
    sharedCalibrations {
      id sharedAt until
      giver { id name }
      depth permits licence
      standing { state stale }
      statement { label version cropName family leafCount rwcMin rwcMax fittedAt curve { rwc transmittance newLeafLow newLeafHigh } }
      adopted { id calibration { id label } version state certificates { id } installations { id } }
    }
  }
`);

export const SharedPage = graphql(`
  query SharedPage($id: UUID!) {
    sharedCalibration(id: $id) {
      id sharedAt until
      giver { id name }
      depth permits licence citation
      standing { state stale since reason }
      statement { ...StatementFields }
      adopted { id version state calibration { id label crop { id name } } }
      comments { ...CommentFields }
      followed
    }
  }
`);

export const AdoptChoices = graphql(`
  query AdoptChoices {
    calibrations { id label crop { id name } }
    rigs { id label version bandCentreNm bandWidthNm }
  }
`);

export const AdoptCalibration = graphql(`
  mutation AdoptCalibration($input: AdoptCalibrationInput!) {
    adoptCalibration(input: $input) { calibrationVersion { id } replayed problem { code field message remedy } }
  }
`);

export const ReadPackOfOtherServer = graphql(`
  query ReadPackOfOtherServer($id: UUID!) {
    readSharedPack(storedFileId: $id) {
      pack { shareId depth permits licence citation ledger keys statement { ...StatementFields } findings { check status says } }
      problem { code field message remedy }
    }
  }
`);

export const ImportCalibration = graphql(`
  mutation ImportCalibration($input: ImportCalibrationInput!) {
    importCalibration(input: $input) { calibrationVersion { id } replayed problem { code field message remedy } }
  }
`);

export const FollowShare = graphql(`
  mutation FollowShare($shareId: UUID!, $follow: Boolean!) {
    followShare(shareId: $shareId, follow: $follow) { followed problem { code field message remedy } }
  }
`);

export const RecordCalibrationComment = graphql(`
  mutation RecordCalibrationComment($input: RecordCalibrationCommentInput!) {
    recordCalibrationComment(input: $input) { comment { id } replayed problem { code field message remedy } }
  }
`);

export const VersionSharing = graphql(`
  query VersionSharing($id: UUID!) {
    calibrationVersion(id: $id) {
      id
      shares {
        id recordedAt recordedBy { id displayName } depth permits licence citation packBytes
        grants { id recordedAt audience labs { id name } until stands withdrawal { id recordedAt reason } }
      }
      comments { ...CommentFields }
      origin {
        id recordedAt recordedBy { id displayName } source shareId labName ledger keys versionId versionContentHash depth licence citation keyComparedWith reason
        pack { id sizeBytes sha256 url }
        standing { state stale since reason }
        statement { label version cropName rigText bandCentreNm readingCount }
      }
    }
  }
`);

export const OtherLabs = graphql(`
  query OtherLabs { otherLabs { id name } }
`);

export const ShareCalibration = graphql(`
  mutation ShareCalibration($input: ShareCalibrationInput!) {
    shareCalibration(input: $input) { share { id packBytes } replayed problem { code field message remedy } }
  }
`);

export const GrantShare = graphql(`
  mutation GrantShare($input: GrantShareInput!) {
    grantShare(input: $input) { grant { id } replayed problem { code field message remedy } }
  }
`);

export const WithdrawGrant = graphql(`
  mutation WithdrawGrant($input: WithdrawGrantInput!) {
    withdrawGrant(input: $input) { withdrawal { id } replayed problem { code field message remedy } }
  }
`);

export const SharePack = graphql(`
  query SharePack($id: UUID!) { sharePack(id: $id) { fileName base64 sha256 bytes } }
`);
