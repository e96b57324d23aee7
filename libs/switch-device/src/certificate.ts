import { raise, requireDegreesOfFreedom, studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import {
  biasForThreshold, quadraticForm, requireNotNegative, thresholdPower, thresholdSensitivity, thresholdUncertainty,
} from './bias-threshold.js';
import { Finding, findingsOf } from './certificate-findings.js';
import { BetweenLeafSpread, CertificateRequest, SpreadCause, SpreadShare } from './certificate-request.js';
import { spreadOfNextDay } from './light-reference.js';
import { RiskLimit, falseTripChance, guardBandTarget, missedTripChance } from './operating-characteristic.js';
import { logTransmittanceGradient, relativeSlope, transmittanceAt } from './transmittance-law.js';

/** What could be computed before a bias was found impossible. */
export interface ImpossibleCertificate {
  readonly outcome: 'impossible';
  readonly thresholdPowerNw: number;
  readonly targetTransmittance: number;
  readonly findings: readonly Finding[];
}

export interface ComputedCertificate {
  readonly outcome: 'computed';
  /** T(R_target) of the mean line. */
  readonly targetTransmittance: number;
  /** T(R_target)·E_ref: what reaches the unit behind the average leaf at the target, nW. */
  readonly thresholdPowerNw: number;
  /** The bias that makes it the threshold, V. */
  readonly biasV: number;
  /** That bias as the source can set it (nearest step), V: the one to apply. */
  readonly biasRoundedV: number;
  /** Threshold at the rounded bias, nW; the trip RWC rests on this one. */
  readonly thresholdAtRoundedBiasNw: number;
  /** (V_pi − V)/SD of that difference; Infinity when nothing about it is uncertain. */
  readonly marginSigma: number;
  /** b = −dlnT/dR at the target. */
  readonly relativeSlope: number;
  /** dlnP_th/dlnV at the rounded bias. */
  readonly thresholdPerLnBias: number;
  /** Centre of the trip RWC at the rounded bias, fraction. */
  readonly tripRwc: number;
  /** SD of the trip RWC of one unit under one leaf under one sky, first order, fraction. */
  readonly sigma: number;
  /** Of σ, by Welch and Satterthwaite from the causes' own; Infinity when all spreads are taken as known. */
  readonly effectiveDegreesOfFreedom: number;
  /** tripRwc ± t·σ, t with those degrees of freedom; may pass 0 or 1, which is said in the findings and never cut off. */
  readonly tripRwcInterval: { readonly low: number; readonly high: number; readonly coverage: number };
  readonly shares: readonly SpreadShare[];
  readonly insideTestedRange: boolean;
  readonly falseTripChance: number | null;
  readonly missedTripChance: number | null;
  readonly findings: readonly Finding[];
  /** No finding refuses it, overridable or not. */
  readonly issuable: boolean;
}

export type Certificate = ComputedCertificate | ImpossibleCertificate;

function requireRequest(request: CertificateRequest): void {
  const { calibration, lightReference, curve, guard } = request;
  requireFinite('targetRwc', request.targetRwc);
  if (request.targetRwc <= 0 || request.targetRwc > 1) {
    throw new InputError('TARGET_NOT_A_FRACTION', 'targetRwc', `${request.targetRwc} is not a fraction between 0 and 1`,
      'Enter the target as a fraction: 80 % is 0.8.');
  }
  if (!(request.coverage > 0 && request.coverage < 1)) {
    throw new InputError('COVERAGE_OUT_OF_RANGE', 'coverage', `${request.coverage} is not between 0 and 1`, 'Enter for instance 0.95.');
  }
  requirePositive('lightReference.powerNw', lightReference.powerNw);
  requireFinite('calibration.rwcRange.min', calibration.rwcRange.min);
  requireFinite('calibration.rwcRange.max', calibration.rwcRange.max);
  if ('sd' in calibration.betweenLeaf) requireNotNegative('calibration.betweenLeaf.sd', calibration.betweenLeaf.sd);
  if (curve.tripScatter !== null) requireNotNegative('curve.tripScatter', curve.tripScatter);
  requireNotNegative('guard.minMarginSigma', guard.minMarginSigma);
  requirePositive('guard.biasSourceResolutionV', guard.biasSourceResolutionV);
  requireNotNegative('guard.biasSourceSdV', guard.biasSourceSdV);
  requireNotNegative('guard.pullInDriftSdV', guard.pullInDriftSdV);
  if (guard.holdV !== undefined) requireNotNegative('guard.holdV', guard.holdV);
  if (request.falseTripRwc !== undefined) requireFinite('falseTripRwc', request.falseTripRwc);
  if (request.missedTripRwc !== undefined) requireFinite('missedTripRwc', request.missedTripRwc);
}

/** Nearest step of the source, written without binary dust (0.05·387 is 19.35, not 19.350000000000001). */
export function roundToStep(biasV: number, stepV: number): number {
  return Number((Math.round(biasV / stepV) * stepV).toPrecision(12));
}

/**
 * Turns a target RWC into the threshold power and bias of one unit, with the honest spread of where it will trip.
 *
 * Threshold P = T(R_target)·E_ref; bias from the unit's curve; trip when T(R)·E reaches the unit's threshold, so to
 * first order δR = (δlnT_leaf + δlnT_fit + δlnE − δlnP_unit)/b, four independent causes whose variances add.
 *
 * @param request calibration fit, light reference, the unit's curve, target, guard, coverage; RWC as fractions, powers in nW
 * @returns `computed` with every figure and its findings, or `impossible` when no bias gives the threshold. Refusals are
 *   findings, so that a person sees all of them at once; only unusable input throws.
 * @throws InputError for numbers that are none or out of their domain, and those of {@link transmittanceAt},
 *   {@link relativeSlope}, {@link spreadOfNextDay} and {@link thresholdUncertainty}
 *
 * Assumes: small relative spreads (check against `certifyMonteCarlo`), normal causes, one bright moment that decides. The
 * operating characteristic and the chances take σ as known; the interval widens by Student's t where it is not.
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
 * const certificate = certify(request);
 * [certificate.thresholdPowerNw.toFixed(1), certificate.biasRoundedV, certificate.sigma.toFixed(3)] // => ['201.9', 3.49, '0.145']
 */
export function certify(request: CertificateRequest): Certificate {
  requireRequest(request);
  const { calibration, lightReference, curve, guard, targetRwc } = request;
  const { law, parameters } = calibration;
  const targetTransmittance = transmittanceAt(law, parameters, targetRwc);
  const slope = relativeSlope(law, parameters, targetRwc);
  const thresholdPowerNw = targetTransmittance * lightReference.powerNw;
  if (thresholdPowerNw > curve.powerAtZeroBiasNw) {
    return { outcome: 'impossible', thresholdPowerNw, targetTransmittance, findings: findingsOf(request, { thresholdPowerNw, placed: null }) };
  }
  const biasV = biasForThreshold(curve, thresholdPowerNw);
  const biasRoundedV = roundToStep(biasV, guard.biasSourceResolutionV);
  if (biasRoundedV >= curve.pullInV) {
    return { outcome: 'impossible', thresholdPowerNw, targetTransmittance, findings: findingsOf(request, { thresholdPowerNw, placed: { biasRoundedV } }) };
  }
  const thresholdAtRoundedBiasNw = thresholdPower(curve, biasRoundedV);
  const tripRwc = law.inverse(parameters, thresholdAtRoundedBiasNw / lightReference.powerNw);
  if (tripRwc === null) {
    throw new InputError('NO_TRIP_RWC', 'guard.biasSourceResolutionV', 'the rounded bias gives a threshold the calibration reaches at no RWC',
      'Use a finer bias source or a less sensitive unit.');
  }
  const causes = spreadByCause(request, biasRoundedV, slope);
  const variance = causes.reduce((s, c) => s + c.sigmaRwc ** 2, 0);
  const sigma = Math.sqrt(variance);
  const effectiveDegreesOfFreedom = welchSatterthwaite(causes, variance);
  const half = studentTQuantile((1 + request.coverage) / 2, effectiveDegreesOfFreedom) * sigma;
  const marginSd = Math.hypot(Math.sqrt(quadraticForm('curve.covariance', [0, 1, 0], curve.covariance)), guard.biasSourceSdV, guard.pullInDriftSdV);
  const marginSigma = marginSd === 0 ? Infinity : (curve.pullInV - biasRoundedV) / marginSd;
  const insideTestedRange = biasRoundedV >= curve.testedBiasV.min && biasRoundedV <= curve.testedBiasV.max;
  const spread = { tripRwc, sigma };
  const shares = causes.map(({ cause, sigmaRwc }) => ({ cause, sigmaRwc, share: variance === 0 ? 0 : sigmaRwc ** 2 / variance }));
  const figures = { biasRoundedV, tripRwc, low: tripRwc - half, high: tripRwc + half, marginSigma, insideTestedRange, shares, slope };
  const findings = findingsOf(request, { thresholdPowerNw, placed: figures });
  return {
    outcome: 'computed',
    targetTransmittance, thresholdPowerNw, biasV, biasRoundedV, thresholdAtRoundedBiasNw, marginSigma,
    relativeSlope: slope,
    thresholdPerLnBias: thresholdSensitivity(curve, biasRoundedV).perLnBias,
    tripRwc, sigma, effectiveDegreesOfFreedom,
    tripRwcInterval: { low: tripRwc - half, high: tripRwc + half, coverage: request.coverage },
    shares,
    insideTestedRange,
    falseTripChance: chance(request.falseTripRwc, sigma, (rwc) => falseTripChance(spread, rwc)),
    missedTripChance: chance(request.missedTripRwc, sigma, (rwc) => missedTripChance(spread, rwc)),
    findings,
    issuable: findings.every((f) => f.severity === 'warning'),
  };
}

function chance(rwc: number | undefined, sigma: number, of: (rwc: number) => number): number | null {
  return rwc === undefined || sigma === 0 ? null : of(rwc);
}

interface Cause { readonly cause: SpreadCause; readonly sigmaRwc: number; readonly degreesOfFreedom: number }

function spreadByCause(request: CertificateRequest, biasV: number, slope: number): Cause[] {
  const { calibration, lightReference, curve, guard, targetRwc } = request;
  const gradient = logTransmittanceGradient(calibration.law, calibration.parameters, targetRwc);
  const { betweenLeaf } = calibration;
  const leafLn = betweenLeaf.kind === 'parameters'
    ? Math.sqrt(quadraticForm('calibration.betweenLeaf.covariance', gradient, betweenLeaf.covariance))
    : leafLogSd(betweenLeaf, slope);
  const fitLn = Math.sqrt(quadraticForm('calibration.covariance', gradient, calibration.covariance));
  const ofBias = thresholdUncertainty(curve, biasV, guard.biasSourceSdV).relative;
  const ofDrift = (thresholdSensitivity(curve, biasV).perLnPullIn * guard.pullInDriftSdV) / curve.pullInV;
  const deviceLn = Math.hypot(ofBias, ofDrift, curve.tripScatter ?? 0);
  const known = (field: string, degreesOfFreedom: number | undefined): number => requireDegreesOfFreedom(field, degreesOfFreedom ?? Infinity);
  const leafDf = betweenLeaf.kind === 'unknown' ? undefined : betweenLeaf.degreesOfFreedom;
  const light = spreadOfNextDay(lightReference);
  return [
    { cause: 'leaf', sigmaRwc: leafLn / slope, degreesOfFreedom: known('calibration.betweenLeaf.degreesOfFreedom', leafDf) },
    { cause: 'irradiance', sigmaRwc: light.relativeSd / slope, degreesOfFreedom: light.degreesOfFreedom },
    { cause: 'device', sigmaRwc: deviceLn / slope, degreesOfFreedom: known('curve.degreesOfFreedom', curve.degreesOfFreedom) },
    { cause: 'fit', sigmaRwc: fitLn / slope, degreesOfFreedom: known('calibration.degreesOfFreedom', calibration.degreesOfFreedom) },
  ];
}

/** SD of one leaf's ln T where its spread is one number; b translates it from RWC. */
export function leafLogSd(betweenLeaf: Exclude<BetweenLeafSpread, { kind: 'parameters' }>, slope: number): number {
  switch (betweenLeaf.kind) {
    case 'log-transmittance': return betweenLeaf.sd;
    case 'rwc': return betweenLeaf.sd * slope;
    case 'unknown': return 0;
  }
}

/**
 * ν_eff = σ⁴/Σ(σᵢ⁴/νᵢ). Source: JCGM 100:2008, G.4.1. The formula wants independent estimates; leaf and fit rest on the
 * same leaves and err together, so they count as one, with the fewer degrees of freedom.
 */
function welchSatterthwaite(causes: readonly Cause[], variance: number): number {
  const fromLeaves = causes.filter((c) => c.cause === 'leaf' || c.cause === 'fit');
  const known = Math.min(...fromLeaves.map((c) => c.degreesOfFreedom));
  const leaves = fromLeaves.reduce((s, c) => s + c.sigmaRwc ** 2, 0) ** 2 / known;
  const others = causes.filter((c) => !fromLeaves.includes(c)).reduce((s, c) => s + raise(c.sigmaRwc, 4) / c.degreesOfFreedom, 0);
  return leaves + others === 0 ? Infinity : variance ** 2 / (leaves + others);
}

/** Points of the calibrated range at which a target is tried before the crossing is refined. */
const TARGET_GRID = 100;

/**
 * The target RWC that keeps a risk at its limit on this unit: solves R_target = guardBandTarget(σ(R_target)), the spread
 * taken anew at each target because slope, bias and with them σ change with it.
 *
 * @param request a certificate request; its own target is not used
 * @param limit the event, its RWC and the accepted risk
 * @returns the target RWC, nearest to the limit's RWC if several serve, and the certificate there
 * @throws InputError `NO_TARGET_FOR_RISK` when no target inside the calibrated range keeps the risk on this unit
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
 * targetForRisk(request, { kind: 'false-trip', rwc: 0.85, risk: 0.05 }).targetRwc.toFixed(3) // => '0.612'
 */
export function targetForRisk(request: CertificateRequest, limit: RiskLimit): { readonly targetRwc: number; readonly certificate: ComputedCertificate } {
  const { min, max } = request.calibration.rwcRange;
  // The steps of the bias source would make σ jump under the search: it runs without them, the certificate with them.
  const smooth = { ...request, guard: { ...request.guard, biasSourceResolutionV: request.curve.pullInV * 1e-9 } };
  const excess = (targetRwc: number): number => {
    const certificate = certify({ ...smooth, targetRwc });
    if (certificate.outcome === 'impossible') return NaN;
    return targetRwc - (certificate.sigma === 0 ? limit.rwc : guardBandTarget(certificate.sigma, limit));
  };
  const grid = Array.from({ length: TARGET_GRID + 1 }, (_, i) => min + ((max - min) * i) / TARGET_GRID);
  const values = grid.map(excess);
  const crossings = grid.slice(1).flatMap((high, i) => (values[i]! * values[i + 1]! <= 0 ? [{ low: grid[i]!, high }] : []));
  if (crossings.length === 0) {
    throw new InputError('NO_TARGET_FOR_RISK', 'risk',
      `no target inside the calibrated range keeps the ${limit.kind === 'false-trip' ? 'false' : 'missed'} trips at RWC ${limit.rwc} to ${limit.risk} with this unit and light`,
      'Accept a higher risk, measure the light reference better, or calibrate with more leaves.');
  }
  crossings.sort((p, q) => Math.abs(p.low - limit.rwc) - Math.abs(q.low - limit.rwc));
  let { low, high } = crossings[0]!;
  const atLow = excess(low);
  for (let step = 0; step < 60 && high - low > 1e-15; step += 1) {
    const middle = (low + high) / 2;
    if (excess(middle) * atLow > 0) low = middle;
    else high = middle;
  }
  const targetRwc = (low + high) / 2;
  const certificate = certify({ ...request, targetRwc });
  if (certificate.outcome === 'impossible') {
    throw new InputError('NO_TARGET_FOR_RISK', 'guard.biasSourceResolutionV', 'the bias source has no step that sets this target', 'Use a finer bias source.');
  }
  return { targetRwc, certificate };
}
