import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Amendment } from './amendment.entity.js';

export type AmendmentView = RecordView & Pick<Amendment, 'targetKind' | 'targetId' | 'replacementId' | 'reasonCode' | 'reason'>;

export const toAmendment = (row: Amendment): AmendmentView => ({
  ...recordView(row),
  targetKind: row.targetKind,
  targetId: row.targetId,
  replacementId: row.replacementId,
  reasonCode: row.reasonCode,
  reason: row.reason,
});
