import { ofUnit, overrideReason, type Describers } from '../thread/describer.js';

/** The installation of a row with `installation_id`, and its unit. */
const ofInstallation = `JOIN installation ON installation.lab_id = $1 AND installation.id = r.installation_id
  JOIN device_unit ON device_unit.lab_id = $1 AND device_unit.id = installation.device_unit_id`;

export const fieldDescribers: Describers = {
  installation: {
    label: "'installation of ' || device_unit.label",
    summary: "r.site || ', zone ' || r.zone || ', ' || r.plant_note || ', bias read back ' || trim_scale(r.bias_readback_v) || ' V'",
    joins: ofUnit,
    observedAt: 'r.armed_at',
    offsetMin: 'r.armed_offset_min',
    answers: [overrideReason],
  },
  trip: {
    label: "'trip of ' || device_unit.label",
    summary: "CASE r.source WHEN 'LOGGER' THEN 'from a logger' ELSE 'seen by a person' END || coalesce(', light ' || trim_scale(r.light_power_nw) || ' nW', ', light not known') || coalesce(', ' || r.note, '')",
    joins: ofInstallation,
    rawLine: 'r.raw_line',
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
    answers: [{ column: 'overrode', code: 'OVERRODE', word: 'Decided against' }],
  },
  field_report: {
    label: "'report of ' || device_unit.label",
    summary: "CASE WHEN r.latched THEN 'latched' ELSE 'open' END || CASE r.source WHEN 'LOGGER' THEN ', from a logger' ELSE ', seen by a person' END || coalesce(', light ' || trim_scale(r.light_power_nw) || ' nW', '') || coalesce(', bias ' || trim_scale(r.bias_readback_v) || ' V', '') || coalesce(', ' || r.note, '')",
    joins: ofInstallation,
    rawLine: 'r.raw_line',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  latch_reset: {
    label: "'reset of ' || device_unit.label",
    summary: "CASE WHEN r.opened THEN 'the latch opened' ELSE 'the latch did not open' END || coalesce(', ' || r.note, '')",
    joins: ofInstallation,
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  installation_end: {
    label: "'end of the installation of ' || device_unit.label",
    summary: 'r.reason',
    joins: ofInstallation,
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  decision_outcome: {
    label: "'outcome of the decision for zone ' || decision.zone",
    summary: "lower(replace(r.verdict, '_', ' ')) || ': ' || r.seen",
    joins: 'JOIN decision ON decision.lab_id = $1 AND decision.id = r.decision_id',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
};
