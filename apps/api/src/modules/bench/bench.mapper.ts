import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { DryingRun, MeterReading, Preflight, Weighing } from './bench.entity.js';

export type DryingRunView = RecordView & Pick<DryingRun, 'label' | 'rigId' | 'balanceId' | 'discIds' | 'rhythmMin' | 'protocolId'> & { openedAt: string };

export const toDryingRun = (row: DryingRun): DryingRunView => ({
  ...recordView(row),
  label: row.label,
  rigId: row.rigId,
  balanceId: row.balanceId,
  discIds: row.discIds,
  rhythmMin: row.rhythmMin,
  protocolId: row.protocolId,
  openedAt: formatMoment(row.openedAt, row.openedOffsetMin),
});

export type WeighingView = RecordView &
  Pick<Weighing, 'discId' | 'state' | 'massText' | 'massUnit' | 'massMg' | 'balanceId' | 'dryingRunId' | 'ovenCycleId' | 'entryMode' | 'rawLine' | 'flags' | 'flagAnswer' | 'clockOffsetMs' | 'stable' | 'scannedText' | 'overrideReason'> & {
    observedAt: string;
    observed: Date;
  };

export const toWeighing = (row: Weighing): WeighingView => ({
  ...recordView(row),
  discId: row.discId,
  state: row.state,
  observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
  observed: row.observedAt,
  massText: row.massText,
  massUnit: row.massUnit,
  massMg: row.massMg,
  balanceId: row.balanceId,
  dryingRunId: row.dryingRunId,
  ovenCycleId: row.ovenCycleId,
  entryMode: row.entryMode,
  rawLine: row.rawLine,
  flags: row.flags,
  flagAnswer: row.flagAnswer,
  clockOffsetMs: row.clockOffsetMs,
  stable: row.stable,
  scannedText: row.scannedText,
  overrideReason: row.overrideReason,
});

export type MeterReadingView = RecordView &
  Pick<MeterReading, 'lightPath' | 'powerText' | 'powerUnit' | 'powerNw' | 'discId' | 'dryingRunId' | 'entryMode' | 'rawLine' | 'clockOffsetMs' | 'overrideReason'> & { observedAt: string };

export const toMeterReading = (row: MeterReading): MeterReadingView => ({
  ...recordView(row),
  lightPath: row.lightPath,
  observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
  powerText: row.powerText,
  powerUnit: row.powerUnit,
  powerNw: row.powerNw,
  discId: row.discId,
  dryingRunId: row.dryingRunId,
  entryMode: row.entryMode,
  rawLine: row.rawLine,
  clockOffsetMs: row.clockOffsetMs,
  overrideReason: row.overrideReason,
});

export type PreflightView = RecordView &
  Pick<Preflight, 'balanceStatus' | 'darkId' | 'referenceId' | 'clockOffsetMs' | 'clockRoundTripMs' | 'skipped'> & {
    observedAt: string;
    balanceCheckedAt: string | null;
    lampOnSince: string | null;
  };

export const toPreflight = (row: Preflight): PreflightView => ({
  ...recordView(row),
  observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
  balanceStatus: row.balanceStatus,
  balanceCheckedAt: row.balanceCheckedAt && formatMoment(row.balanceCheckedAt),
  lampOnSince: row.lampOnSince && formatMoment(row.lampOnSince, row.lampOnOffsetMin ?? 0),
  darkId: row.darkId,
  referenceId: row.referenceId,
  clockOffsetMs: row.clockOffsetMs,
  clockRoundTripMs: row.clockRoundTripMs,
  skipped: row.skipped,
});
