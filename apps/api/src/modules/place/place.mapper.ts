import { codeOf } from '#libs/label';
import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Custody, Place } from './place.entity.js';

export type PlaceView = RecordView & Pick<Place, 'label' | 'placeKind' | 'note'> & { code: string };
export const toPlace = (row: Place): PlaceView => ({ ...recordView(row), code: codeOf(row.id), label: row.label, placeKind: row.placeKind, note: row.note });

export type CustodyView = RecordView & Pick<Custody, 'subjectKind' | 'subjectId' | 'placeId' | 'note'> & { movedAt: string };
export const toCustody = (row: Custody): CustodyView => ({
  ...recordView(row), subjectKind: row.subjectKind, subjectId: row.subjectId, placeId: row.placeId, note: row.note, movedAt: formatMoment(row.movedAt, row.movedOffsetMin),
});
