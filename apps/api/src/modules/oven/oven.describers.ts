import type { Describers } from '../thread/describer.js';

export const ovenDescribers: Describers = {
  oven_cycle: {
    label: "'oven cycle ' || r.label",
    summary: "cardinality(r.disc_ids) || ' discs at ' || trim_scale(r.set_temperature_c) || ' °C'",
    observedAt: 'r.started_at',
    offsetMin: 'r.started_offset_min',
    instrumentId: 'r.oven_id',
  },
  oven_temperature: {
    label: "'temperature in ' || oven_cycle.label",
    summary: "trim_scale(r.temperature_c) || ' °C, set to ' || trim_scale(oven_cycle.set_temperature_c) || ' °C' || coalesce(', ' || r.note, '')",
    joins: 'JOIN oven_cycle ON oven_cycle.lab_id = $1 AND oven_cycle.id = r.oven_cycle_id',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
    instrumentId: 'oven_cycle.oven_id',
  },
  oven_cooling: {
    label: "'cooling of ' || oven_cycle.label",
    summary: "r.cooling_min || ' min' || coalesce(' in ' || r.vessel, '')",
    joins: 'JOIN oven_cycle ON oven_cycle.lab_id = $1 AND oven_cycle.id = r.oven_cycle_id',
    observedAt: 'r.taken_out_at',
    offsetMin: 'r.taken_out_offset_min',
  },
  oven_unloading: {
    label: "'unloading of ' || oven_cycle.label",
    summary: "coalesce('reason: ' || r.reason, 'at constant mass')",
    joins: 'JOIN oven_cycle ON oven_cycle.lab_id = $1 AND oven_cycle.id = r.oven_cycle_id',
    observedAt: 'r.unloaded_at',
    offsetMin: 'r.unloaded_offset_min',
  },
};
