import { judgeReadback } from '#libs/switch-device';
import type { CertificateValidity, Flag, LeafSide } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { staleAmong } from '../amendment/amendment.repository.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { scopeFindings } from '../calibration-scope/scope-findings.js';
import { LightReference, type ThresholdCertificate } from '../certificate/certificate.entity.js';
import { hindrancesOfCertificates } from '../certificate/certificate.repository.js';
import { DeviceUnit } from '../device/device.entity.js';
import { standingBands } from '../passport/passport.repository.js';
import { approvalStates } from '../signature/signature.repository.js';

/** A light reference taken farther away says little of the light here, km. Common practice, no source. */
const SAME_SKY_KM = 20;

/** How a unit is put under a leaf. */
export interface Arming {
  readonly biasReadbackV: number;
  readonly armedAt: Date;
  readonly leafSide: LeafSide;
  readonly plantId: string | null;
  readonly latitude: string | null;
  readonly longitude: string | null;
}

const ask = (code: string, message: string): Flag => ({ code, severity: 'ASK', message });

const HINDRANCE: Readonly<Record<Exclude<CertificateValidity, 'VALID'>, string>> = {
  WITHDRAWN: 'CERTIFICATE_WITHDRAWN', UNIT_RETIRED: 'UNIT_RETIRED', SUPERSEDED: 'CERTIFICATE_SUPERSEDED', STALE: 'CERTIFICATE_STALE', NOT_APPROVED: 'CERTIFICATE_NOT_APPROVED', ENDED: 'CERTIFICATE_ENDED',
};

/**
 * What stands against arming a unit by this certificate. An installation is a fact of the field: it may have happened all the
 * same, so every objection can be carried by a reason, which the Thread shows.
 */
export async function objectionsToInstalling(tx: Tx, certificate: ThresholdCertificate, arming: Arming): Promise<Flag[]> {
  const hindrances = (await hindrancesOfCertificates(tx, [certificate], arming.armedAt)).get(certificate.id)!;
  return [
    ...biasObjections(certificate, arming),
    ...hindrances.map(({ validity, because }) => ask(HINDRANCE[validity as keyof typeof HINDRANCE], validity === 'UNIT_RETIRED' ? because! : because!.replace(/^It /, 'The certificate '))),
    ...(await calibrationObjections(tx, certificate, arming)),
    ...(await lightObjections(tx, certificate, arming)),
  ];
}

function biasObjections({ document }: ThresholdCertificate, { biasReadbackV }: Arming): Flag[] {
  const { biasV, relativeSlope = null, thresholdPerLnBias = null } = document;
  const { off, told } = judgeReadback({ biasV, relativeSlope, thresholdPerLnBias }, biasReadbackV);
  return off ? [ask('WRONG_BIAS', told)] : [];
}

/** The calibration as it stands now, and the leaf against its scope. What the certificate was issued over is not asked again. */
async function calibrationObjections(tx: Tx, certificate: ThresholdCertificate, { armedAt, leafSide, plantId }: Arming): Promise<Flag[]> {
  const version = (await rowById(tx, CalibrationVersion, certificate.calibrationVersionId))!;
  const found: Flag[] = [];
  const state = (await approvalStates(tx, 'calibration_version', [version.id])).get(version.id);
  if (state === 'WITHDRAWN') found.push(ask('CALIBRATION_WITHDRAWN', 'The calibration version behind the certificate was withdrawn.'));
  if (state === 'SUPERSEDED') found.push(ask('CALIBRATION_SUPERSEDED', 'A later version of the calibration was approved since the certificate was issued.'));
  if (state === 'DRAFT' || state === 'REVIEWED') found.push(ask('CALIBRATION_NOT_APPROVED', `The calibration version is ${state.toLowerCase()}, not approved.`));
  if ((await staleAmong(tx, [version.id])).has(version.id)) found.push(ask('CALIBRATION_STALE', 'A fact that the calibration version rests on was amended.'));
  const [band] = await standingBands(tx, (await rowById(tx, DeviceUnit, certificate.deviceUnitId))!);
  const scope = await scopeFindings(tx, version, {
    at: armedAt, ...(await plantOf(tx, plantId)), leafSide, rwc: certificate.targetRwc, bandCentreNm: band ? Number(band.centreNm) : null,
  });
  const answered = new Set(certificate.document.overrides.map(({ message }) => message));
  return [...found, ...scope].filter(({ message }) => !answered.has(message));
}

async function plantOf(tx: Tx, plantId: string | null): Promise<{ readonly cropId?: string; readonly cultivar?: string | null }> {
  if (plantId === null) return {};
  const [plant] = await tx.query<{ cropId: string; cultivar: string | null }>('SELECT crop_id AS "cropId", cultivar FROM plant_as_amended WHERE lab_id = $1 AND id = $2', [tx.labId, plantId]);
  return plant ?? {};
}

async function lightObjections(tx: Tx, { lightReferenceId }: ThresholdCertificate, { latitude, longitude }: Arming): Promise<Flag[]> {
  const light = (await rowById(tx, LightReference, lightReferenceId))!;
  if (latitude === null || longitude === null || light.latitude === null || light.longitude === null) return [];
  const km = distanceKm([Number(latitude), Number(longitude)], [Number(light.latitude), Number(light.longitude)]);
  return km > SAME_SKY_KM ? [ask('LIGHT_FAR_AWAY', `The light reference “${light.label}” was taken ${km.toFixed(0)} km away: the light here is another, and moves the trip.`)] : [];
}

/** Great circle on a sphere of the Earth's mean radius, km; haversine. */
function distanceKm([latA, lonA]: readonly [number, number], [latB, lonB]: readonly [number, number]): number {
  const rad = (degrees: number): number => (degrees * Math.PI) / 180;
  const h = Math.sin(rad(latB - latA) / 2) ** 2 + Math.cos(rad(latA)) * Math.cos(rad(latB)) * Math.sin(rad(lonB - lonA) / 2) ** 2;
  return 2 * 6371 * Math.asin(Math.min(1, Math.sqrt(h)));
}
