import { overrideReason, type Describers } from '../thread/describer.js';

export const hydrationDescribers: Describers = {
  hydration: {
    label: "'hydration ' || r.label",
    summary: "cardinality(r.disc_ids) || ' discs on water' || coalesce(' of ' || r.water_c || ' °C', '')",
    observedAt: 'r.started_at',
    offsetMin: 'r.started_offset_min',
  },
  hydration_end: {
    label: "'end of hydration ' || hydration.label",
    summary: "'after ' || round(extract(epoch FROM r.taken_out_at - hydration.started_at) / 60) || ' min' || coalesce(', water ' || r.water_c || ' °C', '') || CASE WHEN r.blotted THEN ', blotted' ELSE ', not blotted as the protocol says' END",
    joins: 'JOIN hydration ON hydration.lab_id = $1 AND hydration.id = r.hydration_id',
    observedAt: 'r.taken_out_at',
    offsetMin: 'r.taken_out_offset_min',
    answers: [overrideReason],
  },
};
