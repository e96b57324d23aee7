import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Decision, DecisionOutcome, FieldCheck, FieldReport, Installation, InstallationEnd, LatchReset, Trip } from './field.entity.js';

export type InstallationView = RecordView &
  Pick<
    Installation,
    'deviceUnitId' | 'thresholdCertificateId' | 'site' | 'zone' | 'plantNote' | 'leafSide' | 'tiltDeg' | 'latitude' | 'longitude' | 'biasReadbackV' | 'overrideReason' | 'plantId' | 'photoFileId'
  > & { armedAt: string };

export const toInstallation = (row: Installation): InstallationView => ({
  ...recordView(row),
  deviceUnitId: row.deviceUnitId,
  thresholdCertificateId: row.thresholdCertificateId,
  site: row.site,
  zone: row.zone,
  plantNote: row.plantNote,
  leafSide: row.leafSide,
  tiltDeg: row.tiltDeg,
  latitude: row.latitude,
  longitude: row.longitude,
  biasReadbackV: row.biasReadbackV,
  armedAt: formatMoment(row.armedAt, row.armedOffsetMin),
  overrideReason: row.overrideReason,
  plantId: row.plantId,
  photoFileId: row.photoFileId,
});

export type TripView = RecordView & Pick<Trip, 'installationId' | 'source' | 'lightPowerNw' | 'note' | 'rawLine'> & { trippedAt: string | null; seenAt: string };

export const toTrip = (row: Trip): TripView => ({
  ...recordView(row),
  installationId: row.installationId,
  trippedAt: row.trippedAt && formatMoment(row.trippedAt, row.trippedOffsetMin ?? 0),
  seenAt: formatMoment(row.seenAt, row.seenOffsetMin),
  source: row.source,
  lightPowerNw: row.lightPowerNw,
  note: row.note,
  rawLine: row.rawLine,
});

export type FieldCheckView = RecordView & Pick<FieldCheck, 'installationId' | 'discIds' | 'note'> & { observedAt: string };

export const toFieldCheck = (row: FieldCheck): FieldCheckView => ({
  ...recordView(row),
  installationId: row.installationId,
  discIds: row.discIds,
  note: row.note,
  observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
});

export type DecisionView = RecordView & Pick<Decision, 'zone' | 'action' | 'reason' | 'depthMm' | 'overrode' | 'tripIds' | 'zoneAdviceId'> & { decidedAt: string };

export const toDecision = (row: Decision): DecisionView => ({
  ...recordView(row),
  decidedAt: formatMoment(row.decidedAt, row.decidedOffsetMin),
  zone: row.zone,
  action: row.action,
  reason: row.reason,
  depthMm: row.depthMm,
  overrode: row.overrode,
  tripIds: row.tripIds,
  zoneAdviceId: row.zoneAdviceId,
});

type Observed = RecordView & { readonly installationId: string; readonly observedAt: string };

const observed = (row: FieldReport | LatchReset | InstallationEnd): Observed => ({
  ...recordView(row), installationId: row.installationId, observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
});

export type FieldReportView = Observed & Pick<FieldReport, 'latched' | 'source' | 'lightPowerNw' | 'biasReadbackV' | 'rawLine' | 'note'>;

export const toFieldReport = (row: FieldReport): FieldReportView => ({
  ...observed(row), latched: row.latched, source: row.source, lightPowerNw: row.lightPowerNw, biasReadbackV: row.biasReadbackV, rawLine: row.rawLine, note: row.note,
});

export type LatchResetView = Observed & Pick<LatchReset, 'opened' | 'note'>;

export const toLatchReset = (row: LatchReset): LatchResetView => ({ ...observed(row), opened: row.opened, note: row.note });

export type InstallationEndView = Observed & Pick<InstallationEnd, 'reason'>;

export const toInstallationEnd = (row: InstallationEnd): InstallationEndView => ({ ...observed(row), reason: row.reason });

export type DecisionOutcomeView = RecordView & Pick<DecisionOutcome, 'decisionId' | 'verdict' | 'seen'> & { observedAt: string };

export const toDecisionOutcome = (row: DecisionOutcome): DecisionOutcomeView => ({
  ...recordView(row), decisionId: row.decisionId, verdict: row.verdict, seen: row.seen, observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
});
