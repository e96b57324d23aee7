import { graphql } from '../../generated/index.js';

export const DeviceUnitTable = graphql(`
  query DeviceUnitTable($after: String, $search: String) {
    deviceUnits(first: 50, after: $after, search: $search) {
      nodes {
        id
        label
        state
        lot { id label }
        curve { id stale pullInV }
        certificates { id state stale biasV targetRwc validUntil }
        installations { id state zone }
      }
      pageInfo { hasNextPage endCursor }
    }
  }
`);

export const DeviceLotChoices = graphql(`
  query DeviceLotChoices {
    deviceLots { id label }
  }
`);

export const DeviceUnitPage = graphql(`
  query DeviceUnitPage($id: UUID!) {
    deviceUnit(id: $id) {
      id
      label
      state
      recordedAt
      recordedBy { id displayName }
      lot { id label }
      biasSweeps { id observedAt direction polarity steps pullInV uPullInV recordedBy { id displayName } amendedBy { id reason } }
      tripTests { id observedAt biasV tripPowerText tripPowerUnit tripPowerNw rawLine recordedBy { id displayName } amendedBy { id reason } }
      curve {
        id
        recordedAt
        recordedBy { id displayName }
        codeVersion
        stale
        p0Nw
        pullInV
        exponent
        exponentFree
        covariance
        residualSdNw
        degreesOfFreedom
        biasMinV
        biasMaxV
        tripTests { id }
        line { biasV powerNw lowNw highNw }
      }
      certificates { id state stale targetRwc thresholdPowerNw biasV tripRwcLow tripRwcHigh validUntil recordedAt }
      installations { id state zone site armedAt }
    }
  }
`);

export const CertifyChoices = graphql(`
  query CertifyChoices($id: UUID!) {
    deviceUnit(id: $id) { id label curve { id biasMinV biasMaxV stale } }
    calibrations { id label crop { id name } versions { id version state stale rwcMin rwcMax } }
    lightReferences { id label site basis powerText powerUnit relativeSd observedAt }
  }
`);

export const LightReferenceTable = graphql(`
  query LightReferenceTable {
    lightReferences { id label site basis observedAt powerText powerUnit powerNw relativeSd note recordedBy { id displayName } }
  }
`);

export const CertificatePage = graphql(`
  query CertificatePage($id: UUID!) {
    thresholdCertificate(id: $id) {
      id
      recordedAt
      recordedBy { id displayName }
      contentHash
      codeVersion
      state
      stale
      deviceUnit { id label lot { id label } }
      calibrationVersion { id version leafCount rwcMin rwcMax calibration { id label crop { id name } } }
      curve { id pullInV biasMinV biasMaxV }
      lightReference { id label site basis powerText powerUnit relativeSd observedAt }
      targetRwc
      targetBasis
      transmittanceAtTarget
      thresholdPowerNw
      biasV
      tripRwcLow
      tripRwcHigh
      tripRwcSd
      shares { cause share }
      operatingCharacteristic { rwc pTrip }
      validUntil
      overrides { code severity message }
      overrideReason
      signatures { ...SignatureFields }
      installations { id state zone site armedAt }
    }
  }
`);

export const CertificateTable = graphql(`
  query CertificateTable($state: ApprovalState) {
    thresholdCertificates(state: $state) { id state stale deviceUnit { id label } targetRwc biasV tripRwcLow tripRwcHigh validUntil }
  }
`);

export const RegisterDeviceLot = graphql(`
  mutation RegisterDeviceLot($input: RegisterDeviceLotInput!) {
    registerDeviceLot(input: $input) { deviceLot { id label } replayed problem { code field message remedy } }
  }
`);

export const RegisterDeviceUnit = graphql(`
  mutation RegisterDeviceUnit($input: RegisterDeviceUnitInput!) {
    registerDeviceUnit(input: $input) { deviceUnit { id } replayed problem { code field message remedy } }
  }
`);

export const RecordBiasSweep = graphql(`
  mutation RecordBiasSweep($input: RecordBiasSweepInput!) {
    recordBiasSweep(input: $input) { biasSweep { id pullInV } replayed problem { code field message remedy } }
  }
`);

export const RecordTripTest = graphql(`
  mutation RecordTripTest($input: RecordTripTestInput!) {
    recordTripTest(input: $input) { tripTest { id } replayed problem { code field message remedy } }
  }
`);

export const FitBiasThresholdCurve = graphql(`
  mutation FitBiasThresholdCurve($input: FitBiasThresholdCurveInput!) {
    fitBiasThresholdCurve(input: $input) { curve { id } replayed problem { code field message remedy } }
  }
`);

export const RecordLightReference = graphql(`
  mutation RecordLightReference($input: RecordLightReferenceInput!) {
    recordLightReference(input: $input) { lightReference { id } replayed problem { code field message remedy } }
  }
`);

export const IssueCertificate = graphql(`
  mutation IssueCertificate($input: IssueCertificateInput!) {
    issueCertificate(input: $input) {
      certificate { id }
      replayed
      problem { code field message remedy }
      objections { code severity message }
    }
  }
`);
