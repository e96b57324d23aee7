import type { Describers } from '../thread/describer.js';

export const transferDescribers: Describers = {
  transfer_study: {
    label: "CASE r.basis WHEN 'READINGS' THEN 'transfer study of ' ELSE 'water thickness study of ' END || (r.document->'given'->>'label') || ' for ' || crop.name",
    summary: `(r.document->'outcome'->>'sentence') || CASE r.basis WHEN 'READINGS' THEN ' Margin ± ' || (r.document->'request'->>'marginPoints') || ' RWC points.' ELSE '' END || ' Code ' || r.code_version`,
    joins: 'JOIN crop ON crop.lab_id = $1 AND crop.id = r.crop_id',
    remarks: `(r.document->'remarks') || coalesce((SELECT jsonb_agg(jsonb_build_object('code', 'LEFT_OUT', 'severity', 'WARN', 'message', 'A point of leaf ' || (p->>'leafLabel') || ' was left out: ' || (p->>'exclusionReason'))) FROM jsonb_array_elements(coalesce(r.document->'points', '[]')) p WHERE NOT (p->>'used')::boolean), '[]')`,
  },
};
