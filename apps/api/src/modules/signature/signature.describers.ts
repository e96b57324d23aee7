import type { Describers } from '../thread/describer.js';

export const signatureDescribers: Describers = {
  signature: { label: "'signature'", summary: "lower(r.meaning) || coalesce(': ' || r.statement, '')" },
};
