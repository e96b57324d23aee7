import { percent, signed, type Describers } from '../thread/describer.js';

export const calibrationDescribers: Describers = {
  calibration: {
    label: "'calibration ' || r.label",
    summary: 'crop.name',
    joins: 'JOIN crop ON crop.lab_id = $1 AND crop.id = r.crop_id',
  },
  calibration_version: {
    label: "'calibration ' || calibration.label || ' version ' || r.version",
    summary: `lower(replace(r.family, '_', '-')) || ' fit of ' || (r.document->>'leafCount') || ' leaves, RWC ' || ${percent("r.document->>'rwcMin'")} || ' to ' || ${percent("r.document->>'rwcMax'")} || ${signed('calibration_version')} || ', code ' || r.code_version`,
    joins: 'JOIN calibration ON calibration.lab_id = $1 AND calibration.id = r.calibration_id',
    remarks: `(r.document->'remarks') || coalesce((SELECT jsonb_agg(jsonb_build_object('code', 'LEFT_OUT', 'severity', 'WARN', 'message', 'A point of leaf ' || (p->>'leafLabel') || ' was left out: ' || (p->>'exclusionReason'))) FROM jsonb_array_elements(r.document->'points') p WHERE NOT (p->>'used')::boolean), '[]')`,
  },
};
