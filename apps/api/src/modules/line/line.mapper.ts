import type { KeptRow } from '../../platform/database/kept-row.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { LineFormat } from './line.entity.js';
import type { HeardLineRow } from './line.repository.js';

export type LineFormatView = RecordView & Omit<LineFormat, keyof KeptRow>;

export const toLineFormat = (row: LineFormat): LineFormatView => ({ ...row, ...recordView(row) });

export const toHeardLine = (row: HeardLineRow): object => ({ ...row, heardAt: formatMoment(row.heardAt) });
