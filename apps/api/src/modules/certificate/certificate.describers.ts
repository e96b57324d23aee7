import { ofUnit, overrideReason, percent, signed, type Describers } from '../thread/describer.js';

export const certificateDescribers: Describers = {
  light_reference: {
    label: "'light reference ' || r.label",
    summary: `r.power_text || ' ' || r.power_unit || ' ± ' || ${percent('r.relative_sd')} || ', ' || lower(r.basis)`,
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  threshold_certificate: {
    label: "'certificate of ' || device_unit.label",
    summary: `'target RWC ' || ${percent('r.target_rwc')} || ' (' || r.target_basis || '), threshold ' || round((r.document->>'thresholdPowerNw')::numeric, 1) || ' nW, bias ' || (r.document->>'biasV') || ' V' || ${signed('threshold_certificate')} || ', code ' || r.code_version`,
    joins: ofUnit,
    answers: [overrideReason],
    remarks: "r.document->'overrides'",
  },
};
