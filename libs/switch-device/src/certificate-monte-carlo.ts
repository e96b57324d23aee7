import { createStream, raise, RandomStream } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';
import { Covariance, oneMinusPower } from './bias-threshold.js';
import { certify, leafLogSd } from './certificate.js';
import { CertificateRequest } from './certificate-request.js';
import { spreadOfNextDay } from './light-reference.js';
import { relativeSlope } from './transmittance-law.js';

export interface TripRwcDistribution {
  /** Trip RWC of each trial, ascending. Infinity: it trips on any leaf; −Infinity: on none. */
  readonly tripRwc: Float64Array;
  readonly trials: number;
  readonly seed: string;
  /** Part of the trials in which the unit trips whatever the leaf (pull-in at or below the bias, or too much light). */
  readonly alwaysTrips: number;
  /** Part of the trials in which no leaf lets enough light through. */
  readonly neverTrips: number;
  readonly median: number;
  /** Between the (1 ∓ coverage)/2 quantiles; an end is infinite where that many trials are. */
  readonly interval: { readonly low: number; readonly high: number; readonly coverage: number };
}

/**
 * The trip RWC by propagating whole distributions: each trial draws a calibration line, a leaf, a sky, a unit and a trip,
 * and asks at which RWC that unit trips. No linearisation, so it also serves where `certify` warns.
 *
 * @param request as for {@link certify}; the bias applied is its rounded one
 * @param options seed (kept on the certificate) and number of trials, at least 100
 * @returns the sorted trip RWC, the coverage interval and the parts that always or never trip; the same bytes for the same seed
 * @throws InputError `CERTIFICATE_IMPOSSIBLE` when no bias exists, `TOO_FEW_TRIALS`, and those of {@link certify}
 *
 * Source: JCGM 101:2008 (propagation of distributions; probabilistically symmetric interval, 7.7). Normal for parameters,
 * log-normal for light and trip scatter, Student's t in their place where degrees of freedom are given.
 *
 * @example
 * const request = {
 *   calibration: {
 *     law: families['log-linear'], parameters: [-0.9, -1], covariance: [[4e-4, 0], [0, 0]],
 *     betweenLeaf: { kind: 'rwc', sd: 0.09 }, rwcRange: { min: 0.4, max: 1 },
 *   },
 *   lightReference: { powerNw: 1000, relativeSd: 0.1 },
 *   curve: {
 *     powerAtZeroBiasNw: 400, pullInV: 10, exponent: 2 / 3, covariance: [[0, 0, 0], [0, 0, 0], [0, 0, 0]],
 *     testedBiasV: { min: 0, max: 9 }, tripScatter: 0.05, exponentAtBound: null,
 *   },
 *   targetRwc: 0.7, coverage: 0.95,
 *   guard: { minMarginSigma: 5, biasSourceResolutionV: 0.01, biasSourceSdV: 0, pullInDriftSdV: 0 },
 * };
 * const { low, high } = certifyMonteCarlo(request, { seed: 42n, trials: 2000 }).interval;
 * [low.toFixed(1), high.toFixed(1)] // => ['0.4', '1.0']
 */
export function certifyMonteCarlo(
  request: CertificateRequest, options: { readonly seed: bigint | string; readonly trials: number },
): TripRwcDistribution {
  const { trials } = options;
  if (!Number.isInteger(trials) || trials < 100) {
    throw new InputError('TOO_FEW_TRIALS', 'trials', `expected a whole number of at least 100, got ${trials}`, 'Ask for 10000 trials or more.');
  }
  const certificate = certify(request);
  if (certificate.outcome === 'impossible') {
    throw new InputError('CERTIFICATE_IMPOSSIBLE', 'targetRwc', 'no bias gives this threshold, so there is nothing to simulate',
      'Read the findings of the certificate first.');
  }
  const draw = tripRwcSampler(request, certificate.biasRoundedV);
  const stream = createStream(options.seed, 0);
  const tripRwc = Float64Array.from({ length: trials }, () => draw(stream)).sort();
  const tail = (1 - request.coverage) / 2;
  return {
    tripRwc,
    trials,
    seed: String(options.seed),
    alwaysTrips: countWhere(tripRwc, (r) => r === Infinity) / trials,
    neverTrips: countWhere(tripRwc, (r) => r === -Infinity) / trials,
    median: quantile(tripRwc, 0.5),
    interval: { low: quantile(tripRwc, tail), high: quantile(tripRwc, 1 - tail), coverage: request.coverage },
  };
}

/**
 * Operating characteristic from simulated trips: the part of the trials whose trip RWC is at or above the leaf's.
 *
 * @param distribution of {@link certifyMonteCarlo} @param rwc of the leaf, fraction
 * @returns probability and its Monte Carlo standard error √(p(1 − p)/trials)
 *
 * @example
 * tripProbabilityFrom({ tripRwc: Float64Array.of(0.6, 0.7, 0.8, 0.9), trials: 4 }, 0.85) // => { probability: 0.25, standardError: Math.sqrt(0.1875 / 4) }
 */
export function tripProbabilityFrom(distribution: TripRwcDistribution, rwc: number): { readonly probability: number; readonly standardError: number } {
  requireFinite('rwc', rwc);
  const probability = countWhere(distribution.tripRwc, (r) => r >= rwc) / distribution.trials;
  return { probability, standardError: Math.sqrt((probability * (1 - probability)) / distribution.trials) };
}

/** Quantile of an ascending sample by linear interpolation between order statistics; infinite neighbours stay infinite. */
function quantile(ascending: Float64Array, p: number): number {
  const position = p * (ascending.length - 1);
  const below = Math.floor(position);
  const low = ascending[below]!;
  const high = ascending[Math.min(below + 1, ascending.length - 1)]!;
  return low === high || position === below ? low : low + (position - below) * (high - low);
}

function countWhere(values: Float64Array, holds: (value: number) => boolean): number {
  let count = 0;
  for (const value of values) if (holds(value)) count += 1;
  return count;
}

/** One trial: the trip RWC for one draw of everything uncertain. */
function tripRwcSampler(request: CertificateRequest, biasV: number): (stream: RandomStream) => number {
  const { calibration, lightReference, curve, guard } = request;
  const { law, betweenLeaf } = calibration;
  const ofFit = correlatedNormals('calibration.covariance', calibration.covariance);
  const ofLeaf = betweenLeaf.kind === 'parameters' ? correlatedNormals('calibration.betweenLeaf.covariance', betweenLeaf.covariance) : null;
  const leafLnSd = betweenLeaf.kind === 'parameters' ? 0 : leafLogSd(betweenLeaf, relativeSlope(law, calibration.parameters, request.targetRwc));
  const leafDf = betweenLeaf.kind === 'unknown' ? undefined : betweenLeaf.degreesOfFreedom;
  const ofUnit = correlatedNormals('curve.covariance', curve.covariance);
  const light = spreadOfNextDay(lightReference);
  return (stream) => {
    const normal = (): number => stream.normal();
    // Leaf spread and fit rest on the same leaves: what makes one too small makes the other too small.
    const leavesScale = studentScale(stream, Math.min(calibration.degreesOfFreedom ?? Infinity, leafDf ?? Infinity));
    const lightScale = studentScale(stream, light.degreesOfFreedom);
    const unitScale = studentScale(stream, curve.degreesOfFreedom ?? Infinity);
    const fit = ofFit(normal);
    const leaf = ofLeaf?.(normal);
    const parameters = calibration.parameters.map((p, i) => p + leavesScale * (fit[i]! + (leaf?.[i] ?? 0)));
    const unit = ofUnit(normal).map((u) => unitScale * u);
    const pullInV = curve.pullInV + unit[1]! + guard.pullInDriftSdV * normal();
    const appliedV = Math.max(biasV + guard.biasSourceSdV * normal(), 0);
    const brighter = leavesScale * leafLnSd * normal() + lightScale * light.relativeSd * normal() - unitScale * (curve.tripScatter ?? 0) * normal();
    if (appliedV >= pullInV) return Infinity;
    const power = (curve.powerAtZeroBiasNw + unit[0]!) * oneMinusPower(appliedV / pullInV, curve.exponent + unit[2]!);
    const needed = power / (lightReference.powerNw * Math.exp(brighter));
    const rwc = law.inverse(parameters, needed);
    if (rwc !== null) return rwc;
    // Transmittance never falls below what is needed, or never reaches it.
    return law.predict(parameters, request.targetRwc) >= needed ? Infinity : -Infinity;
  };
}

/** √(ν/χ²_ν): turns a normal draw into Student's t where a spread is known with ν degrees of freedom (JCGM 101:2008, 6.4.9). */
function studentScale(stream: RandomStream, degreesOfFreedom: number): number {
  return degreesOfFreedom === Infinity ? 1 : Math.sqrt(degreesOfFreedom / (2 * gammaDraw(stream, degreesOfFreedom / 2)));
}

/** Marsaglia & Tsang, ACM Trans. Math. Softw. 26 (2000) 363 (from memory): exact, about one normal and one uniform a draw. */
function gammaDraw(stream: RandomStream, shape: number): number {
  if (shape < 1) return gammaDraw(stream, shape + 1) * raise(stream.uniform(), 1 / shape);
  const d = shape - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const x = stream.normal();
    const v = raise(1 + c * x, 3);
    if (v > 0 && Math.log(stream.uniform()) < 0.5 * x * x + d * (1 - v + Math.log(v))) return d * v;
  }
}

/** Draws N(0, C) through a Cholesky factor that accepts a semidefinite C: rows without variance stay zero. */
function correlatedNormals(field: string, covariance: Covariance): (normal: () => number) => number[] {
  const size = covariance.length;
  const factor = covariance.map(() => new Array<number>(size).fill(0));
  for (let i = 0; i < size; i += 1) {
    for (let j = 0; j <= i; j += 1) {
      let rest = requireFinite(`${field}[${i}][${j}]`, covariance[i]![j]!);
      for (let k = 0; k < j; k += 1) rest -= factor[i]![k]! * factor[j]![k]!;
      if (i === j) {
        if (rest < -1e-9 * Math.abs(covariance[i]![i]!)) {
          throw new InputError('COVARIANCE_NOT_POSITIVE', field, 'is not a covariance matrix', 'Take it from the fit unchanged.');
        }
        factor[i]![i] = rest > 1e-12 * covariance[i]![i]! ? Math.sqrt(rest) : 0;
      } else {
        factor[i]![j] = factor[j]![j] === 0 ? 0 : rest / factor[j]![j]!;
      }
    }
  }
  return (normal) => {
    const z = factor.map(normal);
    return factor.map((row, i) => row.reduce((s, l, j) => (j <= i ? s + l * z[j]! : s), 0));
  };
}
