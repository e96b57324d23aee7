import { InputError } from '#libs/quantity';
import { thresholdSensitivity } from './bias-threshold.js';
import { spreadOfNextDay } from './light-reference.js';
import type { CertificateRequest, SpreadShare } from './certificate-request.js';

export type FindingCode =
  | 'THRESHOLD_ABOVE_ZERO_BIAS_POWER' | 'BIAS_TOO_NEAR_PULL_IN' | 'BIAS_BELOW_HOLD'
  | 'TARGET_OUTSIDE_CALIBRATION' | 'BIAS_OUTSIDE_TESTED_RANGE'
  | 'EXPONENT_AT_BOUND' | 'LEAF_SPREAD_UNKNOWN' | 'TRIP_SCATTER_UNKNOWN' | 'INTERVAL_LEAVES_CALIBRATION'
  | 'INTERVAL_REACHES_FULL_TURGOR' | 'IRRADIANCE_DOMINATES' | 'STEEP_THRESHOLD' | 'SPREAD_TOO_WIDE_FOR_FIRST_ORDER';

/** Something a person must know before signing. */
export interface Finding {
  readonly code: FindingCode;
  /** A refusal stops the certificate; a warning is printed on it. */
  readonly severity: 'refusal' | 'warning';
  /** A refusal that a person may override with a reason; one that physics makes is not. */
  readonly overridable: boolean;
  /** A whole plain sentence, with the numbers. */
  readonly sentence: string;
}

interface PlacedFigures {
  readonly biasRoundedV: number;
  readonly tripRwc: number;
  readonly low: number;
  readonly high: number;
  readonly marginSigma: number;
  readonly insideTestedRange: boolean;
  readonly shares: readonly SpreadShare[];
  readonly slope: number;
}

export interface FindingsInput {
  readonly thresholdPowerNw: number;
  /** Null when no bias gives the threshold; a bias alone when the nearest step of the source is at pull-in. */
  readonly placed: PlacedFigures | { readonly biasRoundedV: number } | null;
}

const refusal = (code: FindingCode, overridable: boolean, sentence: string): Finding => ({ code, severity: 'refusal', overridable, sentence });
const warning = (code: FindingCode, sentence: string): Finding => ({ code, severity: 'warning', overridable: false, sentence });
const percent = (fraction: number): string => `${(100 * fraction).toFixed(1)} %`;
const power = (nw: number): string => `${nw.toPrecision(4)} nW`;
const volt = (v: number): string => `${Number(v.toPrecision(5))} V`;

/** All refusals and warnings of a certificate, refusals first: a person is told everything at once. */
export function findingsOf(request: CertificateRequest, input: FindingsInput): readonly Finding[] {
  const { placed } = input;
  const found = [...scopeRefusals(request)];
  if (placed === null) {
    found.push(refusal('THRESHOLD_ABOVE_ZERO_BIAS_POWER', false,
      `The threshold ${power(input.thresholdPowerNw)} is above the ${power(request.curve.powerAtZeroBiasNw)} at which this unit trips without bias, so no bias sets it.`));
  } else if (!('tripRwc' in placed)) {
    found.push(refusal('BIAS_TOO_NEAR_PULL_IN', false,
      `The nearest step of the bias source, ${volt(placed.biasRoundedV)}, is at or above pull-in (${volt(request.curve.pullInV)}): the unit would trip in the dark.`));
  } else {
    found.push(...biasRefusals(request, placed), ...spreadWarnings(request, placed));
  }
  return [...found.filter((f) => f.severity === 'refusal'), ...found.filter((f) => f.severity === 'warning'), ...inputWarnings(request)];
}

function scopeRefusals({ calibration, targetRwc }: CertificateRequest): Finding[] {
  const { min, max } = calibration.rwcRange;
  if (!(min < max)) {
    throw new InputError('RANGE_REVERSED', 'calibration.rwcRange', `${min} to ${max} is no range`, 'Give the least and greatest RWC of the calibration data.');
  }
  return targetRwc >= min && targetRwc <= max ? [] : [refusal('TARGET_OUTSIDE_CALIBRATION', true,
    `The target ${percent(targetRwc)} lies outside the calibrated range ${percent(min)} to ${percent(max)}, where the line is a guess.`)];
}

function biasRefusals({ curve, guard }: CertificateRequest, placed: PlacedFigures): Finding[] {
  const found: Finding[] = [];
  if (placed.marginSigma < guard.minMarginSigma) {
    found.push(refusal('BIAS_TOO_NEAR_PULL_IN', false,
      `The bias ${volt(placed.biasRoundedV)} is ${placed.marginSigma.toFixed(1)} standard deviations below pull-in (${volt(curve.pullInV)}); ${guard.minMarginSigma} are asked for, or the unit may trip in the dark.`));
  }
  if (guard.holdV !== undefined && placed.biasRoundedV < guard.holdV) {
    found.push(refusal('BIAS_BELOW_HOLD', false,
      `The bias ${volt(placed.biasRoundedV)} is below the ${volt(guard.holdV)} that hold the contact closed, so a trip would not latch.`));
  }
  if (!placed.insideTestedRange) {
    found.push(refusal('BIAS_OUTSIDE_TESTED_RANGE', true,
      `The bias ${volt(placed.biasRoundedV)} lies outside the tested ${volt(curve.testedBiasV.min)} to ${volt(curve.testedBiasV.max)}.`));
  }
  return found;
}

function spreadWarnings({ calibration, curve, lightReference }: CertificateRequest, placed: PlacedFigures): Finding[] {
  const found: Finding[] = [];
  const { min, max } = calibration.rwcRange;
  if (placed.high >= 1) {
    found.push(warning('INTERVAL_REACHES_FULL_TURGOR',
      `The trip interval ${percent(placed.low)} to ${percent(placed.high)} reaches full turgor: some units would trip on a leaf that lacks nothing.`));
  }
  if (placed.low < min || placed.high > max) {
    found.push(warning('INTERVAL_LEAVES_CALIBRATION',
      `The trip interval ${percent(placed.low)} to ${percent(placed.high)} leaves the calibrated ${percent(min)} to ${percent(max)}.`));
  }
  const irradiance = placed.shares.find((s) => s.cause === 'irradiance')!;
  if (irradiance.share > 0.5) {
    found.push(warning('IRRADIANCE_DOMINATES',
      `The light makes ${percent(irradiance.share)} of the spread: its relative SD of ${percent(spreadOfNextDay(lightReference).relativeSd)} alone moves the trip by ${percent(irradiance.sigmaRwc)} RWC.`));
  }
  const steepness = thresholdSensitivity(curve, placed.biasRoundedV).perLnPullIn;
  if (steepness > 20) {
    found.push(warning('STEEP_THRESHOLD',
      `At this bias 0.1 % of bias or pull-in moves the threshold by ${(steepness / 10).toFixed(1)} %.`));
  }
  const largest = Math.max(...placed.shares.map((s) => s.sigmaRwc * placed.slope));
  if (largest > 0.25) {
    found.push(warning('SPREAD_TOO_WIDE_FOR_FIRST_ORDER',
      `One cause alone spreads the light by ${percent(largest)}; take the Monte Carlo interval instead of this one.`));
  }
  return found;
}

function inputWarnings({ calibration, curve }: CertificateRequest): Finding[] {
  const found: Finding[] = [];
  if (curve.exponentAtBound !== null) {
    found.push(warning('EXPONENT_AT_BOUND',
      `The fitted exponent rests at its ${curve.exponentAtBound} bound (${curve.exponent.toFixed(3)}); the interval treats it as known.`));
  }
  if (calibration.betweenLeaf.kind === 'unknown') {
    found.push(warning('LEAF_SPREAD_UNKNOWN',
      'How much leaves differ was not measured; the interval counts it as nothing and is too narrow for a new leaf.'));
  }
  if (curve.tripScatter === null) {
    found.push(warning('TRIP_SCATTER_UNKNOWN', 'The repeatability of this unit was not measured; the interval counts it as nothing.'));
  }
  return found;
}
