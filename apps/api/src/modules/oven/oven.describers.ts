import type { Describers } from '../thread/describer.js';

export const ovenDescribers: Describers = {
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
};
