import { ofUnit, type Describers } from '../thread/describer.js';

export const deviceDescribers: Describers = {
  device_lot: { label: "'lot ' || r.label", summary: "'device lot'" },
  device_unit: {
    label: "'unit ' || r.label",
    summary: "'of lot ' || device_lot.label",
    joins: 'JOIN device_lot ON device_lot.lab_id = $1 AND device_lot.id = r.device_lot_id',
  },
  bias_sweep: {
    label: "'bias sweep of ' || device_unit.label",
    summary: "jsonb_array_length(r.steps) || ' steps, ' || lower(r.direction) || ', ' || lower(r.polarity)",
    joins: ofUnit,
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  trip_test: {
    label: "'trip test of ' || device_unit.label",
    summary: "'tripped at ' || r.trip_power_text || ' ' || r.trip_power_unit || ' with ' || trim_scale(r.bias_v) || ' V'",
    joins: ofUnit,
    rawLine: 'r.raw_line',
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  bias_threshold_curve: {
    label: "'bias-threshold curve of ' || device_unit.label",
    summary: `'P0 ' || round((r.document->>'p0Nw')::numeric, 1) || ' nW, pull-in ' || round((r.document->>'pullInV')::numeric, 2) || ' V, exponent ' || round((r.document->>'exponent')::numeric, 3) || ', code ' || r.code_version`,
    joins: ofUnit,
  },
};
