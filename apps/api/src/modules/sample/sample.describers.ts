import type { Describers } from '../thread/describer.js';

export const sampleDescribers: Describers = {
  crop: { label: 'r.name', summary: "coalesce(r.scientific_name, 'crop')" },
  plant: {
    label: 'r.label',
    summary: "concat_ws(', ', crop.name, r.cultivar, r.treatment)",
    joins: 'JOIN crop ON crop.lab_id = $1 AND crop.id = r.crop_id',
  },
  leaf: { label: 'r.label', summary: "concat_ws(', ', 'leaf', r.position, r.growth_stage)", observedAt: 'r.cut_at', offsetMin: 'r.cut_offset_min' },
  disc: {
    label: 'r.label',
    summary: "CASE WHEN r.diameter_mm IS NULL THEN 'whole leaf' ELSE 'disc of ' || trim_scale(r.diameter_mm) || ' mm' END",
    observedAt: 'r.punched_at',
    offsetMin: 'r.punched_offset_min',
  },
};
