import { flagAnswer, ofDisc, type Describers } from '../thread/describer.js';

export const benchDescribers: Describers = {
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
  weighing: {
    label: "'weighing of ' || disc.label",
    summary: "r.mass_text || ' ' || r.mass_unit || ', ' || lower(r.state)",
    joins: ofDisc,
    rawLine: 'r.raw_line',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
    instrumentId: 'r.balance_id',
    entryMode: 'r.entry_mode',
    answers: [flagAnswer],
    remarks: 'r.flags',
  },
  meter_reading: {
    label: "CASE r.light_path WHEN 'READING' THEN 'reading through ' || disc.label ELSE lower(r.light_path) END",
    summary: "r.power_text || ' ' || r.power_unit",
    joins: `${ofDisc} JOIN drying_run ON drying_run.lab_id = $1 AND drying_run.id = r.drying_run_id JOIN rig ON rig.lab_id = $1 AND rig.id = drying_run.rig_id`,
    rawLine: 'r.raw_line',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
    instrumentId: 'rig.meter_id',
    entryMode: 'r.entry_mode',
  },
};
