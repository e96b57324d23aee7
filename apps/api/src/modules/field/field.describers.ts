import { ofUnit, overrideReason, type Describers } from '../thread/describer.js';

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
    answers: [{ column: 'overrode', code: 'OVERRODE', word: 'Decided against' }],
  },
};
