import { graphql } from '../../generated/index.js';

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
