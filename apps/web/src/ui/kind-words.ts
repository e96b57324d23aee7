/** What a person calls a record of a kind, one and many. Every kind that the ledger and the thread speak of. */
const words: Readonly<Record<string, readonly [string, string]>> = {
  crop: ['crop', 'crops'],
  plant: ['plant', 'plants'],
  leaf: ['leaf', 'leaves'],
  disc: ['disc', 'discs'],
  sample_amendment: ['correction of a description', 'corrections of descriptions'],
  sample_loss: ['loss', 'losses'],
  place: ['place', 'places'],
  custody: ['move', 'moves'],
  label_print: ['print of labels', 'prints of labels'],
  stored_file: ['stored file', 'stored files'],
  weighing: ['weighing', 'weighings'],
  meter_reading: ['meter reading', 'meter readings'],
  protocol: ['protocol', 'protocols'],
  hydration: ['hydration', 'hydrations'],
  hydration_end: ['end of a hydration', 'ends of hydrations'],
  drying_run: ['drying run', 'drying runs'],
  preflight: ['pre-flight', 'pre-flights'],
  drying_run_step: ['step of a drying run', 'steps of drying runs'],
  oven_cycle: ['oven cycle', 'oven cycles'],
  oven_temperature: ['oven temperature', 'oven temperatures'],
  oven_cooling: ['cooling', 'coolings'],
  oven_unloading: ['oven unloading', 'oven unloadings'],
  drying_import: ['import', 'imports'],
  rwc_series: ['RWC series', 'RWC series'],
  calibration: ['calibration', 'calibrations'],
  calibration_version: ['calibration version', 'calibration versions'],
  calibration_scope: ['scope of a calibration', 'scopes of calibrations'],
  spectrum: ['spectrum', 'spectra'],
  transfer_study: ['transfer study', 'transfer studies'],
  calibration_share: ['share of a calibration', 'shares of calibrations'],
  share_grant: ['grant of a share', 'grants of shares'],
  share_grant_withdrawal: ['end of a grant', 'ends of grants'],
  calibration_comment: ['comment on a calibration', 'comments on calibrations'],
  calibration_adoption: ['adoption of a calibration', 'adoptions of calibrations'],
  instrument: ['instrument', 'instruments'],
  instrument_check: ['instrument check', 'instrument checks'],
  instrument_calibration: ['calibration of an instrument', 'calibrations of instruments'],
  line_format: ['line format', 'line formats'],
  rig: ['rig', 'rigs'],
  device_lot: ['device lot', 'device lots'],
  device_unit: ['device unit', 'device units'],
  bias_sweep: ['bias sweep', 'bias sweeps'],
  trip_test: ['trip test', 'trip tests'],
  bias_threshold_curve: ['bias-threshold curve', 'bias-threshold curves'],
  light_reference: ['light reference', 'light references'],
  threshold_certificate: ['certificate', 'certificates'],
  installation: ['installation', 'installations'],
  trip: ['trip', 'trips'],
  field_check: ['field check', 'field checks'],
  decision: ['decision', 'decisions'],
  decision_outcome: ['outcome of a decision', 'outcomes of decisions'],
  field_report: ['field report', 'field reports'],
  latch_reset: ['reset in the field', 'resets in the field'],
  installation_end: ['end of an installation', 'ends of installations'],
  rain: ['rain', 'readings of rain'],
  zone_rule: ['rule of a zone', 'rules of zones'],
  zone_advice: ['advice for a zone', 'pieces of advice for zones'],
  site_plan: ['plan of a site', 'plans of sites'],
  amendment: ['amendment', 'amendments'],
  signature: ['signature', 'signatures'],
  access_token: ['access token', 'access tokens'],
  access_token_revocation: ['revocation of an access token', 'revocations of access tokens'],
};

export const kinds = Object.keys(words);

/** "calibration version"; a kind that is not known here is shown as the record writes it. */
export const kindWord = (kind: string): string => words[kind]?.[0] ?? kind.replaceAll('_', ' ');

/** "12 trip tests", "1 trip test". */
export const kindCount = (kind: string, count: number): string => `${count} ${count === 1 ? kindWord(kind) : kindsWord(kind)}`;

export const kindsWord = (kind: string): string => words[kind]?.[1] ?? `${kindWord(kind)}s`;

/** "Calibration version", to begin a title. */
export const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);
