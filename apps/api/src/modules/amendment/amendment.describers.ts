import type { Describers } from '../thread/describer.js';

export const amendmentDescribers: Describers = {
  amendment: { label: "'amendment'", summary: "lower(replace(r.reason_code, '_', ' ')) || ': ' || r.reason" },
};
