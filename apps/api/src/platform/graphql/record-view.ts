import type { KeptRow } from '../database/kept-row.js';
import { formatMoment } from './moment.js';

/** The fields every record shows, from the columns every record has. `recordedBy` is resolved to a person by id. */
export interface RecordView {
  readonly id: string;
  readonly recordedAt: string;
  readonly recordedById: string;
  readonly contentHash: string;
}

export const recordView = (row: KeptRow): RecordView => ({
  id: row.id,
  recordedAt: formatMoment(row.recordedAt),
  recordedById: row.recordedBy,
  contentHash: row.contentHash.toString('hex'),
});
