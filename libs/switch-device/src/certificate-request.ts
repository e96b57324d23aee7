import type { Covariance, UncertainBiasThresholdCurve } from './bias-threshold.js';
import type { TransmittanceLaw } from './transmittance-law.js';

/**
 * How one leaf differs from the calibration's mean line, in the form the fit gives it. Degrees of freedom say how well
 * a spread is known (about leaves − 1); left out, it is taken as known exactly. The same holds wherever they occur below.
 */
export type BetweenLeafSpread =
  /** Covariance of the leaves' own parameters about the mean line, in the family's parameter order (mixed model). */
  | { readonly kind: 'parameters'; readonly covariance: Covariance; readonly degreesOfFreedom?: number }
  /** SD of the leaves' ln T about the line, without unit. */
  | { readonly kind: 'log-transmittance'; readonly sd: number; readonly degreesOfFreedom?: number }
  /** SD of the leaves in RWC at a given transmittance, fraction: the same thing divided by b. */
  | { readonly kind: 'rwc'; readonly sd: number; readonly degreesOfFreedom?: number }
  /** Not measured: counted as zero, and said so on the certificate. */
  | { readonly kind: 'unknown' };

/** The part of a calibration version that a certificate rests on. */
export interface CertificateCalibration {
  readonly law: TransmittanceLaw;
  readonly parameters: readonly number[];
  /** Covariance of the fitted parameters (of the mean line). */
  readonly covariance: Covariance;
  /** Of that covariance. */
  readonly degreesOfFreedom?: number;
  readonly betweenLeaf: BetweenLeafSpread;
  /** RWC range of the calibration's data, fractions. */
  readonly rwcRange: { readonly min: number; readonly max: number };
}

/** In-band light at the sensor plane without a leaf, at the moment that decides (the brightest since arming). */
export interface CertificateLightReference {
  /** Central power, nW (median of a spread taken as log-normal). */
  readonly powerNw: number;
  /** Relative standard deviation, as the SD of ln E: 0.10 is ten per cent. */
  readonly relativeSd: number;
  /**
   * How many days power and spread were estimated from, 2 or more: the day of the trip then scatters about a centre that is
   * itself uncertain, by relativeSd·√(1 + 1/days). Left out, the centre is taken as known.
   */
  readonly days?: number;
  /** Of `relativeSd`; days − 1 where days are given and this is not. */
  readonly degreesOfFreedom?: number;
}

/** The unit's curve with the facts that limit its use. */
export interface CertificateCurve extends UncertainBiasThresholdCurve {
  readonly testedBiasV: { readonly min: number; readonly max: number };
  /** SD of ln P of one trip at a fixed bias (repeatability); null when it was never measured: then said so. */
  readonly tripScatter: number | null;
  /** Of covariance and trip scatter. */
  readonly degreesOfFreedom?: number;
  readonly exponentAtBound: 'lower' | 'upper' | null;
}

export interface BiasGuard {
  /** Least distance from pull-in, in standard deviations of (V_pi − V). */
  readonly minMarginSigma: number;
  /** Smallest step of the bias source, V. */
  readonly biasSourceResolutionV: number;
  /** Standard uncertainty of the bias it really gives, V. */
  readonly biasSourceSdV: number;
  /** Drift of pull-in to allow for between test and trip (temperature, charging, ageing), as an SD, V. */
  readonly pullInDriftSdV: number;
  /** Least bias at which the unit stays latched, V, where it was measured. */
  readonly holdV?: number;
}

export interface CertificateRequest {
  readonly calibration: CertificateCalibration;
  readonly lightReference: CertificateLightReference;
  readonly curve: CertificateCurve;
  /** Fraction. */
  readonly targetRwc: number;
  readonly guard: BiasGuard;
  /** Coverage probability of the trip-RWC interval, for instance 0.95. */
  readonly coverage: number;
  /** RWC at which the agronomist calls a trip false, fraction. */
  readonly falseTripRwc?: number;
  /** RWC at which the agronomist calls a silent unit missed, fraction. */
  readonly missedTripRwc?: number;
}

export type SpreadCause = 'leaf' | 'irradiance' | 'device' | 'fit';

/** One cause's part in the spread of the trip RWC. */
export interface SpreadShare {
  readonly cause: SpreadCause;
  /** SD of the trip RWC from this cause alone, fraction of RWC. */
  readonly sigmaRwc: number;
  /** Its part of the variance; the four add to 1. */
  readonly share: number;
}
