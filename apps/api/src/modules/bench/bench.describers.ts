import { flagAnswer, ofDisc, overrideReason, remark, type Describers } from '../thread/describer.js';

const skipped = (preflights: string): string => `coalesce((
  SELECT jsonb_agg(jsonb_build_object('code', 'SKIPPED_' || (s->>'point'), 'severity', 'WARN',
    'message', 'Before the first reading ' || lower(s->>'point') || ' was skipped: ' || (s->>'reason')))
  FROM preflight p, jsonb_array_elements(p.skipped) s WHERE p.lab_id = $1 AND ${preflights}), '[]')`;

const ofRun = 'JOIN drying_run ON drying_run.lab_id = $1 AND drying_run.id = r.drying_run_id';

/** From this on a clock is worth a remark; it is taken off all the same. */
const CLOCK_TOLD_MS = 5_000;
const clock = remark('CLOCK_OFF', `abs(r.clock_offset_ms) > ${CLOCK_TOLD_MS}`, "'The clock of the device was ' || round(abs(r.clock_offset_ms) / 1000.0, 1) || ' s ' || CASE WHEN r.clock_offset_ms > 0 THEN 'behind' ELSE 'ahead' END || '; that is taken off.'");

export const benchDescribers: Describers = {
  drying_run: {
    label: "'drying run ' || r.label",
    summary: "cardinality(r.disc_ids) || ' discs every ' || r.rhythm_min || ' min'",
    observedAt: 'r.opened_at',
    offsetMin: 'r.opened_offset_min',
    instrumentId: 'r.balance_id',
    remarks: `${remark('NO_PREFLIGHT', 'r.protocol_id IS NOT NULL AND NOT EXISTS (SELECT FROM preflight p WHERE p.lab_id = $1 AND p.drying_run_id = r.id)', "'No pre-flight was recorded.'")} || ${skipped('p.drying_run_id = r.id')}`,
  },
  preflight: {
    label: "'pre-flight of ' || drying_run.label",
    summary: "'balance ' || lower(replace(r.balance_status, '_', ' ')) || ', lamp ' || coalesce('on since ' || to_char(r.lamp_on_since AT TIME ZONE 'UTC', 'HH24:MI') || ' UTC', 'unknown') || coalesce(', clock off by ' || r.clock_offset_ms || ' ms', ', clock not compared')",
    joins: ofRun,
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
    remarks: skipped('p.id = r.id'),
  },
  drying_run_step: {
    label: "'drying run ' || drying_run.label",
    summary: "lower(r.step) || coalesce(': ' || r.note, '')",
    joins: ofRun,
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
    answers: [flagAnswer, overrideReason],
    remarks: `r.flags || ${clock}`,
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
    answers: [overrideReason],
    remarks: clock,
  },
};
