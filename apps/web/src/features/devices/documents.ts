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
      passportRemarks { code severity message }
      retirement { id observedAt cause reason recordedBy { id displayName } }
      biasSweeps { id observedAt direction polarity steps pullInV uPullInV releaseV temperatureC voltsPerS file { id name url } recordedBy { id displayName } amendedBy { id reason } }
      tripTests { id observedAt biasV tripPowerText tripPowerUnit tripPowerNw rawLine decades lightCourse temperatureC file { id name url } recordedBy { id displayName } amendedBy { id reason } }
      sweepSummary { pullIn { polarity sweeps meanV uMeanV betweenSweepsSdV trendVPerSweep } hysteresisV polarityDifferenceV uPolarityDifferenceV }
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
        scatter
        holdV
        exponents { reading exponent p0Nw pullInV residualSdNw deltaAicc }
        residualSdNw
        degreesOfFreedom
        biasMinV
        biasMaxV
        tripTests { id }
        line { biasV powerNw lowNw highNw }
      }
      certificates { id state stale validity targetRwc thresholdPowerNw biasV tripRwcLow tripRwcHigh validUntil recordedAt }
      installations { id state zone site armedAt }
    }
  }
`);

export const UnitPassport = graphql(`
  query UnitPassport($id: UUID!) {
    deviceUnit(id: $id) {
      id
      absorptionBands { ...BandFields }
      lot { id label absorptionBands { ...BandFields } }
      choppedRuns { id observedAt biasV chopHz openings missed meanNw relativeSd note recordedBy { id displayName } amendedBy { id reason } }
      choppedRepeatability { withinSd withinLow withinHigh betweenSd groups observations pValue }
      temperatureRuns { id observedAt biasV steps relativePerK uRelativePerK note recordedBy { id displayName } amendedBy { id reason } }
      resetPulses { id observedAt pulseV pulseMs succeeded note recordedBy { id displayName } amendedBy { id reason } }
      cycleCounts { id observedAt cycles switching pullInV contactResistanceOhm note recordedBy { id displayName } amendedBy { id reason } }
      cycleDrift { perDecadeV lowV highV limitV verdict }
    }
  }
`);

export const DeviceLotPage = graphql(`
  query DeviceLotPage($id: UUID!) {
    deviceLot(id: $id) {
      id
      label
      recordedAt
      recordedBy { id displayName }
      units { id label state curve { id pullInV p0Nw exponent } certificates { id state validity biasV targetRwc } }
      statistics {
        units
        characterised
        retired
        pullIn { withinSd betweenSd groups observations pValue }
        threshold { withinSd betweenSd groups observations pValue }
        thresholdBiasV
        pullInChart { centre low high unit points { deviceUnitId label value outside } }
        p0Chart { centre low high unit points { deviceUnitId label value outside } }
      }
      absorptionBands { ...BandFields }
      acceptances { id observedAt criterion reliability confidence allowedFailures testedUnits failedUnits neededUnits shownReliability accepted note recordedBy { id displayName } }
    }
  }
`);

export const AcceptancePlanOf = graphql(`
  query AcceptancePlanOf($reliability: Float!, $confidence: Float!, $allowedFailures: Int!) {
    acceptancePlan(reliability: $reliability, confidence: $confidence, allowedFailures: $allowedFailures) { neededUnits }
  }
`);

export const BatchChoices = graphql(`
  query BatchChoices($id: UUID!) {
    deviceLot(id: $id) { id label units { id label state curve { id stale } } }
    calibrations { id label crop { id name } versions { id version state stale rwcMin rwcMax } }
    lightReferences { id label site basis powerText powerUnit relativeSd days }
    instruments(kind: BIAS_SOURCE) { id label resolution unit }
  }
`);

export const BatchPage = graphql(`
  query BatchPage($id: UUID!) {
    certificateBatch(id: $id) {
      id
      recordedAt
      recordedBy { id displayName }
      targetRwc
      targetBasis
      validUntil
      overrideReason
      calibrationVersion { id version calibration { id label } }
      lightReference { id label site }
      outcomes {
        deviceUnit { id label }
        certificate { id state signatures { id meaning recordedBy { id } } biasV thresholdPowerNw tripRwcLow tripRwcHigh falseTripChance missedTripChance overrides { code severity message } }
        refusal { id code message remedy objections { code severity message } }
      }
    }
  }
`);

export const CertificateTrialOf = graphql(`
  query CertificateTrialOf($input: CertificateTrialInput!) {
    certificateTrial(input: $input) {
      possible thresholdPowerNw biasV exactBiasV roundingRwc tripRwc tripRwcLow tripRwcHigh tripRwcSd marginSigma relativeSlope
      shares { cause share sdRwc }
      operatingCharacteristic { rwc pTrip }
      falseTripChance missedTripChance
      objections { code severity message }
      problem { code field message remedy }
    }
  }
`);

export const GuardBandTargetOf = graphql(`
  query GuardBandTargetOf($input: GuardBandTargetInput!) {
    guardBandTarget(input: $input) { targetRwc biasV tripRwcSd problem { code field message remedy } }
  }
`);

export const CertifyChoices = graphql(`
  query CertifyChoices($id: UUID!) {
    deviceUnit(id: $id) { id label curve { id biasMinV biasMaxV stale } }
    calibrations { id label crop { id name } versions { id version state stale rwcMin rwcMax } }
    lightReferences { id label site basis powerText powerUnit relativeSd days observedAt }
    instruments(kind: BIAS_SOURCE) { id label resolution unit }
  }
`);

export const MeterChoices = graphql(`
  query MeterChoices {
    instruments(kind: POWER_METER) { id label }
  }
`);

export const LightReferenceTable = graphql(`
  query LightReferenceTable {
    lightReferences {
      id label site basis observedAt powerText powerUnit powerNw relativeSd note days armedFromMin armedUntilMin latitude longitude bandCentreNm bandWidthNm tiltDeg diffuser
      meter { id label }
      series { at powerNw }
      dailyMaxima { at powerNw }
      spreadParts { cause relativeSd reason }
      recordedBy { id displayName }
      amendedBy { id reason }
    }
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
      lightReference { id label site basis powerText powerUnit relativeSd days observedAt }
      targetRwc
      targetBasis
      transmittanceAtTarget
      thresholdPowerNw
      biasV
      tripRwcLow
      tripRwcHigh
      tripRwcSd
      shares { cause share sdRwc }
      operatingCharacteristic { rwc pTrip }
      thresholdAtBiasNw
      tripRwc
      roundingRwc
      exactBiasV
      biasStepV
      pullInV
      marginSigma
      leastMarginSigma
      testedMinV
      testedMaxV
      holdV
      relativeSlope
      thresholdPerLnBias
      falseTripRwc
      falseTripChance
      missedTripRwc
      missedTripChance
      biasSource { id label }
      batch { id }
      trials
      seed
      validity
      notValidBecause
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
    thresholdCertificates(state: $state) { id state stale validity deviceUnit { id label } targetRwc biasV tripRwcLow tripRwcHigh validUntil }
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

/** A band with the spectrum it follows from, as it is drawn. */
export const BandFields = graphql(`
  fragment BandFields on AbsorptionBand {
    id observedAt centreNm widthNm peakAbsorptance method
    spectrum { id label wavelengthNm values waterOverlap }
    file { id name url } recordedBy { id displayName } amendedBy { id reason }
  }
`);

export const AbsorberSpectra = graphql(`
  query AbsorberSpectra { spectra(spectrumOf: ABSORBER) { id label peakNm amendedBy { id } } }
`);

export const RecordAbsorptionBand = graphql(`
  mutation RecordAbsorptionBand($input: RecordAbsorptionBandInput!) {
    recordAbsorptionBand(input: $input) { absorptionBand { id } replayed problem { code field message remedy } }
  }
`);

export const RecordChoppedRun = graphql(`
  mutation RecordChoppedRun($input: RecordChoppedRunInput!) {
    recordChoppedRun(input: $input) { choppedRun { id } replayed problem { code field message remedy } }
  }
`);

export const RecordResetPulse = graphql(`
  mutation RecordResetPulse($input: RecordResetPulseInput!) {
    recordResetPulse(input: $input) { resetPulse { id } replayed problem { code field message remedy } }
  }
`);

export const RecordTemperatureRun = graphql(`
  mutation RecordTemperatureRun($input: RecordTemperatureRunInput!) {
    recordTemperatureRun(input: $input) { temperatureRun { id } replayed problem { code field message remedy } }
  }
`);

export const RecordCycleCount = graphql(`
  mutation RecordCycleCount($input: RecordCycleCountInput!) {
    recordCycleCount(input: $input) { cycleCount { id } replayed problem { code field message remedy } }
  }
`);

export const RetireDeviceUnit = graphql(`
  mutation RetireDeviceUnit($input: RetireDeviceUnitInput!) {
    retireDeviceUnit(input: $input) { retirement { id } replayed problem { code field message remedy } }
  }
`);

export const RecordLotAcceptance = graphql(`
  mutation RecordLotAcceptance($input: RecordLotAcceptanceInput!) {
    recordLotAcceptance(input: $input) { lotAcceptance { id } replayed problem { code field message remedy } }
  }
`);

export const SignCertificateBatch = graphql(`
  mutation SignCertificateBatch($input: SignCertificateBatchInput!) {
    signCertificateBatch(input: $input) { signed left { certificate { id deviceUnit { id label } } message } replayed problem { code field message remedy } }
  }
`);

export const IssueCertificates = graphql(`
  mutation IssueCertificates($input: IssueCertificatesInput!) {
    issueCertificates(input: $input) { batch { id } job { id state } replayed problem { code field message remedy } }
  }
`);
