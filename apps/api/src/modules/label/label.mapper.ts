import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { LabelPrint } from './label.entity.js';
import { pages } from './label.service.js';

export type LabelPrintView = RecordView & Pick<LabelPrint, 'symbology' | 'reason'> & {
  subjectKind: string; count: number; pages: number; pdfUrl: string; svgUrl: string; pngUrl: string;
};

export const toLabelPrint = (row: LabelPrint): LabelPrintView => ({
  ...recordView(row), symbology: row.symbology, reason: row.reason, subjectKind: row.subjectKind.toUpperCase(), count: row.subjectIds.length, pages: pages(row),
  pdfUrl: `/labels/${row.id}.pdf`, svgUrl: `/labels/${row.id}.svg`, pngUrl: `/labels/${row.id}.png`,
});
