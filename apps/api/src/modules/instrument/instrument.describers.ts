import type { Describers } from '../thread/describer.js';

export const instrumentDescribers: Describers = {
  instrument: { label: 'r.label', summary: "concat_ws(', ', lower(replace(r.kind, '_', ' ')), r.serial_number, r.location)", instrumentId: 'r.id' },
  instrument_check: {
    label: "'check of ' || instrument.label",
    summary: "'nominal ' || r.nominal || ', shown ' || r.shown || ' ' || instrument.unit || CASE WHEN abs(r.shown - r.nominal) <= r.tolerance THEN ', passed' ELSE ', failed' END",
    joins: 'JOIN instrument ON instrument.lab_id = $1 AND instrument.id = r.instrument_id',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  instrument_calibration: {
    label: "'calibration of ' || instrument.label",
    summary: "concat_ws(', ', 'by ' || r.calibrated_by, 'certificate ' || r.certificate_number, 'largest error ' || r.largest_error || ' ' || instrument.unit, 'good until ' || to_char(r.due_at AT TIME ZONE 'UTC', 'YYYY-MM-DD'))",
    joins: 'JOIN instrument ON instrument.lab_id = $1 AND instrument.id = r.instrument_id',
    observedAt: 'r.calibrated_at',
    offsetMin: 'r.calibrated_offset_min',
  },
  rig: {
    label: "r.label || ' version ' || r.version",
    summary: "r.source || ', ' || trim_scale(r.band_centre_nm) || ' nm ± ' || trim_scale(r.band_width_nm / 2) || ' nm'",
    instrumentId: 'r.meter_id',
  },
};
