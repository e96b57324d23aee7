import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { RwcDocument } from './rwc-document.js';
import type { RwcSeries } from './rwc-series.entity.js';

export type RwcSeriesView = RecordView & RwcDocument & Pick<RwcSeries, 'codeVersion' | 'discId' | 'dryingRunId'>;

export const toRwcSeries = (row: RwcSeries): RwcSeriesView => ({
  ...row.document,
  ...recordView(row),
  codeVersion: row.codeVersion,
  discId: row.discId,
  dryingRunId: row.dryingRunId,
});
