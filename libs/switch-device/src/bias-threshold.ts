import { raise } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/** The exponent of an ideal parallel plate on a linear spring, lifted uniformly by light (derived in the README). */
export const PARALLEL_PLATE_EXPONENT = 2 / 3;
/** The exponent when the contacts meet before the electrostatic instability: force, not stability, sets the threshold. */
export const CONTACT_LIMITED_EXPONENT = 2;

/** The parameters of one unit's bias-threshold curve, P_th = P0·(1 − (V/V_pi)^n). */
export interface BiasThresholdParameters {
  /** P0: the optical power that trips the unit without bias, nW. */
  readonly powerAtZeroBiasNw: number;
  /** V_pi: the bias that trips it without light, V. */
  readonly pullInV: number;
  /** n, without unit: 2/3 for the ideal parallel plate, 2 where contact limits. */
  readonly exponent: number;
}

/** A symmetric matrix in the order of the parameters it belongs to. */
export type Covariance = readonly (readonly number[])[];

/** A curve with what is not known about it: covariance in the order (P0 in nW, V_pi in V, n). */
export interface UncertainBiasThresholdCurve extends BiasThresholdParameters {
  readonly covariance: Covariance;
}

/** How the threshold answers to each thing it rests on, as logarithmic derivatives (relative change per relative change). */
export interface ThresholdSensitivity {
  /** dlnP_th/dlnV = −n·vⁿ/(1 − vⁿ), always negative. */
  readonly perLnBias: number;
  /** dlnP_th/dlnV_pi = n·vⁿ/(1 − vⁿ). */
  readonly perLnPullIn: number;
  /** dlnP_th/dlnP0 = 1. */
  readonly perLnPowerAtZeroBias: number;
  /** dlnP_th/dn = −vⁿ·ln v/(1 − vⁿ), per unit of the exponent. */
  readonly perExponent: number;
}

export function requireCurve(curve: BiasThresholdParameters): BiasThresholdParameters {
  requirePositive('powerAtZeroBiasNw', curve.powerAtZeroBiasNw);
  requirePositive('pullInV', curve.pullInV);
  requirePositive('exponent', curve.exponent);
  return curve;
}

function requireBiasBelowPullIn(curve: BiasThresholdParameters, biasV: number): number {
  requireFinite('biasV', biasV);
  if (biasV < 0) {
    throw new InputError('NEGATIVE_BIAS', 'biasV', `bias ${biasV} V is negative`,
      'Give the magnitude of the bias; describe a negative polarity by its own curve.');
  }
  if (biasV >= curve.pullInV) {
    throw new InputError('BIAS_AT_OR_ABOVE_PULL_IN', 'biasV',
      `bias ${biasV} V is not below the pull-in voltage ${curve.pullInV} V, where the unit trips in the dark`,
      'Choose a bias below pull-in.');
  }
  return biasV;
}

/**
 * The optical power at which a unit trips at a given bias: P_th = P0·(1 − (V/V_pi)ⁿ).
 *
 * @param curve P0 in nW, V_pi in V, exponent n; all above zero
 * @param biasV magnitude of the bias, V; 0 ≤ V < V_pi
 * @returns the threshold power in nW, in (0, P0]
 * @throws InputError `BIAS_AT_OR_ABOVE_PULL_IN`, `NEGATIVE_BIAS`, `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Source: derived for a parallel plate whose gap light reduces in proportion to its power (README, "The relation");
 * the exponent is left free because cantilevers, tilt and fringe fields break the parallel plate's 2/3.
 *
 * @example
 * thresholdPower({ powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 }, 6) // => 640
 */
export function thresholdPower(curve: BiasThresholdParameters, biasV: number): number {
  requireCurve(curve);
  requireBiasBelowPullIn(curve, biasV);
  return curve.powerAtZeroBiasNw * oneMinusPower(biasV / curve.pullInV, curve.exponent);
}

/** 1 − vⁿ without cancellation as v → 1, where certificates live. */
export function oneMinusPower(v: number, exponent: number): number {
  return v === 0 ? 1 : -Math.expm1(exponent * Math.log(v));
}

/**
 * The bias at which a unit trips at a given power: V = V_pi·(1 − P/P0)^(1/n), the inverse of {@link thresholdPower}.
 *
 * @param curve P0 in nW, V_pi in V, exponent n
 * @param thresholdPowerNw wanted threshold, nW; 0 < P ≤ P0
 * @returns the bias in V, in [0, V_pi)
 * @throws InputError `THRESHOLD_ABOVE_ZERO_BIAS_POWER` when no bias is weak enough, `NOT_POSITIVE`
 *
 * @example
 * biasForThreshold({ powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 }, 640) // => 6
 */
export function biasForThreshold(curve: BiasThresholdParameters, thresholdPowerNw: number): number {
  requireCurve(curve);
  requirePositive('thresholdPowerNw', thresholdPowerNw);
  if (thresholdPowerNw > curve.powerAtZeroBiasNw) {
    throw new InputError('THRESHOLD_ABOVE_ZERO_BIAS_POWER', 'thresholdPowerNw',
      `${thresholdPowerNw} nW is above the ${curve.powerAtZeroBiasNw} nW at which the unit trips without bias`,
      'Choose a less sensitive unit, a drier target or less light on the sensor plane.');
  }
  const ratio = thresholdPowerNw / curve.powerAtZeroBiasNw;
  return ratio === 1 ? 0 : curve.pullInV * Math.exp(Math.log1p(-ratio) / curve.exponent);
}

/**
 * How strongly the threshold depends on bias, pull-in, P0 and n at one bias.
 *
 * @param curve P0 in nW, V_pi in V, exponent n
 * @param biasV 0 ≤ V < V_pi, V
 * @returns logarithmic derivatives, without unit; at zero bias all but `perLnPowerAtZeroBias` are 0
 * @throws InputError as {@link thresholdPower}
 *
 * @example
 * // Near pull-in a small drift is a large error: at v = 0.95 and n = 2/3, 0.1 % of bias moves the threshold 1.9 %.
 * thresholdSensitivity({ powerAtZeroBiasNw: 1, pullInV: 1, exponent: 2 / 3 }, 0.95).perLnBias.toFixed(1) // => '-19.2'
 */
export function thresholdSensitivity(curve: BiasThresholdParameters, biasV: number): ThresholdSensitivity {
  requireCurve(curve);
  requireBiasBelowPullIn(curve, biasV);
  if (biasV === 0) return { perLnBias: 0, perLnPullIn: 0, perLnPowerAtZeroBias: 1, perExponent: 0 };
  const v = biasV / curve.pullInV;
  const odds = raise(v, curve.exponent) / oneMinusPower(v, curve.exponent);
  return {
    perLnBias: -curve.exponent * odds,
    perLnPullIn: curve.exponent * odds,
    perLnPowerAtZeroBias: 1,
    perExponent: -odds * Math.log(v),
  };
}

/** Gradient of ln P_th with respect to (P0, V_pi, n), in the order of the covariance. */
function logGradient(curve: BiasThresholdParameters, biasV: number): readonly [number, number, number] {
  const s = thresholdSensitivity(curve, biasV);
  return [1 / curve.powerAtZeroBiasNw, s.perLnPullIn / curve.pullInV, s.perExponent];
}

/** gᵀ C g, refusing a matrix of the wrong shape, with a number that is none, or that would give a negative variance. */
export function quadraticForm(field: string, gradient: readonly number[], covariance: Covariance): number {
  if (covariance.length !== gradient.length || covariance.some((row) => row.length !== gradient.length)) {
    throw new InputError('COVARIANCE_SHAPE', field,
      `expected ${gradient.length} × ${gradient.length}, got ${covariance.length} rows of ${covariance.map((r) => r.length).join(', ')}`,
      'Give the covariance in the order of the parameters.');
  }
  let sum = 0;
  let scale = 0;
  for (const [i, row] of covariance.entries()) {
    for (const [j, c] of row.entries()) {
      const term = requireFinite(`${field}[${i}][${j}]`, c) * gradient[i]! * gradient[j]!;
      sum += term;
      scale += Math.abs(term);
    }
  }
  // Rounding can leave a hair below zero where correlations cancel; anything more is no covariance.
  if (sum < -1e-9 * scale) {
    throw new InputError('COVARIANCE_NOT_POSITIVE', field, `gives a negative variance (${sum})`,
      'Take the covariance from the fit unchanged.');
  }
  return Math.max(sum, 0);
}

/**
 * Standard uncertainty of ln P_th at one bias from the curve's covariance and an uncertain bias:
 * u²(ln P) = g C gᵀ + (dlnP/dlnV · u(V)/V)², g = ∂lnP/∂(P0, V_pi, n).
 *
 * @param curve parameters with covariance in the order (P0, V_pi, n)
 * @param biasV 0 ≤ V < V_pi, V
 * @param biasSdV standard uncertainty of the applied bias, V; 0 where the source is taken as exact
 * @returns `relative` = u(ln P_th), and `powerNw` = u(P_th) in nW; first order, so trust it while `relative` ≲ 0.2
 * @throws InputError `COVARIANCE_SHAPE`, `COVARIANCE_NOT_POSITIVE`, and those of {@link thresholdPower}
 *
 * Source: law of propagation of uncertainty, JCGM 100:2008, 5.2.2.
 *
 * @example
 * const curve = { powerAtZeroBiasNw: 100, pullInV: 10, exponent: 2, covariance: [[4, 0, 0], [0, 0, 0], [0, 0, 0]] };
 * thresholdUncertainty(curve, 0, 0) // => { relative: 0.02, powerNw: 2 }
 */
export function thresholdUncertainty(
  curve: UncertainBiasThresholdCurve, biasV: number, biasSdV: number,
): { readonly relative: number; readonly powerNw: number } {
  requireNotNegative('biasSdV', biasSdV);
  const powerNw = thresholdPower(curve, biasV);
  const fromCurve = quadraticForm('covariance', logGradient(curve, biasV), curve.covariance);
  const fromBias = biasV === 0 ? 0 : (thresholdSensitivity(curve, biasV).perLnBias * biasSdV) / biasV;
  const relative = Math.sqrt(fromCurve + fromBias ** 2);
  return { relative, powerNw: relative * powerNw };
}

/**
 * Standard uncertainty (V) of {@link biasForThreshold} from the curve's covariance, by the same first-order law.
 *
 * @throws InputError `BIAS_NOT_DIFFERENTIABLE` at zero bias, and those of {@link biasForThreshold}
 * @example
 * const curve = { powerAtZeroBiasNw: 100, pullInV: 10, exponent: 2, covariance: [[0, 0, 0], [0, 0.04, 0], [0, 0, 0]] };
 * biasUncertainty(curve, 64) // => 0.12
 */
export function biasUncertainty(curve: UncertainBiasThresholdCurve, thresholdPowerNw: number): number {
  const biasV = biasForThreshold(curve, thresholdPowerNw);
  if (biasV === 0) {
    throw new InputError('BIAS_NOT_DIFFERENTIABLE', 'thresholdPowerNw', 'the bias is zero, where its uncertainty has no first-order form',
      'Choose a threshold below the power at zero bias.');
  }
  const perVolt = Math.abs(thresholdSensitivity(curve, biasV).perLnBias) / biasV;
  return Math.sqrt(quadraticForm('covariance', logGradient(curve, biasV), curve.covariance)) / perVolt;
}

/** Throws `NEGATIVE` unless `value` is finite and not below zero; returns it otherwise. */
export function requireNotNegative(field: string, value: number): number {
  requireFinite(field, value);
  if (value < 0) throw new InputError('NEGATIVE', field, `expected zero or more, got ${value}`, 'Enter zero or a value above it.');
  return value;
}
