/**
 * How a record of each kind is told in the Thread: SQL expressions over the row `r` of its table (lab $1).
 * Whoever adds a kind adds it here; a test holds this list against the entities.
 */
export interface Describer {
  /** What a person calls it. */
  readonly label: string;
  /** Its main facts as a sentence fragment. */
  readonly summary: string;
  /** Joins the expressions need. */
  readonly joins?: string;
  readonly rawLine?: string;
  readonly observedAt?: string;
  readonly offsetMin?: string;
  /** Id of the instrument used, whose check status then is shown. */
  readonly instrumentId?: string;
  /** JSON array of flags to be read with it. */
  readonly remarks?: string;
}

const disc = 'LEFT JOIN disc ON disc.lab_id = $1 AND disc.id = r.disc_id';
const unit = 'JOIN device_unit ON device_unit.lab_id = $1 AND device_unit.id = r.device_unit_id';

const signed = (kind: string): string => `coalesce((
  SELECT ', ' || string_agg(lower(s.meaning) || ' by ' || p.display_name || ' on ' || to_char(s.recorded_at AT TIME ZONE 'UTC', 'YYYY-MM-DD'), ', ' ORDER BY s.recorded_at)
  FROM signature s JOIN account p ON p.id = s.recorded_by WHERE s.lab_id = $1 AND s.subject_kind = '${kind}' AND s.subject_id = r.id), ', not signed')`;

const remark = (code: string, condition: string, message: string): string =>
  `CASE WHEN ${condition} THEN jsonb_build_array(jsonb_build_object('code', '${code}', 'severity', 'WARN', 'message', ${message})) ELSE '[]'::jsonb END`;

const percent = (expression: string): string => `to_char((${expression})::numeric * 100, 'FM990.0') || ' %'`;

export const describers: Readonly<Record<string, Describer>> = {
  crop: { label: 'r.name', summary: "coalesce(r.scientific_name, 'crop')" },
  plant: {
    label: 'r.label',
    summary: "concat_ws(', ', crop.name, r.cultivar, r.treatment)",
    joins: 'JOIN crop ON crop.lab_id = $1 AND crop.id = r.crop_id',
  },
  leaf: { label: 'r.label', summary: "concat_ws(', ', 'leaf', r.position, r.growth_stage)", observedAt: 'r.cut_at', offsetMin: 'r.cut_offset_min' },
  disc: {
    label: 'r.label',
    summary: "CASE WHEN r.diameter_mm IS NULL THEN 'whole leaf' ELSE 'disc of ' || trim_scale(r.diameter_mm) || ' mm' END",
    observedAt: 'r.punched_at',
    offsetMin: 'r.punched_offset_min',
  },
  instrument: { label: 'r.label', summary: "concat_ws(', ', lower(replace(r.kind, '_', ' ')), r.serial_number, r.location)", instrumentId: 'r.id' },
  instrument_check: {
    label: "'check of ' || instrument.label",
    summary: "'nominal ' || r.nominal || ', shown ' || r.shown || ' ' || instrument.unit || CASE WHEN abs(r.shown - r.nominal) <= r.tolerance THEN ', passed' ELSE ', failed' END",
    joins: 'JOIN instrument ON instrument.lab_id = $1 AND instrument.id = r.instrument_id',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  rig: {
    label: "r.label || ' version ' || r.version",
    summary: "r.source || ', ' || trim_scale(r.band_centre_nm) || ' nm ± ' || trim_scale(r.band_width_nm / 2) || ' nm'",
    instrumentId: 'r.meter_id',
  },
  drying_run: {
    label: "'drying run ' || r.label",
    summary: "cardinality(r.disc_ids) || ' discs every ' || r.rhythm_min || ' min'",
    observedAt: 'r.opened_at',
    offsetMin: 'r.opened_offset_min',
    instrumentId: 'r.balance_id',
  },
  drying_run_step: {
    label: "'drying run ' || drying_run.label",
    summary: "lower(r.step) || coalesce(': ' || r.note, '')",
    joins: 'JOIN drying_run ON drying_run.lab_id = $1 AND drying_run.id = r.drying_run_id',
  },
  oven_cycle: {
    label: "'oven cycle ' || r.label",
    summary: "cardinality(r.disc_ids) || ' discs at ' || trim_scale(r.set_temperature_c) || ' °C'",
    observedAt: 'r.started_at',
    offsetMin: 'r.started_offset_min',
    instrumentId: 'r.oven_id',
  },
  oven_unloading: {
    label: "'unloading of ' || oven_cycle.label",
    summary: "coalesce('reason: ' || r.reason, 'at constant mass')",
    joins: 'JOIN oven_cycle ON oven_cycle.lab_id = $1 AND oven_cycle.id = r.oven_cycle_id',
    observedAt: 'r.unloaded_at',
    offsetMin: 'r.unloaded_offset_min',
  },
  drying_import: { label: "'import of ' || r.file_name", summary: "r.row_count || ' rows, file SHA-256 ' || left(r.file_hash, 12) || '…'" },
  weighing: {
    label: "'weighing of ' || disc.label",
    summary: "r.mass_text || ' ' || r.mass_unit || ', ' || lower(r.state) || CASE r.entry_mode WHEN 'TYPED' THEN ', typed by hand' WHEN 'IMPORTED' THEN ', imported' WHEN 'SIMULATED' THEN ', simulated' ELSE '' END",
    joins: disc,
    rawLine: 'r.raw_line',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
    instrumentId: 'r.balance_id',
    remarks: `r.flags || ${remark('ANSWER', 'r.flag_answer IS NOT NULL', "'Answer: ' || r.flag_answer")}`,
  },
  meter_reading: {
    label: "CASE r.light_path WHEN 'READING' THEN 'reading through ' || disc.label ELSE lower(r.light_path) END",
    summary: "r.power_text || ' ' || r.power_unit || CASE r.entry_mode WHEN 'TYPED' THEN ', typed by hand' WHEN 'SIMULATED' THEN ', simulated' ELSE '' END",
    joins: `${disc} JOIN drying_run ON drying_run.lab_id = $1 AND drying_run.id = r.drying_run_id JOIN rig ON rig.lab_id = $1 AND rig.id = drying_run.rig_id`,
    rawLine: 'r.raw_line',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
    instrumentId: 'rig.meter_id',
  },
  rwc_series: {
    label: "'RWC of ' || disc.label",
    summary: `jsonb_array_length(r.document->'points') || ' masses, turgid ' || round((r.document->>'turgidMassMg')::numeric, 3) || ' mg, dry ' || round((r.document->>'dryMassMg')::numeric, 3) || ' mg, code ' || r.code_version`,
    joins: disc,
    remarks: "r.document->'flags'",
  },
  calibration: {
    label: "'calibration ' || r.label",
    summary: 'crop.name',
    joins: 'JOIN crop ON crop.lab_id = $1 AND crop.id = r.crop_id',
  },
  calibration_version: {
    label: "'calibration ' || calibration.label || ' version ' || r.version",
    summary: `lower(replace(r.family, '_', '-')) || ' fit of ' || (r.document->>'leafCount') || ' leaves, RWC ' || ${percent("r.document->>'rwcMin'")} || ' to ' || ${percent("r.document->>'rwcMax'")} || ${signed('calibration_version')} || ', code ' || r.code_version`,
    joins: 'JOIN calibration ON calibration.lab_id = $1 AND calibration.id = r.calibration_id',
    remarks: `(r.document->'remarks') || coalesce((SELECT jsonb_agg(jsonb_build_object('code', 'LEFT_OUT', 'severity', 'WARN', 'message', 'A point of leaf ' || (p->>'leafLabel') || ' was left out: ' || (p->>'exclusionReason'))) FROM jsonb_array_elements(r.document->'points') p WHERE NOT (p->>'used')::boolean), '[]')`,
  },
  device_lot: { label: "'lot ' || r.label", summary: "'device lot'" },
  device_unit: {
    label: "'unit ' || r.label",
    summary: "'of lot ' || device_lot.label",
    joins: 'JOIN device_lot ON device_lot.lab_id = $1 AND device_lot.id = r.device_lot_id',
  },
  bias_sweep: {
    label: "'bias sweep of ' || device_unit.label",
    summary: "jsonb_array_length(r.steps) || ' steps, ' || lower(r.direction) || ', ' || lower(r.polarity)",
    joins: unit,
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  trip_test: {
    label: "'trip test of ' || device_unit.label",
    summary: "'tripped at ' || r.trip_power_text || ' ' || r.trip_power_unit || ' with ' || trim_scale(r.bias_v) || ' V'",
    joins: unit,
    rawLine: 'r.raw_line',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  bias_threshold_curve: {
    label: "'bias-threshold curve of ' || device_unit.label",
    summary: `'P0 ' || round((r.document->>'p0Nw')::numeric, 1) || ' nW, pull-in ' || round((r.document->>'pullInV')::numeric, 2) || ' V, exponent ' || round((r.document->>'exponent')::numeric, 3) || ', code ' || r.code_version`,
    joins: unit,
  },
  light_reference: {
    label: "'light reference ' || r.label",
    summary: `r.power_text || ' ' || r.power_unit || ' ± ' || ${percent('r.relative_sd')} || ', ' || lower(r.basis)`,
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  threshold_certificate: {
    label: "'certificate of ' || device_unit.label",
    summary: `'target RWC ' || ${percent('r.target_rwc')} || ' (' || r.target_basis || '), threshold ' || round((r.document->>'thresholdPowerNw')::numeric, 1) || ' nW, bias ' || (r.document->>'biasV') || ' V' || ${signed('threshold_certificate')} || ', code ' || r.code_version`,
    joins: unit,
    remarks: `(r.document->'overrides') || ${remark('OVERRIDDEN', 'r.override_reason IS NOT NULL', "'Overridden: ' || r.override_reason")}`,
  },
  installation: {
    label: "'installation of ' || device_unit.label",
    summary: "r.site || ', zone ' || r.zone || ', ' || r.plant_note || ', bias read back ' || trim_scale(r.bias_readback_v) || ' V'",
    joins: unit,
    observedAt: 'r.armed_at',
    offsetMin: 'r.armed_offset_min',
    remarks: remark('OVERRIDDEN', 'r.override_reason IS NOT NULL', "'Overridden: ' || r.override_reason"),
  },
  trip: {
    label: "'trip of ' || device_unit.label",
    summary: "CASE r.source WHEN 'LOGGER' THEN 'from a logger' ELSE 'seen by a person' END || coalesce(', light ' || trim_scale(r.light_power_nw) || ' nW', ', light not known') || coalesce(', ' || r.note, '')",
    joins: `JOIN installation ON installation.lab_id = $1 AND installation.id = r.installation_id
            JOIN device_unit ON device_unit.lab_id = $1 AND device_unit.id = installation.device_unit_id`,
    observedAt: 'coalesce(r.tripped_at, r.seen_at)',
    offsetMin: 'coalesce(r.tripped_offset_min, r.seen_offset_min)',
  },
  field_check: {
    label: "'field check in zone ' || installation.zone",
    summary: "cardinality(r.disc_ids) || ' discs' || coalesce(', ' || r.note, '')",
    joins: 'JOIN installation ON installation.lab_id = $1 AND installation.id = r.installation_id',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  decision: {
    label: "'decision for zone ' || r.zone",
    summary: "lower(r.action) || coalesce(' ' || trim_scale(r.depth_mm) || ' mm', '') || ': ' || r.reason",
    observedAt: 'r.decided_at',
    offsetMin: 'r.decided_offset_min',
    remarks: remark('OVERRODE', 'r.overrode IS NOT NULL', "'Decided against: ' || r.overrode"),
  },
  amendment: { label: "'amendment'", summary: "lower(replace(r.reason_code, '_', ' ')) || ': ' || r.reason" },
  signature: { label: "'signature'", summary: "lower(r.meaning) || coalesce(': ' || r.statement, '')" },
};
