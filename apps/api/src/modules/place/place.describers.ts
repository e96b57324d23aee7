import type { Describers } from '../thread/describer.js';

const subject = (row: string): string => `coalesce(${['plant', 'leaf', 'disc', 'place'].map((table) => `(SELECT s.label FROM ${table} s WHERE s.lab_id = $1 AND s.id = ${row}.subject_id)`).join(', ')}, ${row}.subject_id::text)`;

export const placeDescribers: Describers = {
  place: { label: 'r.label', summary: "concat_ws(', ', lower(r.place_kind), r.note)" },
  custody: {
    label: `'move of ' || ${subject('r')}`,
    summary: "coalesce('to ' || place.label, 'taken along') || coalesce(', ' || r.note, '')",
    joins: 'LEFT JOIN place ON place.lab_id = $1 AND place.id = r.place_id',
    observedAt: 'r.moved_at',
    offsetMin: 'r.moved_offset_min',
  },
};
