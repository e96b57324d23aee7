import { graphql } from '../../generated/index.js';

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
    refitOf
    credits { labName label version licence citation }
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
