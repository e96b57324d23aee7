import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Signature } from './signature.entity.js';

export type SignatureView = RecordView & Pick<Signature, 'subjectKind' | 'subjectId' | 'subjectHash' | 'meaning' | 'statement' | 'confirmedBy'>;

export const toSignature = (row: Signature): SignatureView => ({
  ...recordView(row),
  subjectKind: row.subjectKind,
  subjectId: row.subjectId,
  subjectHash: row.subjectHash,
  meaning: row.meaning,
  statement: row.statement,
  confirmedBy: row.confirmedBy,
});
