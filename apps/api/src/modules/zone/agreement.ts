import { agreementOfField, type FieldAgreement } from '#libs/switch-device';
import type { AgreementGroup, AgreementVerdict } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsByIds } from '../../platform/database/rows.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { ThresholdCertificate } from '../certificate/certificate.entity.js';
import { inferRwc } from '../field/infer.js';
import { checkedTrips, type CheckRow } from './agreement.repository.js';

/** Of the intervals on certificates and trips. */
const COVERAGE = 0.95;

export interface RealisedTripView {
  readonly fieldCheckId: string;
  readonly tripId: string;
  readonly predictedRwc: number;
  readonly low: number;
  readonly high: number;
  readonly realisedRwc: number;
  readonly discCount: number;
}

export interface FieldAgreementView extends Omit<FieldAgreement, 'verdict'> {
  readonly subject: { readonly kind: string; readonly id: string; readonly label: string } | null;
  readonly verdict: AgreementVerdict;
  readonly checks: readonly RealisedTripView[];
  /** When the newest of its checks was recorded. */
  readonly newestRecordedAt: Date;
}

const SUBJECT: Readonly<Record<AgreementGroup, (row: CheckRow) => FieldAgreementView['subject']>> = {
  ALL: () => null,
  UNIT: ({ unitId, unitLabel }) => ({ kind: 'device_unit', id: unitId, label: unitLabel }),
  LOT: ({ lotId, lotLabel }) => ({ kind: 'device_lot', id: lotId, label: lotLabel }),
  CALIBRATION: ({ calibrationVersionId, calibrationLabel }) => ({ kind: 'calibration_version', id: calibrationVersionId, label: calibrationLabel }),
  LIGHT: ({ lightReferenceId, lightLabel }) => ({ kind: 'light_reference', id: lightReferenceId, label: lightLabel }),
  CROP: ({ cropId, cropName }) => ({ kind: 'crop', id: cropId, label: cropName }),
};

const VERDICT: Readonly<Record<FieldAgreement['verdict'], AgreementVerdict>> = { holds: 'HOLDS', off: 'OFF', 'does not cover': 'DOES_NOT_COVER', 'too few': 'TOO_FEW' };

/**
 * Predicted against realised RWC at trip, by group. Where the light then is known the prediction is the RWC inferred at it,
 * else the certificate's target with its whole interval.
 *
 * @param newest checks of each group that count, the newest ones; all where it is not given
 */
export async function fieldAgreement(tx: Tx, by: AgreementGroup, marginRwc: number, newest = Infinity): Promise<FieldAgreementView[]> {
  const rows = await checkedTrips(tx);
  const certificates = new Map((await rowsByIds(tx, ThresholdCertificate, [...new Set(rows.map(({ certificateId }) => certificateId))])).map((row) => [row.id, row]));
  const calibrations = new Map((await rowsByIds(tx, CalibrationVersion, [...new Set(rows.map(({ calibrationVersionId }) => calibrationVersionId))])).map((row) => [row.id, row]));
  const groups = new Map<string, { subject: FieldAgreementView['subject']; checks: RealisedTripView[]; newestRecordedAt: Date }>();
  for (const row of rows) {
    const { lightPowerNw } = row;
    const inferred = lightPowerNw === null ? null : inferRwc(certificates.get(row.certificateId)!, calibrations.get(row.calibrationVersionId)!, lightPowerNw);
    const subject = SUBJECT[by](row);
    const group = groups.get(subject?.id ?? '') ?? { subject, checks: [], newestRecordedAt: row.recordedAt };
    groups.set(subject?.id ?? '', group);
    // Newest first: the rest of a long history does not count.
    if (group.checks.length >= newest) continue;
    if (row.recordedAt > group.newestRecordedAt) group.newestRecordedAt = row.recordedAt;
    group.checks.push({
      fieldCheckId: row.fieldCheckId, tripId: row.tripId, realisedRwc: row.realisedRwc, discCount: row.discCount,
      predictedRwc: inferred?.rwc ?? row.targetRwc, low: inferred?.low ?? row.tripRwcLow, high: inferred?.high ?? row.tripRwcHigh,
    });
  }
  return [...groups.values()].map(({ subject, checks, newestRecordedAt }) => {
    const { verdict, ...found } = agreementOfField(checks, COVERAGE, marginRwc);
    return { subject, checks, newestRecordedAt, ...found, verdict: VERDICT[verdict] };
  });
}
