import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import { pullInOf, releaseOf } from './compute.js';
import type { CurveDocument } from './curve-document.js';
import type { BiasSweep, BiasThresholdCurve, DeviceLot, DeviceUnit, TripTest } from './device.entity.js';

export type DeviceLotView = RecordView & Pick<DeviceLot, 'label'>;
export const toDeviceLot = (row: DeviceLot): DeviceLotView => ({ ...recordView(row), label: row.label });

export type DeviceUnitView = RecordView & Pick<DeviceUnit, 'label' | 'deviceLotId'>;
export const toDeviceUnit = (row: DeviceUnit): DeviceUnitView => ({ ...recordView(row), label: row.label, deviceLotId: row.deviceLotId });

export type BiasSweepView = RecordView & Pick<BiasSweep, 'direction' | 'polarity' | 'steps' | 'temperatureC' | 'voltsPerS' | 'storedFileId'> & {
  observedAt: string;
  pullInV: number | null;
  uPullInV: number | null;
  releaseV: number | null;
};

export const toBiasSweep = (row: BiasSweep): BiasSweepView => {
  const found = pullInOf(row.steps);
  return {
    ...recordView(row),
    observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
    direction: row.direction,
    polarity: row.polarity,
    steps: row.steps,
    pullInV: found?.pullInV ?? null,
    uPullInV: found?.uPullInV ?? null,
    releaseV: releaseOf(row.steps),
    temperatureC: row.temperatureC,
    voltsPerS: row.voltsPerS,
    storedFileId: row.storedFileId,
  };
};

export type TripTestView = RecordView & Pick<TripTest, 'biasV' | 'tripPowerText' | 'tripPowerUnit' | 'tripPowerNw' | 'rawLine' | 'onCurrentA' | 'offCurrentA' | 'lightCourse' | 'temperatureC' | 'storedFileId'> & {
  observedAt: string;
  decades: number | null;
};

export const toTripTest = (row: TripTest): TripTestView => ({
  ...recordView(row),
  observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
  biasV: row.biasV,
  tripPowerText: row.tripPowerText,
  tripPowerUnit: row.tripPowerUnit,
  tripPowerNw: row.tripPowerNw,
  rawLine: row.rawLine,
  onCurrentA: row.onCurrentA,
  offCurrentA: row.offCurrentA,
  decades: row.onCurrentA && row.offCurrentA ? Math.log10(Number(row.onCurrentA) / Number(row.offCurrentA)) : null,
  lightCourse: row.lightCourse,
  storedFileId: row.storedFileId,
  temperatureC: row.temperatureC,
});

export type CurveView = RecordView & Omit<CurveDocument, 'scatter'> & { scatter: 'CONSTANT' | 'PROPORTIONAL' | null } & Pick<BiasThresholdCurve, 'codeVersion' | 'deviceUnitId'>;

export const toCurve = (row: BiasThresholdCurve): CurveView => ({
  ...row.document,
  scatter: row.document.scatter === undefined ? null : row.document.scatter === 'proportional' ? 'PROPORTIONAL' : 'CONSTANT',
  ...recordView(row),
  codeVersion: row.codeVersion,
  deviceUnitId: row.deviceUnitId,
});
