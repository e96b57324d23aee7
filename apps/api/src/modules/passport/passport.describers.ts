import { ofUnit, type Describers } from '../thread/describer.js';

const observed = { observedAt: 'r.observed_at', offsetMin: 'r.observed_offset_min' } as const;

export const passportDescribers: Describers = {
  absorption_band: {
    label: "'absorption band of ' || coalesce(device_unit.label, 'lot ' || device_lot.label)",
    summary: "trim_scale(r.centre_nm) || ' nm, full width at half maximum ' || trim_scale(r.width_nm) || ' nm' || coalesce(', peak ' || trim_scale(r.peak_absorptance * 100) || ' %', '') || ', ' || r.method || CASE WHEN r.spectrum_id IS NULL THEN '' ELSE ', computed from its spectrum' END",
    joins: `LEFT ${ofUnit} LEFT JOIN device_lot ON device_lot.lab_id = $1 AND device_lot.id = r.device_lot_id`, ...observed,
  },
  chopped_run: {
    label: "'chopped run of ' || device_unit.label",
    summary: "jsonb_array_length(r.trip_powers_nw) || ' openings at ' || trim_scale(r.chop_hz) || ' Hz with ' || trim_scale(r.bias_v) || ' V' || coalesce(', ' || r.note, '')",
    joins: ofUnit, ...observed,
  },
  reset_pulse: {
    label: "'reset pulse of ' || device_unit.label",
    summary: "trim_scale(r.pulse_v) || ' V for ' || trim_scale(r.pulse_ms) || ' ms, ' || CASE WHEN r.succeeded THEN 'released' ELSE 'did not release' END || coalesce(', ' || r.note, '')",
    joins: ofUnit, ...observed,
  },
  temperature_run: {
    label: "'temperature run of ' || device_unit.label",
    summary: "jsonb_array_length(r.steps) || ' steps with ' || trim_scale(r.bias_v) || ' V' || coalesce(', ' || r.note, '')",
    joins: ofUnit, ...observed,
  },
  cycle_count: {
    label: "'cycle count of ' || device_unit.label",
    summary: "r.cycles || ' cycles, ' || lower(r.switching) || ' switched' || coalesce(', pull-in ' || trim_scale(r.pull_in_v) || ' V', '') || coalesce(', contact ' || trim_scale(r.contact_resistance_ohm) || ' ohm', '') || coalesce(', ' || r.note, '')",
    joins: ofUnit, ...observed,
  },
  unit_retirement: {
    label: "'retirement of ' || device_unit.label",
    summary: "lower(replace(r.cause, '_', ' ')) || ': ' || r.reason",
    joins: ofUnit, ...observed,
  },
  lot_acceptance: {
    label: "'acceptance of lot ' || device_lot.label",
    summary: "CASE WHEN r.accepted THEN 'accepted' ELSE 'not accepted' END || ': ' || r.failed_units || ' of ' || r.tested_units || ' failed (' || r.criterion || '), ' || r.needed_units || ' needed for ' || trim_scale(r.reliability * 100) || ' % at ' || trim_scale(r.confidence * 100) || ' % confidence'",
    joins: 'JOIN device_lot ON device_lot.lab_id = $1 AND device_lot.id = r.device_lot_id',
    ...observed,
  },
};
