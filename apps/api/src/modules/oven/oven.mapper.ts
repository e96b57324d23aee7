import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { OvenCycle } from './oven.entity.js';

export type OvenCycleView = RecordView & Pick<OvenCycle, 'label' | 'ovenId' | 'setTemperatureC' | 'discIds'> & { startedAt: string };

export const toOvenCycle = (row: OvenCycle): OvenCycleView => ({
  ...recordView(row),
  label: row.label,
  ovenId: row.ovenId,
  setTemperatureC: row.setTemperatureC,
  discIds: row.discIds,
  startedAt: formatMoment(row.startedAt, row.startedOffsetMin),
});
