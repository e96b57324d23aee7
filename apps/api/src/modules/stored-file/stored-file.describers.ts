import type { Describers } from '../thread/describer.js';

export const storedFileDescribers: Describers = {
  stored_file: {
    label: 'r.name',
    summary: "lower(replace(r.purpose, '_', ' ')) || ', ' || r.media_type || ', ' || r.size_bytes || ' bytes, SHA-256 ' || left(r.sha256, 12) || '…'",
  },
};
