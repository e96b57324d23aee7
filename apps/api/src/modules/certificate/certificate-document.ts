import type { Flag } from '../../generated/schema.js';

/** What a threshold certificate computed, frozen. Powers in nW, biases in V, RWC and transmittance as fractions. */
export interface CertificateDocument {
  readonly transmittanceAtTarget: number;
  readonly thresholdPowerNw: number;
  readonly biasV: number;
  readonly biasStepV: number;
  readonly tripRwcLow: number;
  readonly tripRwcHigh: number;
  readonly tripRwcSd: number;
  readonly shares: readonly { readonly cause: string; readonly share: number }[];
  readonly operatingCharacteristic: readonly { readonly rwc: number; readonly pTrip: number }[];
  /** Of the Monte Carlo draw that the interval and the characteristic come from. */
  readonly seed: string;
  readonly trials: number;
  /** What stood against it and was overridden, and what a person should read with it. */
  readonly overrides: readonly Flag[];
}
