import type { Flag } from '../../generated/schema.js';

/**
 * What a threshold certificate computed, frozen. Powers in nW, biases in V, RWC and transmittance as fractions.
 * What may be absent is so in certificates of before it was kept.
 */
export interface CertificateDocument {
  readonly transmittanceAtTarget: number;
  readonly thresholdPowerNw: number;
  /** To be set: rounded to the step of the source. */
  readonly biasV: number;
  readonly biasStepV: number;
  /** Standard uncertainty of the bias the source gives. */
  readonly biasSdV?: number;
  readonly exactBiasV?: number;
  readonly thresholdAtBiasNw?: number;
  /** Where the unit trips in the reference light at the bias as it is set. */
  readonly tripRwc?: number;
  readonly tripRwcLow: number;
  readonly tripRwcHigh: number;
  readonly tripRwcSd: number;
  readonly pullInV?: number;
  readonly marginSigma?: number | null;
  readonly leastMarginSigma?: number;
  readonly testedMinV?: number;
  readonly testedMaxV?: number;
  readonly holdV?: number | null;
  readonly relativeSlope?: number;
  readonly thresholdPerLnBias?: number;
  readonly effectiveDegreesOfFreedom?: number | null;
  readonly falseTripChance?: number | null;
  readonly missedTripChance?: number | null;
  readonly shares: readonly { readonly cause: string; readonly share: number; readonly sdRwc?: number }[];
  readonly operatingCharacteristic: readonly { readonly rwc: number; readonly pTrip: number }[];
  /** Of the Monte Carlo draw that the interval and the characteristic come from. */
  readonly seed: string;
  readonly trials: number;
  /** What stood against it and was overridden, and what a person should read with it. */
  readonly overrides: readonly Flag[];
}
