import type { Describers } from '../thread/describer.js';

export const tokenDescribers: Describers = {
  access_token: { label: "'token ' || r.label", summary: "'reaches ' || lower(array_to_string(r.scopes, ', ')) || ' until ' || to_char(r.expires_at AT TIME ZONE 'UTC', 'YYYY-MM-DD')" },
  access_token_revocation: {
    label: "'revocation of token ' || token.label",
    summary: "'reason: ' || r.reason",
    joins: 'JOIN access_token token ON token.lab_id = $1 AND token.id = r.access_token_id',
  },
};
