import type { Describers } from '../thread/describer.js';

export const dryingImportDescribers: Describers = {
  drying_import: { label: "'import of ' || r.file_name", summary: "r.row_count || ' rows, file SHA-256 ' || left(r.file_hash, 12) || '…'" },
};
