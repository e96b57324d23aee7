import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { Decision, FieldCheck, Installation, Trip } from './field.entity.js';

export type InstallationView = RecordView &
  Pick<
    Installation,
    'deviceUnitId' | 'thresholdCertificateId' | 'site' | 'zone' | 'plantNote' | 'leafSide' | 'tiltDeg' | 'latitude' | 'longitude' | 'biasReadbackV' | 'overrideReason'
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
});

export type TripView = RecordView & Pick<Trip, 'installationId' | 'source' | 'lightPowerNw' | 'note'> & { trippedAt: string | null; seenAt: string };

export const toTrip = (row: Trip): TripView => ({
  ...recordView(row),
  installationId: row.installationId,
  trippedAt: row.trippedAt && formatMoment(row.trippedAt, row.trippedOffsetMin ?? 0),
  seenAt: formatMoment(row.seenAt, row.seenOffsetMin),
  source: row.source,
  lightPowerNw: row.lightPowerNw,
  note: row.note,
});

export type FieldCheckView = RecordView & Pick<FieldCheck, 'installationId' | 'discIds' | 'note'> & { observedAt: string };

export const toFieldCheck = (row: FieldCheck): FieldCheckView => ({
  ...recordView(row),
  installationId: row.installationId,
  discIds: row.discIds,
  note: row.note,
  observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
});

export type DecisionView = RecordView & Pick<Decision, 'zone' | 'action' | 'reason' | 'depthMm' | 'overrode' | 'tripIds'> & { decidedAt: string };

export const toDecision = (row: Decision): DecisionView => ({
  ...recordView(row),
  decidedAt: formatMoment(row.decidedAt, row.decidedOffsetMin),
  zone: row.zone,
  action: row.action,
  reason: row.reason,
  depthMm: row.depthMm,
  overrode: row.overrode,
  tripIds: row.tripIds,
});
