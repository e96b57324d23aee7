import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import type { Family } from '#libs/regression';

/**
 * How transmittance follows RWC, as the families of `#libs/regression` tell it: a shape, whose numbers come as
 * `parameters`. Here T is the part of the sensor's open-sky power that comes through the leaf, and must fall as RWC rises.
 */
export type TransmittanceLaw = Pick<Family, 'name' | 'parameterNames' | 'predict' | 'gradient' | 'slope' | 'inverse'>;

/** Transmittance at an RWC, refused unless it is a fraction above zero. */
export function transmittanceAt(law: TransmittanceLaw, parameters: readonly number[], rwc: number): number {
  requireFinite('rwc', rwc);
  if (parameters.length !== law.parameterNames.length) {
    throw new InputError('PARAMETER_COUNT', 'calibration.parameters',
      `the ${law.name} family has ${law.parameterNames.length} parameters, got ${parameters.length}`, 'Give the parameters of the fit unchanged.');
  }
  parameters.forEach((p, i) => requireFinite(`calibration.parameters[${i}]`, p));
  const transmittance = law.predict(parameters, rwc);
  if (!(transmittance > 0)) {
    throw new InputError('TRANSMITTANCE_NOT_POSITIVE', 'calibration', `predicts a transmittance of ${transmittance} at RWC ${rwc}`,
      'Use a family that stays above zero there, or a target inside the calibrated range.');
  }
  return transmittance;
}

/**
 * b = −dlnT/dR at one RWC: how many times faster than RWC falls the light behind the leaf rises, relatively.
 *
 * @param law family of the calibration @param parameters its numbers @param rwc fraction
 * @returns b, per unit of RWC (0.65 to 1.25 is usual in the 1.45 µm band)
 * @throws InputError `TRANSMITTANCE_DOES_NOT_FALL` unless b > 0, and those of {@link transmittanceAt}
 *
 * @example
 * relativeSlope(families['log-linear'], [-0.9, -1.01], 0.8) // => 1.01
 */
export function relativeSlope(law: TransmittanceLaw, parameters: readonly number[], rwc: number): number {
  const slope = -law.slope(parameters, rwc) / transmittanceAt(law, parameters, rwc);
  if (!(slope > 0)) {
    throw new InputError('TRANSMITTANCE_DOES_NOT_FALL', 'calibration', `transmittance does not fall with RWC at ${rwc} (b = ${slope})`,
      'A device can only be set where more water means less light: check the calibration.');
  }
  return slope;
}

/** Gradient of ln T at one RWC in the parameters. */
export function logTransmittanceGradient(law: TransmittanceLaw, parameters: readonly number[], rwc: number): number[] {
  const transmittance = transmittanceAt(law, parameters, rwc);
  return law.gradient(parameters, rwc).map((g) => g / transmittance);
}

/**
 * How far irradiance moves the trip RWC where ln T is straight: (1/b)·ln(E/E_ref).
 *
 * @param relativeSlopeB b = −dlnT/dR, above zero
 * @param irradianceRatio E/E_ref in the device's band, above zero
 * @returns shift of the trip RWC as a fraction; positive in brighter light, which trips wetter leaves
 * @throws InputError `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Source: derived; the unit trips when T(R)·E reaches its fixed threshold power T(R_target)·E_ref.
 *
 * @example
 * tripRwcShift(1.01, 1.1).toFixed(3) // => '0.094'
 */
export function tripRwcShift(relativeSlopeB: number, irradianceRatio: number): number {
  return Math.log(requirePositive('irradianceRatio', irradianceRatio)) / requirePositive('relativeSlopeB', relativeSlopeB);
}

/**
 * The RWC at which a unit set for `targetRwc` trips under another irradiance, for any family: T⁻¹(T(R_target)·E_ref/E).
 *
 * @param law family of the calibration @param parameters its numbers
 * @param targetRwc RWC the unit was set for at E_ref, fraction
 * @param irradianceRatio E/E_ref, above zero
 * @returns the trip RWC; may lie outside 0…1, which means it trips always (above 1) or never (below 0)
 * @throws InputError `NO_TRIP_RWC` when the family reaches that transmittance nowhere
 *
 * @example
 * tripRwcUnderLight(families['log-linear'], [-0.9, -1.01], 0.8, 1.1).toFixed(3) // => '0.894'
 */
export function tripRwcUnderLight(
  law: TransmittanceLaw, parameters: readonly number[], targetRwc: number, irradianceRatio: number,
): number {
  requirePositive('irradianceRatio', irradianceRatio);
  const needed = transmittanceAt(law, parameters, targetRwc) / irradianceRatio;
  const rwc = law.inverse(parameters, needed);
  if (rwc === null) {
    throw new InputError('NO_TRIP_RWC', 'irradianceRatio', `the ${law.name} family reaches the needed transmittance ${needed} at no RWC`,
      'Choose light nearer the reference, or a family that holds there.');
  }
  return rwc;
}
