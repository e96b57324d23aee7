import type { Describers } from '../thread/describer.js';

export const labelDescribers: Describers = {
  label_print: {
    label: "'labels of ' || cardinality(r.subject_ids) || ' ' || CASE WHEN cardinality(r.subject_ids) = 1 THEN r.subject_kind WHEN r.subject_kind = 'leaf' THEN 'leaves' ELSE r.subject_kind || 's' END",
    summary: "replace(initcap(replace(r.symbology, '_', ' ')), 'Qr', 'QR') || ' on labels of ' || (r.stock->>'labelWidthMm') || ' by ' || (r.stock->>'labelHeightMm') || ' mm'",
    answers: [{ column: 'reason', code: 'REPRINT', word: 'Printed again' }],
  },
};
