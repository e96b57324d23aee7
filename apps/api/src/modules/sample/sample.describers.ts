import type { Describers } from '../thread/describer.js';

/** Corrections of a description, told where it stands as it was recorded. */
const amended = `coalesce((SELECT jsonb_agg(jsonb_build_object('code', 'AMENDED', 'severity', 'WARN', 'message',
    change.key || ' was recorded as ' || coalesce(a.was->>change.key, 'not told') || ', amended to ' || coalesce(change.value, 'not told') || ': ' || a.reason) ORDER BY a.recorded_at, a.id)
  FROM sample_amendment a CROSS JOIN LATERAL jsonb_each_text(a.becomes) AS change WHERE a.lab_id = $1 AND a.subject_id = r.id), '[]')`;
const lost = `coalesce((SELECT jsonb_build_array(jsonb_build_object('code', l.outcome, 'severity', 'WARN', 'message', initcap(l.outcome) || ': ' || l.reason))
  FROM standing_loss l WHERE l.lab_id = $1 AND l.subject_id = r.id), '[]')`;

/** The sample that a row with subject_kind and subject_id is about. */
const SUBJECT = `coalesce(
  (SELECT label FROM plant s WHERE s.lab_id = $1 AND s.id = r.subject_id), (SELECT label FROM leaf s WHERE s.lab_id = $1 AND s.id = r.subject_id),
  (SELECT label FROM disc s WHERE s.lab_id = $1 AND s.id = r.subject_id), r.subject_id::text)`;

export const sampleDescribers: Describers = {
  crop: { label: 'r.name', summary: "coalesce(r.scientific_name, 'crop')" },
  plant: {
    label: 'r.label',
    summary: "concat_ws(', ', crop.name, r.cultivar, r.treatment, 'from ' || mother.label)",
    joins: 'JOIN crop ON crop.lab_id = $1 AND crop.id = r.crop_id LEFT JOIN plant mother ON mother.lab_id = $1 AND mother.id = r.mother_id',
    remarks: `${amended} || ${lost}`,
  },
  leaf: {
    label: 'r.label', summary: "concat_ws(', ', 'leaf', r.position, r.growth_stage)", observedAt: 'r.cut_at', offsetMin: 'r.cut_offset_min', remarks: `${amended} || ${lost}`,
  },
  disc: {
    label: 'r.label',
    summary: `CASE WHEN r.diameter_mm IS NULL THEN 'whole leaf' ELSE 'disc of ' || trim_scale(r.diameter_mm) || ' mm' END
      || coalesce(', ' || r.position, '') || CASE r.leaf_side WHEN 'ADAXIAL_UP' THEN ', upper side up' WHEN 'ABAXIAL_UP' THEN ', lower side up' ELSE '' END`,
    observedAt: 'r.punched_at',
    offsetMin: 'r.punched_offset_min',
    remarks: `${amended} || ${lost}`,
  },
  sample_amendment: {
    label: `'amendment of ' || ${SUBJECT}`,
    summary: `(SELECT string_agg(change.key || ' from ' || coalesce(r.was->>change.key, 'not told') || ' to ' || coalesce(change.value, 'not told'), ', ' ORDER BY change.key)
      FROM jsonb_each_text(r.becomes) AS change) || ': ' || r.reason`,
  },
  sample_loss: {
    label: `'loss of ' || ${SUBJECT}`,
    summary: "lower(r.outcome) || ': ' || r.reason",
    observedAt: 'r.noticed_at',
    offsetMin: 'r.noticed_offset_min',
  },
};
