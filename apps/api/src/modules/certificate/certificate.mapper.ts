import { formatMoment } from '../../platform/graphql/moment.js';
import { recordView, type RecordView } from '../../platform/graphql/record-view.js';
import type { CertificateDocument } from './certificate-document.js';
import type { LightReference, ThresholdCertificate } from './certificate.entity.js';

export type LightReferenceView = RecordView &
  Pick<LightReference, 'label' | 'site' | 'powerText' | 'powerUnit' | 'powerNw' | 'relativeSd' | 'basis' | 'note'> & { observedAt: string };

export const toLightReference = (row: LightReference): LightReferenceView => ({
  ...recordView(row),
  label: row.label,
  site: row.site,
  observedAt: formatMoment(row.observedAt, row.observedOffsetMin),
  powerText: row.powerText,
  powerUnit: row.powerUnit,
  powerNw: row.powerNw,
  relativeSd: row.relativeSd,
  basis: row.basis,
  note: row.note,
});

export type CertificateView = RecordView &
  CertificateDocument &
  Pick<
    ThresholdCertificate,
    'codeVersion' | 'deviceUnitId' | 'calibrationVersionId' | 'biasThresholdCurveId' | 'lightReferenceId' | 'targetRwc' | 'targetBasis' | 'overrideReason'
  > & { validUntil: string };

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
  validUntil: formatMoment(row.validUntil),
  overrideReason: row.overrideReason,
});
