import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Hydration, HydrationEnd } from './hydration.entity.js';

export type HydrationView = RecordView & Pick<Hydration, 'label' | 'discIds' | 'protocolId' | 'waterC' | 'note' | 'startedOffsetMin'> & { startedAt: string; started: Date };

export const toHydration = (row: Hydration): HydrationView => ({
  ...recordView(row),
  label: row.label,
  discIds: row.discIds,
  protocolId: row.protocolId,
  startedAt: formatMoment(row.startedAt, row.startedOffsetMin),
  started: row.startedAt,
  startedOffsetMin: row.startedOffsetMin,
  waterC: row.waterC,
  note: row.note,
});

export type HydrationEndView = RecordView & Pick<HydrationEnd, 'waterC' | 'blotted' | 'overrideReason'> & { takenOutAt: string };

export const toHydrationEnd = (row: HydrationEnd): HydrationEndView => ({
  ...recordView(row),
  takenOutAt: formatMoment(row.takenOutAt, row.takenOutOffsetMin),
  waterC: row.waterC,
  blotted: row.blotted,
  overrideReason: row.overrideReason,
});
