const OWN = 'nothing is looked up by it: it is compared with what the own lab has';

/**
 * Places for ids where another lab's record could not be told from an unknown id even if all walls were down: nothing is looked up by
 * the id, or it is no record. A new place belongs here only with such a reason; else give `places.ts` what gets the request past its
 * other refusals.
 */
export const SHIELDED: Readonly<Record<string, string>> = {
  'amendMeterReading input.discId': `${OWN}: the discs of the run`,
  'calibrationStudy input.leafIds.0': `${OWN}: the leaves of the runs`,
  'compareCalibrations input.leafIds.0': `${OWN}: the leaves of the runs`,
  'fitCalibration input.leafIds.0': `${OWN}: the leaves of the runs`,
  'markNoticeSeen ids.0': 'the one own notice is seen by then; only notices of the person who asks are marked, and their number is told',
  'previewDryingImport input.cropId': 'a preview reads the file; the crop is looked up when it is recorded, by importDryingSeries',
  'previewSamples input.cropId': 'a preview makes labels; the crop is looked up when they are recorded, by recordSamples',
  'previewSamples input.motherId': 'a preview makes labels; the mother is looked up when they are recorded, by recordSamples',
  'recordCalibrationComment input.answersId': `${OWN}: the questions on the same share`,
  'recordInstallation input.deviceUnitId': `${OWN}: the unit of the certificate`,
  'recordMeterReading input.discId': `${OWN}: the discs of the run`,
  'studyTransfer input.cropId': `${OWN}: the crop of the leaves in the runs`,
  'studyTransfer input.leafIds.0': `${OWN}: the leaves of the runs`,
  'studyWaterThickness input.discIds.0': `${OWN}: the discs of the crop`,
  'unloadOvenCycle input.scannedDiscIds.0': `${OWN}: the discs of the cycle`,
  'weighWouldBe input.dryingRunId': 'an unknown run is taken as none, and the protocol of the run here says what the house says',
};

const NO_LAB = 'nothing of a lab';

/** Questions without an id whose answer is the same with the walls down, and why that is so. */
export const ALIKE: Readonly<Record<string, string>> = {
  about: NO_LAB,
  acceptancePlan: NO_LAB,
  calendarFeedMadeAt: 'of the person alone',
  checkpoint: 'the newest by number; both ledgers of this test have some',
  consistencyProof: 'refused: the sizes asked for are none of this ledger',
  constantMassRules: NO_LAB,
  discByLabel: 'asked for a label that nobody has; labels and codes of the other lab are tried below',
  dryingImportMappings: 'of imports, and nothing was imported here',
  fieldAgreement: 'of field checks, and none was made here',
  fieldMarks: 'of units that stand in the field; those of this test have ended',
  houseParameters: NO_LAB,
  ledgerActions: 'verbs, and both labs used the same',
  me: 'of the person alone',
  notices: 'of the person alone',
  sampleWords: 'words used for samples, and both labs used the same',
  scan: 'asked for a code that nobody has; labels and codes of the other lab are tried below',
  tokenInUse: 'asked without a token',
  verifier: NO_LAB,
  zone: 'asked for a zone that nobody has',
};
