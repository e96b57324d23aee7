import { normalQuantile } from '#libs/numeric';
import { families } from '#libs/regression';
import type { CalibrationVersion } from '../calibration/calibration.entity.js';
import { familyName } from '../calibration/compute.js';
import type { ThresholdCertificate } from '../certificate/certificate.entity.js';

export interface InferredRwc {
  readonly rwc: number;
  readonly low: number;
  readonly high: number;
}

/**
 * RWC of the leaf when its unit tripped in light of known power E: T(R) = P_th/E, read back on the certificate's
 * calibration. The 95 % interval leaves the light's spread out, since the light is known here.
 *
 * @returns null where the calibration reaches that transmittance at no RWC
 */
export function inferRwc(certificate: ThresholdCertificate, calibration: CalibrationVersion, lightPowerNw: number): InferredRwc | null {
  const { thresholdPowerNw, tripRwcSd, shares } = certificate.document;
  const parameters = calibration.document.parameters.map(({ value }) => value);
  const rwc = families[familyName[calibration.family]].inverse(parameters, thresholdPowerNw / lightPowerNw);
  if (rwc === null) return null;
  const ofLight = shares.find(({ cause }) => cause === 'irradiance')?.share ?? 0;
  const half = normalQuantile(0.975) * tripRwcSd * Math.sqrt(1 - ofLight);
  return { rwc, low: rwc - half, high: rwc + half };
}
