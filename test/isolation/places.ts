import { STOCK } from './sides.js';

/** Of which kind an id is asked for is told by the name of its place; these names tell another kind than they look like. */
const KIND_OF_NAME: Readonly<Record<string, string>> = {
  person: 'account', target: 'weighing', replacement: 'weighing', entry: 'ledger_entry', mother: 'plant', photo: 'stored_file', photo_file: 'stored_file', file: 'stored_file', certificate_file: 'stored_file',
  answers: 'calibration_comment', share: 'calibration_share', grant: 'share_grant', certificate: 'threshold_certificate', rule: 'zone_rule', report: 'stored_file', instrument_file: 'stored_file',
  run: 'drying_run', curve: 'bias_threshold_curve', lot: 'device_lot', inside: 'place', lamp: 'lamp_spectrum', sun: 'sun_spectrum', band: 'filter_spectrum', field_band: 'filter_spectrum', ids: 'notice', scanned_disc: 'oven_disc',
  subject: 'calibration_version', refit_of: 'calibration_version',
};

/** Of a query's `id`, by the operation that asks. */
const KIND_OF_QUERY: Readonly<Record<string, string>> = {
  sharedCalibration: 'calibration_share', sharePack: 'calibration_share', cancelJob: 'job', retryJob: 'job', ledger: 'weighing', ledgerExceptions: 'meter_reading', thread: 'calibration_version',
  recompute: 'calibration_version', evidencePack: 'threshold_certificate', threadPaper: 'calibration_version', recordKind: 'calibration_version', tidyTables: 'calibration_version', rwcSeries: 'rwc_series',
};

/** Where one operation wants another kind, or a certain one, in a place. */
const KIND_AT: Readonly<Record<string, string>> = {
  'bandWeighting input.leafId': 'leaf_spectrum',
  'recordAbsorptionBand input.spectrumId': 'absorber_spectrum',
  'calibrationStudy input.dryingRunIds.0': 'released_run',
  'compareCalibrations input.dryingRunIds.0': 'released_run',
  'fitCalibration input.dryingRunIds.0': 'released_run',
  'faultMoves instrumentId': 'balance',
  'ledgerExceptions subjectId': 'meter_reading',
  'labelPrintCounts subjectIds.0': 'disc',
  'labelPrints subjectId': 'disc',
  'ledger after': 'ledger_entry',
  'printLabels input.subjectIds.0': 'disc',
  'amendSample input.subjectId': 'plant',
  'custodies subjectId': 'disc',
  'recordCustody input.moves.0.subjectId': 'plant',
  'recordSampleLoss input.losses.0.subjectId': 'plant',
  'registerRig input.meterId': 'meter',
  'startOvenCycle input.discIds.0': 'dried_disc',
  'computeRwcSeries input.discId': 'dried_disc',
  'studyTransfer input.cropId': 'olive',
  'studyTransfer input.dryingRunIds.0': 'olive_run',
  'studyTransfer input.leafIds.0': 'olive_leaf',
  'studyWaterThickness input.cropId': 'olive',
  'studyWaterThickness input.discIds.0': 'olive_disc',
  'adjustCalibration input.calibrationId': 'calibration',
  'adoptCalibration input.shareId': 'adoptable_share',
  'sharedCalibration id': 'adoptable_share',
  'followShare shareId': 'adoptable_share',
  'importCalibration input.storedFileId': 'pack',
  'readSharedPack storedFileId': 'pack',
  'recordInstrumentCalibration input.instrumentId': 'balance',
  'closeDryingRun input.dryingRunId': 'drying_run',
  'amendMeterReading amends.targetId': 'meter_reading',
};

const snake = (name: string): string => name.replace(/Ids?$/, '').replace(/([a-z0-9])([A-Z])/g, '$1_$2').toLowerCase();

export function kindAt(name: string, operation: string, place: string): string {
  const certain = KIND_AT[place];
  if (certain) return certain;
  if (name === 'id' || name === 'after') return KIND_OF_QUERY[operation] ?? snake(operation).replace(/s$/, '');
  const plain = snake(name);
  return KIND_OF_NAME[plain] ?? plain;
}

/** Their `id` is the id of the job that they start. */
export const STARTS: readonly string[] = ['recomputeAll', 'compareCalibrations', 'lookOverField', 'issueCertificates'];

const IMPORTED = { text: 'disc,min,mg\nX,0,70\nX,10,60\n', mapping: { massUnit: 'mg', discColumn: 'disc', timeColumn: 'min', timeUnit: 'min', massColumn: 'mg', startAt: '2026-06-03T09:00:00Z' } };
const LATER = '2026-09-01T09:00:00.000Z';

/**
 * Plain values that do for most places are refused by some operations before they look at an id; these get them past that, for an
 * operation as a whole or for one of its places. `null` leaves a value out.
 */
export const SENSIBLE: Readonly<Record<string, object>> = {
  'weighWouldBe input.balanceId': { input: { massText: '1', state: 'DRYING' } },
  'recordWeighing input.ovenCycleId': { input: { massText: '12.00', state: 'DRY', dryingRunId: null, overrideReason: 'For the test.' } },
  'previewDryingImport': { input: IMPORTED },
  'importDryingSeries': { input: IMPORTED },
  'touchedBy': { from: '2026-01-01T00:00:00Z', to: LATER },
  'faultMoves': { from: '2026-01-01T00:00:00Z', to: LATER },
  'evidencePack': { kind: 'threshold_certificate' },
  'inclusionProof entryId': { subjectId: null },
  'inclusionProof subjectId': { entryId: null },
  'ledger': { after: null, subjectId: null, id: null, personId: null },
  'ledgerExceptions': { subjectId: null, id: null, personId: null },
  'amendMeterReading': { input: { lightPath: 'READING' } },
  'recordMeterReading': { input: { lightPath: 'READING' } },
  'recordLightReference': { input: { powerText: '480', powerUnit: 'nW', relativeSd: '0.1' } },
  'recordBiasSweep': { input: { steps: [[0.5, 2e-12], [1, 2e-12], [1.5, 1e-7]] } },
  'recordInstallation': { input: { overrideReason: 'For the test.' } },
  'recordInstrumentCalibration': { input: { calibratedAt: '2026-05-01T00:00:00Z', dueAt: LATER } },
  'printLabels': { input: { subjectKind: 'DISC', stock: STOCK, reason: 'For the test.', firstPlace: 0 } },
  'hearLine': { input: { rawLine: 'ST,1.00 mg' } },
  'startOvenCycle': { input: { setTemperatureC: '70' } },
  'recordAbsorptionBand input.deviceUnitId': { input: { centreNm: '1470', widthNm: '90', deviceLotId: null, spectrumId: null } },
  'recordAbsorptionBand input.storedFileId': { input: { centreNm: '1470', widthNm: '90', deviceLotId: null, spectrumId: null } },
  'recordAbsorptionBand input.deviceLotId': { input: { centreNm: '1470', widthNm: '90', deviceUnitId: null, spectrumId: null } },
  'recordAbsorptionBand input.spectrumId': { input: { centreNm: null, widthNm: null, peakAbsorptance: null, deviceLotId: null } },
  'recordChoppedRun': { input: { tripPowersNw: [100, 101, 99] } },
  'recordTemperatureRun': { input: { steps: [[10, 100], [20, 101], [30, 102]] } },
  'recordLotAcceptance': { input: { reliability: '0.9', confidence: '0.9', testedUnits: 30, failedUnits: 0 } },
  'recordSamples input.cropId': { input: { plantIds: null, leafIds: null, plantPattern: 'Fresh{n}-#', newPlants: 1 } },
  'recordSamples input.motherId': { input: { plantIds: null, leafIds: null, plantPattern: 'Fresh{n}-#', newPlants: 1 } },
  'recordSamples input.plantIds.0': { input: { leafIds: null, cropId: null, motherId: null, newPlants: null, leavesPerPlant: 1 } },
  'recordSamples input.leafIds.0': { input: { plantIds: null, cropId: null, motherId: null, newPlants: null, discsPerLeaf: 1 } },
  'previewSamples input.cropId': { input: { plantIds: null, leafIds: null, plantPattern: 'Fresh-#', newPlants: 1 } },
  'previewSamples input.motherId': { input: { plantIds: null, leafIds: null, plantPattern: 'Fresh-#', newPlants: 1 } },
  'previewSamples input.plantIds.0': { input: { leafIds: null, cropId: null, motherId: null, newPlants: null, leavesPerPlant: 1 } },
  'previewSamples input.leafIds.0': { input: { plantIds: null, cropId: null, motherId: null, newPlants: null, discsPerLeaf: 1 } },
  'recordCalibrationComment input.calibrationVersionId': { input: { shareId: null, answersId: null } },
  'recordCalibrationComment input.shareId': { input: { calibrationVersionId: null, answersId: null } },
  'recordCalibrationComment input.answersId': { input: { calibrationVersionId: null } },
  'recordSitePlan': { input: { northDeg: '48.3', southDeg: '48.1', westDeg: '11.1', eastDeg: '11.3' } },
  // As a refit the readings are the parent's, whatever else is asked for.
  'fitCalibration': { input: { refitOf: null } },
  'calibrationStudy': { input: { refitOf: null } },
  'compareCalibrations': { input: { refitOf: null } },
  'studyTransfer': { input: { marginPoints: 6 } },
};
