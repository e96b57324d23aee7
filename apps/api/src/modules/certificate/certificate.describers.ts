import { ofUnit, overrideReason, percent, signed, type Describers } from '../thread/describer.js';

export const certificateDescribers: Describers = {
  light_reference: {
    label: "'light reference ' || r.label",
    summary: `r.power_text || ' ' || r.power_unit || ' ± ' || ${percent('r.relative_sd')} || ', ' || lower(r.basis) || CASE WHEN r.days IS NULL THEN '' WHEN r.days = 1 THEN ', on one day' ELSE ', on ' || r.days || ' days' END || coalesce(': ' || r.note, '')`,
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
    instrumentId: 'r.meter_id',
  },
  certificate_batch: {
    label: "'certificates for ' || cardinality(r.device_unit_ids) || ' units'",
    summary: `'target RWC ' || ${percent('r.target_rwc')} || ' (' || r.target_basis || ')'`,
    answers: [overrideReason],
  },
  certificate_refusal: { label: "'no certificate for ' || device_unit.label", summary: 'r.message', joins: ofUnit, remarks: 'r.objections' },
  threshold_certificate: {
    label: "'certificate of ' || device_unit.label",
    summary: `'target RWC ' || ${percent('r.target_rwc')} || ' (' || r.target_basis || '), threshold ' || round((r.document->>'thresholdPowerNw')::numeric, 1) || ' nW, bias ' || (r.document->>'biasV') || ' V' || ${signed('threshold_certificate')} || ', code ' || r.code_version`,
    joins: ofUnit,
    answers: [overrideReason],
    remarks: "r.document->'overrides'",
  },
};
