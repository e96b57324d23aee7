/** Bias read back may differ from the certificate's by this share before somebody has to say why. Common practice, no source. */
export const READBACK_TOLERANCE = 0.005;
/** Near pull-in less than that moves the trip far: so much of it asks for a reason too, fraction of RWC. Common practice, no source. */
export const SHIFT_TOLERANCE_RWC = 0.02;

/** What a certificate says of its bias. The slopes are null in certificates of before they were kept. */
export interface BiasStated {
  readonly biasV: number;
  /** b = −dlnT/dR at the target, per unit of RWC. */
  readonly relativeSlope: number | null;
  /** dlnP_th/dlnV at the bias. */
  readonly thresholdPerLnBias: number | null;
}

export interface Readback {
  /** True where it asks for a reason. */
  readonly off: boolean;
  /** How far the trip moves, fraction of RWC, positive towards wetter; null where the slopes are not known. */
  readonly shiftRwc: number | null;
  /** In words, "" where nothing is to be said. */
  readonly told: string;
}

/**
 * Holds the bias read back at a unit against its certificate: by its share, and by how far the trip would move,
 * −(dlnP_th/dlnV) · ln(V/V₀) / b, the first order of P_th ∝ V^k against T(R).
 *
 * @param biasReadbackV V, as the meter shows it
 * @example judgeReadback({ biasV: 40, relativeSlope: 2, thresholdPerLnBias: -8 }, 40.4).shiftRwc // ≈ 0.0398: 4 points wetter
 */
export function judgeReadback({ biasV, relativeSlope, thresholdPerLnBias }: BiasStated, biasReadbackV: number): Readback {
  const known = relativeSlope !== null && thresholdPerLnBias !== null && biasReadbackV > 0;
  const shiftRwc = known ? (-thresholdPerLnBias * Math.log(biasReadbackV / biasV)) / relativeSlope : null;
  const off = Math.abs(biasReadbackV - biasV) > READBACK_TOLERANCE * biasV || Math.abs(shiftRwc ?? 0) > SHIFT_TOLERANCE_RWC;
  const points = shiftRwc === null ? '' : ` The unit would trip about ${(100 * Math.abs(shiftRwc)).toFixed(1)} points of RWC ${shiftRwc > 0 ? 'wetter' : 'drier'}.`;
  return { off, shiftRwc, told: off ? `The bias read back is ${biasReadbackV} V; the certificate says ${biasV} V.${points}` : '' };
}
