import type { CertificateTrial, LightReading } from '../../generated/schema.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { CertificateDocument } from './certificate-document.js';
import type { CertificateBatch, CertificateRefusal, LightReference, ThresholdCertificate } from './certificate.entity.js';
import { brightestByDay, readingsOf } from './light.service.js';

type LightColumns =
  | 'label' | 'site' | 'powerText' | 'powerUnit' | 'powerNw' | 'relativeSd' | 'basis' | 'note' | 'days' | 'armedFromMin' | 'armedUntilMin' | 'latitude' | 'longitude'
  | 'bandCentreNm' | 'bandWidthNm' | 'tiltDeg' | 'diffuser' | 'meterId' | 'spreadParts';

export type LightReferenceView = RecordView & Pick<LightReference, LightColumns> & { observedAt: string; series: LightReading[] | null; dailyMaxima: LightReading[] | null };

export function toLightReference(row: LightReference): LightReferenceView {
  const series = row.series && readingsOf(row.series);
  return {
    ...recordView(row),
    label: row.label, site: row.site, powerText: row.powerText, powerUnit: row.powerUnit, powerNw: row.powerNw, relativeSd: row.relativeSd, basis: row.basis, note: row.note,
    observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
    series, dailyMaxima: series && brightestByDay(series, row),
    days: row.days, armedFromMin: row.armedFromMin, armedUntilMin: row.armedUntilMin, latitude: row.latitude, longitude: row.longitude,
    bandCentreNm: row.bandCentreNm, bandWidthNm: row.bandWidthNm, tiltDeg: row.tiltDeg, diffuser: row.diffuser, meterId: row.meterId, spreadParts: row.spreadParts,
  };
}

type CertificateColumns =
  | 'codeVersion' | 'deviceUnitId' | 'calibrationVersionId' | 'biasThresholdCurveId' | 'lightReferenceId' | 'targetRwc' | 'targetBasis' | 'overrideReason'
  | 'falseTripRwc' | 'missedTripRwc' | 'biasSourceId' | 'certificateBatchId';

export type CertificateView = RecordView & CertificateDocument & Pick<ThresholdCertificate, CertificateColumns> & { validUntil: string; roundingRwc: number | null };

export const toCertificate = (row: ThresholdCertificate): CertificateView => ({
  ...row.document,
  ...recordView(row),
  codeVersion: row.codeVersion,
  deviceUnitId: row.deviceUnitId,
  calibrationVersionId: row.calibrationVersionId,
  biasThresholdCurveId: row.biasThresholdCurveId,
  lightReferenceId: row.lightReferenceId,
  targetRwc: row.targetRwc,
  targetBasis: row.targetBasis,
  roundingRwc: row.document.tripRwc === undefined ? null : row.document.tripRwc - row.targetRwc,
  validUntil: formatMoment(row.validUntil),
  overrideReason: row.overrideReason,
  falseTripRwc: row.falseTripRwc,
  missedTripRwc: row.missedTripRwc,
  biasSourceId: row.biasSourceId,
  certificateBatchId: row.certificateBatchId,
});

export const toTrial = (document: Omit<CertificateDocument, 'overrides'>, targetRwc: number): Omit<CertificateTrial, 'possible' | 'objections' | 'problem'> => ({
  ...document,
  shares: [...document.shares],
  operatingCharacteristic: [...document.operatingCharacteristic],
  roundingRwc: document.tripRwc === undefined ? null : document.tripRwc - targetRwc,
});

export type CertificateBatchView = RecordView &
  Pick<CertificateBatch, 'deviceUnitIds' | 'calibrationVersionId' | 'lightReferenceId' | 'targetRwc' | 'targetBasis' | 'overrideReason'> & { validUntil: string };

export const toCertificateBatch = (row: CertificateBatch): CertificateBatchView => ({
  ...recordView(row), deviceUnitIds: row.deviceUnitIds, calibrationVersionId: row.calibrationVersionId, lightReferenceId: row.lightReferenceId,
  targetRwc: row.targetRwc, targetBasis: row.targetBasis, overrideReason: row.overrideReason, validUntil: formatMoment(row.validUntil),
});

export type CertificateRefusalView = RecordView & Pick<CertificateRefusal, 'code' | 'message' | 'remedy' | 'objections'>;

export const toCertificateRefusal = (row: CertificateRefusal): CertificateRefusalView => ({
  ...recordView(row), code: row.code, message: row.message, remedy: row.remedy, objections: row.objections,
});
