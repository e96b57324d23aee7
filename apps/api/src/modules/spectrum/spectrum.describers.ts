import type { Describers } from '../thread/describer.js';

export const spectrumDescribers: Describers = {
  spectrum: {
    label: "'spectrum ' || r.label",
    summary: `'of a ' || lower(r.spectrum_of) || ', ' || (r.points->'wavelengthNm'->>0) || ' to ' || (r.points->'wavelengthNm'->>-1) || ' nm, ' || jsonb_array_length(r.points->'values') || ' points, read from ' || (r.reading->>'partName') || coalesce(', ' || r.note, '')`,
    observedAt: 'r.observed_at', offsetMin: 'r.observed_offset_min',
  },
};
