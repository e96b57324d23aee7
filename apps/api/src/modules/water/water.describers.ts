import { ofDisc, type Describers } from '../thread/describer.js';

export const waterDescribers: Describers = {
  rwc_series: {
    label: "'RWC of ' || disc.label",
    summary: `jsonb_array_length(r.document->'points') || ' masses, turgid ' || round((r.document->>'turgidMassMg')::numeric, 3) || ' mg, dry ' || round((r.document->>'dryMassMg')::numeric, 3) || ' mg, code ' || r.code_version`,
    joins: ofDisc,
    remarks: "r.document->'flags'",
  },
};
