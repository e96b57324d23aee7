import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { OvenCooling, OvenCycle, OvenTemperature } from './oven.entity.js';

export type OvenCycleView = RecordView & Pick<OvenCycle, 'label' | 'ovenId' | 'setTemperatureC' | 'discIds' | 'trayRows' | 'trayColumns'> & { trayPlaces: NonNullable<OvenCycle['trayMap']>; ruleKey: string | null } & { startedAt: string };

export const toOvenCycle = (row: OvenCycle): OvenCycleView => ({
  ...recordView(row),
  label: row.label,
  ovenId: row.ovenId,
  setTemperatureC: row.setTemperatureC,
  discIds: row.discIds,
  trayRows: row.trayRows,
  trayColumns: row.trayColumns,
  trayPlaces: row.trayMap ?? [],
  ruleKey: row.constantMassRule,
  startedAt: formatMoment(row.startedAt, row.startedOffsetMin),
});

export type OvenTemperatureView = RecordView & Pick<OvenTemperature, 'temperatureC' | 'note'> & { observedAt: string };
export const toOvenTemperature = (row: OvenTemperature): OvenTemperatureView => ({
  ...recordView(row), temperatureC: row.temperatureC, note: row.note, observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
});

export type OvenCoolingView = RecordView & Pick<OvenCooling, 'coolingMin' | 'vessel'> & { takenOutAt: string; cooledAt: string };
export const toOvenCooling = (row: OvenCooling): OvenCoolingView => ({
  ...recordView(row), coolingMin: row.coolingMin, vessel: row.vessel, takenOutAt: formatMoment(row.takenOutAt, row.takenOutOffsetMin),
  cooledAt: formatMoment(new Date(row.takenOutAt.getTime() + row.coolingMin * 60_000), row.takenOutOffsetMin),
});
