import { createHash } from 'node:crypto';
import { formatPercentPlain } from '#libs/quantity';
import { families } from '#libs/regression';
import { certify, certifyMonteCarlo, tripProbabilityFrom, type CertificateRequest, type ComputedCertificate, type TripRwcDistribution } from '#libs/switch-device';
import type { Flag } from '../../generated/schema.js';
import type { CalibrationVersion } from '../calibration/calibration.entity.js';
import { familyName, fitOf, leafCovariance, newLeafLogSd } from '../calibration/compute.js';
import type { BiasThresholdCurve } from '../device/device.entity.js';
import type { CertificateDocument } from './certificate-document.js';
import type { LightReference } from './certificate.entity.js';

/** What a bias source whose repeatability is not on record leaves open beside its step, and how far pull-in drifts between test and trip. Common practice, no source. */
const BIAS_SD_RELATIVE = 0.001;
const PULL_IN_DRIFT_RELATIVE = 0.005;
/** Least distance from pull-in, in standard deviations. Common practice, no source. */
const LEAST_MARGIN_SIGMA = 5;
/** Fewer days tell the spread of the light poorly. Common practice, no source. */
const FEW_DAYS = 5;
const COVERAGE = 0.95;
const TRIALS = 20_000;
const CHARACTERISTIC_STEPS = 40;

export interface CertificateBasis {
  readonly calibration: CalibrationVersion;
  readonly curve: BiasThresholdCurve;
  readonly light: LightReference;
  readonly targetRwc: number;
  readonly biasStepV: number;
  /** Standard uncertainty of the bias that the source gives, where it is known. */
  readonly biasSdV: number | null;
  readonly falseTripRwc: number | null;
  readonly missedTripRwc: number | null;
}

export type CertificateOutcome =
  | { readonly possible: true; readonly document: Omit<CertificateDocument, 'overrides'>; readonly objections: Flag[] }
  | { readonly possible: false; readonly objections: Flag[] };

type Told = Pick<CertificateRequest['calibration'], 'covariance' | 'betweenLeaf'>;

/**
 * How far the mean line is known, and how leaves differ from it. A curve from before curves had leaf effects takes all readings alike, so that
 * its own covariance says little; what is known of curve and leaves together is told at the target, as in the band for a new leaf that its version shows.
 */
function spreadOf({ family, document }: CalibrationVersion, targetRwc: number): Told {
  const result = fitOf(family, document);
  const { leafCount, covariance } = document;
  const degreesOfFreedom = leafCount - 1;
  if (result.kind !== 'curve') return { covariance, betweenLeaf: { kind: 'parameters', covariance: leafCovariance(result.line), degreesOfFreedom } };
  const sd = newLeafLogSd(result, targetRwc);
  if (sd === null) return { covariance, betweenLeaf: { kind: 'unknown' } };
  return { covariance: covariance.map((row) => row.map(() => 0)), betweenLeaf: { kind: 'log-transmittance', sd, degreesOfFreedom } };
}

/** A certificate request of the library, from the records it rests on. */
export function requestOf({ calibration, curve, light, targetRwc, biasStepV, biasSdV }: CertificateBasis): CertificateRequest {
  const { document } = calibration;
  const { document: unit } = curve;
  return {
    calibration: {
      law: families[familyName[calibration.family]],
      parameters: document.parameters.map(({ value }) => value),
      degreesOfFreedom: document.degreesOfFreedom,
      ...spreadOf(calibration, targetRwc),
      rwcRange: { min: document.rwcMin, max: document.rwcMax },
    },
    // One day tells no spread: its stated one is then taken as known.
    lightReference: { powerNw: Number(light.powerNw), relativeSd: Number(light.relativeSd), ...(light.days && light.days >= 2 ? { days: light.days } : {}) },
    curve: {
      powerAtZeroBiasNw: unit.p0Nw,
      pullInV: unit.pullInV,
      exponent: unit.exponent,
      covariance: unit.covariance,
      testedBiasV: { min: unit.biasMinV, max: unit.biasMaxV },
      tripScatter: unit.tripScatter,
      degreesOfFreedom: unit.degreesOfFreedom,
      exponentAtBound: unit.exponentAtBound,
    },
    targetRwc,
    guard: {
      minMarginSigma: LEAST_MARGIN_SIGMA,
      biasSourceResolutionV: biasStepV,
      biasSourceSdV: biasSdV ?? BIAS_SD_RELATIVE * unit.pullInV,
      pullInDriftSdV: PULL_IN_DRIFT_RELATIVE * unit.pullInV,
      ...(unit.holdV ? { holdV: unit.holdV } : {}),
    },
    coverage: COVERAGE,
  };
}

/**
 * Threshold power, bias and the spread of the trip RWC for one unit.
 *
 * The interval and the operating characteristic come from whole distributions (Monte Carlo, seeded by what the
 * certificate rests on, so that anyone computes the same); the shares of the causes from the first-order budget.
 *
 * @throws InputError where the input is unusable; what stands against a usable one is told as objections
 */
export function computeCertificate(basis: CertificateBasis): CertificateOutcome {
  const request = requestOf(basis);
  const computed = certify(request);
  const objections = computed.findings.map(({ code, severity, sentence }): Flag => ({ code, severity: severity === 'refusal' ? 'ASK' : 'WARN', message: sentence }));
  if (computed.outcome === 'impossible' || computed.findings.some(({ severity, overridable }) => severity === 'refusal' && !overridable)) {
    return { possible: false, objections };
  }
  const seed = seedOf(basis);
  const distribution = certifyMonteCarlo(request, { seed, trials: TRIALS });
  const document = documentOf(basis, request, computed, distribution);
  const remarks = objections.filter(({ code }) => !OF_THE_INTERVAL.includes(code));
  return { possible: true, objections: [...remarks, ...intervalFlags(document, basis), ...tailsOf(distribution), ...lightFlags(basis)], document };
}

/** The library words these for the first-order interval; the certificate shows the Monte Carlo one, and one sheet must tell one interval. */
const OF_THE_INTERVAL = ['INTERVAL_REACHES_FULL_TURGOR', 'INTERVAL_LEAVES_CALIBRATION'];

function intervalFlags({ tripRwcLow, tripRwcHigh }: Omit<CertificateDocument, 'overrides'>, { calibration }: CertificateBasis): Flag[] {
  const { rwcMin, rwcMax } = calibration.document;
  const interval = `The trip interval ${formatPercentPlain(tripRwcLow, 1)} to ${formatPercentPlain(tripRwcHigh, 1)}`;
  const flags: Flag[] = [];
  if (tripRwcHigh >= 1) {
    flags.push({ code: 'INTERVAL_REACHES_FULL_TURGOR', severity: 'WARN', message: `${interval} reaches full turgor: some units would trip on a leaf that lacks nothing.` });
  }
  if (tripRwcLow < rwcMin || tripRwcHigh > rwcMax) {
    flags.push({ code: 'INTERVAL_LEAVES_CALIBRATION', severity: 'WARN', message: `${interval} leaves the calibrated ${formatPercentPlain(rwcMin, 1)} to ${formatPercentPlain(rwcMax, 1)}.` });
  }
  return flags;
}

/** Units that trip on any leaf, or on none, have no RWC at trip: the interval cannot show them, so words must. */
function tailsOf({ alwaysTrips, neverTrips }: TripRwcDistribution): Flag[] {
  const flags: Flag[] = [];
  if (alwaysTrips > 0.001) {
    flags.push({ code: 'TRIPS_ON_ANY_LEAF', severity: 'WARN', message: `In ${formatPercentPlain(alwaysTrips, 1)} of the drawn cases the unit trips whatever the leaf: too much light, or pull-in below the bias.` });
  }
  if (neverTrips > 0.001) {
    flags.push({ code: 'TRIPS_ON_NO_LEAF', severity: 'WARN', message: `In ${formatPercentPlain(neverTrips, 1)} of the drawn cases no leaf lets enough light through to trip the unit.` });
  }
  return flags;
}

/** What a person should know of the light before trusting the interval. */
function lightFlags({ light }: CertificateBasis): Flag[] {
  const flags: Flag[] = [];
  if (light.basis === 'ASSUMED') flags.push({ code: 'LIGHT_ASSUMED', severity: 'WARN', message: `The light was not measured but assumed: ${light.note ?? 'no reason given'}` });
  if (light.days !== null && light.days < FEW_DAYS) {
    flags.push({ code: 'LIGHT_FEW_DAYS', severity: 'WARN', message: `The light is known from ${light.days} ${light.days === 1 ? 'day' : 'days'} only${light.days > 1 ? '; the interval is widened for that' : ''}.` });
  }
  return flags;
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

function documentOf(basis: CertificateBasis, { guard, curve }: CertificateRequest, computed: ComputedCertificate, distribution: TripRwcDistribution): Omit<CertificateDocument, 'overrides'> {
  const { tripRwc, sigma } = computed;
  // More than 2.5 % of trials that trip on any leaf, or on none, make an end infinite: the first-order end stands in, a flag tells.
  const { low, high } = computed.tripRwcInterval;
  const tripRwcLow = Number.isFinite(distribution.interval.low) ? distribution.interval.low : low;
  const tripRwcHigh = Number.isFinite(distribution.interval.high) ? distribution.interval.high : high;
  const from = Math.max(0, tripRwc - 4 * sigma);
  const to = Math.min(1.1, tripRwc + 4 * sigma);
  return {
    transmittanceAtTarget: computed.targetTransmittance,
    thresholdPowerNw: computed.thresholdPowerNw,
    biasV: computed.biasRoundedV,
    biasStepV: basis.biasStepV,
    biasSdV: guard.biasSourceSdV,
    exactBiasV: computed.biasV,
    thresholdAtBiasNw: computed.thresholdAtRoundedBiasNw,
    tripRwc: computed.tripRwc,
    pullInV: curve.pullInV,
    marginSigma: finite(computed.marginSigma),
    leastMarginSigma: guard.minMarginSigma,
    testedMinV: curve.testedBiasV.min,
    testedMaxV: curve.testedBiasV.max,
    holdV: guard.holdV ?? null,
    relativeSlope: computed.relativeSlope,
    thresholdPerLnBias: computed.thresholdPerLnBias,
    effectiveDegreesOfFreedom: finite(computed.effectiveDegreesOfFreedom),
    falseTripChance: basis.falseTripRwc === null ? null : tripProbabilityFrom(distribution, basis.falseTripRwc).probability,
    missedTripChance: basis.missedTripRwc === null ? null : 1 - tripProbabilityFrom(distribution, basis.missedTripRwc).probability,
    tripRwcLow,
    tripRwcHigh,
    tripRwcSd: sigma,
    shares: computed.shares.map(({ cause, share, sigmaRwc }) => ({ cause, share, sdRwc: sigmaRwc })),
    operatingCharacteristic: Array.from({ length: CHARACTERISTIC_STEPS + 1 }, (_, i) => {
      const rwc = from + ((to - from) * i) / CHARACTERISTIC_STEPS;
      return { rwc, pTrip: tripProbabilityFrom(distribution, rwc).probability };
    }),
    seed: distribution.seed,
    trials: distribution.trials,
  };
}

/** Two of the same give the same outcome. */
export const sameBasis = (one: CertificateBasis, other: CertificateBasis): boolean => toldOf(one) === toldOf(other);

const toldOf = (basis: CertificateBasis): string => [seedOf(basis), basis.biasSdV, basis.falseTripRwc, basis.missedTripRwc].join(' ');

/** The same basis always draws the same numbers. */
function seedOf({ calibration, curve, light, targetRwc, biasStepV }: CertificateBasis): string {
  // What comes into a thread is a copy, whose bytes are no Buffer any more.
  const hashes = [calibration, curve, light].map(({ contentHash }) => Buffer.from(contentHash).toString('hex'));
  const basis = [...hashes, targetRwc, biasStepV].join(' ');
  return createHash('sha256').update(basis).digest('hex').slice(0, 16);
}
