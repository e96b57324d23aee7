import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/**
 * How transmittance follows RWC for one family of calibration: a shape, whose numbers come as `parameters`.
 * Any object of this form serves; transmittance is a fraction of the power that would reach the sensor without a leaf,
 * and falls as RWC rises.
 */
export interface TransmittanceLaw {
  readonly family: string;
  readonly parameterCount: number;
  /** Transmittance at an RWC (both fractions); RWC may lie outside 0…1, for the tails of a distribution. */
  predict(parameters: readonly number[], rwc: number): number;
  /** RWC at a transmittance; NaN when no RWC gives it. */
  inverse(parameters: readonly number[], transmittance: number): number;
}

/** ln T = a + c·R, parameters (a, c), c < 0: the physical default. */
export const logLinearLaw: TransmittanceLaw = {
  family: 'log-linear',
  parameterCount: 2,
  predict: ([a, c], rwc) => Math.exp(a! + c! * rwc),
  inverse: ([a, c], transmittance) => (transmittance > 0 && c !== 0 ? (Math.log(transmittance) - a!) / c! : NaN),
};

/** T = a + c·R, parameters (a, c), c < 0. */
export const linearLaw: TransmittanceLaw = {
  family: 'linear',
  parameterCount: 2,
  predict: ([a, c], rwc) => a! + c! * rwc,
  inverse: ([a, c], transmittance) => (c === 0 ? NaN : (transmittance - a!) / c!),
};

/** T = f + A·exp(−k·R), parameters (f, A, k): an exponential above a floor; A, k > 0. */
export const exponentialFloorLaw: TransmittanceLaw = {
  family: 'exponential-floor',
  parameterCount: 3,
  predict: ([floor, amplitude, rate], rwc) => floor! + amplitude! * Math.exp(-rate! * rwc),
  inverse: ([floor, amplitude, rate], transmittance) => {
    const ratio = (transmittance - floor!) / amplitude!;
    return ratio > 0 && rate !== 0 ? -Math.log(ratio) / rate! : NaN;
  },
};

/** Transmittance at an RWC, refused unless it is a fraction above zero. */
export function transmittanceAt(law: TransmittanceLaw, parameters: readonly number[], rwc: number): number {
  requireFinite('rwc', rwc);
  if (parameters.length !== law.parameterCount) {
    throw new InputError('PARAMETER_COUNT', 'calibration.parameters',
      `the ${law.family} family has ${law.parameterCount} parameters, got ${parameters.length}`, 'Give the parameters of the fit unchanged.');
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
 * Computed by a central difference over 2e-5 of RWC (relative error about 1e-10 for these smooth laws).
 *
 * @example
 * relativeSlope(logLinearLaw, [-0.9, -1.01], 0.8) // 1.01
 */
export function relativeSlope(law: TransmittanceLaw, parameters: readonly number[], rwc: number): number {
  const step = 1e-5;
  const wetter = transmittanceAt(law, parameters, rwc + step);
  const drier = transmittanceAt(law, parameters, rwc - step);
  const slope = Math.log(drier / wetter) / (2 * step);
  if (!(slope > 0)) {
    throw new InputError('TRANSMITTANCE_DOES_NOT_FALL', 'calibration', `transmittance does not fall with RWC at ${rwc} (b = ${slope})`,
      'A device can only be set where more water means less light: check the calibration.');
  }
  return slope;
}

/** Gradient of ln T at one RWC in the parameters, by central differences scaled to each parameter. */
export function logTransmittanceGradient(law: TransmittanceLaw, parameters: readonly number[], rwc: number): number[] {
  return parameters.map((p, i) => {
    const step = 1e-5 * Math.max(Math.abs(p), 1e-3);
    const moved = (by: number): number => Math.log(transmittanceAt(law, parameters.map((q, j) => (j === i ? q + by : q)), rwc));
    return (moved(step) - moved(-step)) / (2 * step);
  });
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
 * tripRwcShift(1.01, 1.1) // 0.0944: ten per cent more light trips 9.4 points wetter
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
 * tripRwcUnderLight(logLinearLaw, [-0.9, -1.01], 0.8, 1.1) // 0.8944
 */
export function tripRwcUnderLight(
  law: TransmittanceLaw, parameters: readonly number[], targetRwc: number, irradianceRatio: number,
): number {
  requirePositive('irradianceRatio', irradianceRatio);
  const needed = transmittanceAt(law, parameters, targetRwc) / irradianceRatio;
  const rwc = law.inverse(parameters, needed);
  if (!Number.isFinite(rwc)) {
    throw new InputError('NO_TRIP_RWC', 'irradianceRatio', `the ${law.family} family reaches the needed transmittance ${needed} at no RWC`,
      'Choose light nearer the reference, or a family that holds there.');
  }
  return rwc;
}
