import { cholesky, compensatedSum, matrixFromRows, matrixToRows, raise } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { type ParameterFit, type ResponseModel, solveNonlinear } from '#libs/regression';
import {
  BiasThresholdParameters, CONTACT_LIMITED_EXPONENT, Covariance, PARALLEL_PLATE_EXPONENT, UncertainBiasThresholdCurve, oneMinusPower, requireNotNegative,
} from './bias-threshold.js';
import { readTests, type Design, type TripTest } from './trip-tests.js';

/**
 * How the scatter of trip powers goes with the power: the same in nW everywhere, or in proportion to the threshold
 * (then the fit is of ln P). Where every test states its own uncertainty, that is what counts.
 */
export type TripScatter = 'constant' | 'proportional';

export interface CurveFitOptions {
  /** `'free'` within 2/3 to 2, or a number that is held: {@link PARALLEL_PLATE_EXPONENT} for the ideal plate. */
  readonly exponent: 'free' | number;
  /** Pull-in voltage known from bias sweeps, V; fitted when absent. */
  readonly pullInV?: number;
  /** Standard uncertainty of that pull-in voltage, V; required with it. */
  readonly pullInSdV?: number;
  /** `'constant'` when absent; not together with stated uncertainties. `compareScatter` shows which one the tests speak for. */
  readonly scatter?: TripScatter;
}

export interface BiasThresholdFit extends UncertainBiasThresholdCurve {
  /** 3 × 3, order (P0, V_pi, n); rows of what was held without uncertainty are zero. */
  readonly covariance: Covariance;
  /** Which parameters the trip tests decided. */
  readonly fitted: readonly ('powerAtZeroBiasNw' | 'pullInV' | 'exponent')[];
  /** A free exponent that came to rest at an end of 2/3…2 is held there: its row in the covariance is zero. */
  readonly exponentAtBound: 'lower' | 'upper' | null;
  /** Number of tests less number of fitted parameters. */
  readonly degreesOfFreedom: number;
  /** Which scatter the fit took the trip powers to have. */
  readonly scatter: TripScatter | 'stated';
  /** Σ w·(P − P̂)², w = 1/u² or 1; Σ (ln P − ln P̂)² where scatter is proportional. */
  readonly weightedResidualSum: number;
  /**
   * √(weightedResidualSum/degreesOfFreedom): nW where scatter is constant; without unit where it is proportional (SD of ln P)
   * or stated (1 is as stated); null with no degree of freedom.
   */
  readonly residualSd: number | null;
  /** Root mean square of the relative residuals (of those of ln P where scatter is proportional), corrected for the fitted parameters: the trip scatter of one test. */
  readonly relativeResidualSd: number | null;
  /** `stated`: the covariance rests on the uNw given. `residual`: on the scatter about the curve. */
  readonly covarianceFrom: 'stated' | 'residual';
  readonly residualsNw: readonly number[];
  /** The biases between which tests were made: a certificate outside them extrapolates. */
  readonly testedBiasV: { readonly min: number; readonly max: number };
  readonly distinctBiases: number;
  /** Solved to machine precision when a fit is returned: on powers by the profile over n, on logarithms by the general search. */
  readonly convergence: { readonly reason: 'linear' | 'stationary-profile' | 'stationary' | 'exponent-at-bound'; readonly iterations: number };
}

/** A curve that was found, and how. */
interface Found {
  readonly curve: BiasThresholdParameters;
  readonly atBound: 'lower' | 'upper' | null;
  readonly iterations: number;
}

/** The straight line P = A − B·Vⁿ at one exponent, with its weighted residual sum and the slope of that sum in n. */
interface Line { readonly a: number; readonly b: number; readonly sum: number; readonly slopeInExponent: number }

/**
 * With n held, P = P0 − (P0/V_piⁿ)·Vⁿ is a straight line in Vⁿ: no starting value, no iteration, no false minimum.
 * Biases are scaled by `scale` so that Vⁿ stays near 1 for any unit of voltage.
 */
function lineAt(d: Design, exponent: number, scale: number, pullInV: number | undefined): Line {
  const x = d.bias.map((v) => (v === 0 ? 0 : raise(v / scale, exponent)));
  let a: number;
  let b: number;
  if (pullInV === undefined) {
    const w = compensatedSum(d.weight);
    const meanX = compensatedSum(d.weight.map((wi, i) => wi * x[i]!)) / w;
    const meanP = compensatedSum(d.weight.map((wi, i) => wi * d.power[i]!)) / w;
    const sxx = compensatedSum(d.weight.map((wi, i) => wi * (x[i]! - meanX) ** 2));
    const sxp = compensatedSum(d.weight.map((wi, i) => wi * (x[i]! - meanX) * (d.power[i]! - meanP)));
    b = -sxp / sxx;
    a = meanP + b * meanX;
  } else {
    const z = x.map((xi) => 1 - xi * raise(scale / pullInV, exponent));
    a = compensatedSum(d.weight.map((wi, i) => wi * z[i]! * d.power[i]!)) / compensatedSum(d.weight.map((wi, i) => wi * z[i]! ** 2));
    b = a * raise(scale / pullInV, exponent);
  }
  const residual = d.power.map((p, i) => p - a + b * x[i]!);
  // A and B are stationary, so only the explicit dependence on n counts; with V_pi held, B = A·(scale/V_pi)ⁿ moves with n too.
  const slopeInExponent = 2 * compensatedSum(d.weight.map((wi, i) => {
    if (d.bias[i] === 0) return 0;
    return wi * residual[i]! * b * x[i]! * Math.log(d.bias[i]! / (pullInV ?? scale));
  }));
  return { a, b, sum: compensatedSum(d.weight.map((wi, i) => wi * residual[i]! ** 2)), slopeInExponent };
}

const GRID = 24;

/** Least profile over n in [2/3, 2]: a coarse grid finds the basin, bisection of the profile's slope its floor. */
function bestExponent(d: Design, scale: number, pullInV: number | undefined): { exponent: number; atBound: 'lower' | 'upper' | null; iterations: number } {
  const [low, high] = [PARALLEL_PLATE_EXPONENT, CONTACT_LIMITED_EXPONENT];
  const grid = Array.from({ length: GRID + 1 }, (_, i) => low + ((high - low) * i) / GRID);
  const sums = grid.map((n) => lineAt(d, n, scale, pullInV).sum);
  const least = sums.indexOf(Math.min(...sums));
  let left = grid[Math.max(least - 1, 0)]!;
  let right = grid[Math.min(least + 1, GRID)]!;
  const slope = (n: number): number => lineAt(d, n, scale, pullInV).slopeInExponent;
  if (least === 0 && slope(low) >= 0) return { exponent: low, atBound: 'lower', iterations: 0 };
  if (least === GRID && slope(high) <= 0) return { exponent: high, atBound: 'upper', iterations: 0 };
  let iterations = 0;
  while (right - left > Number.EPSILON * right && iterations < 80) {
    const middle = (left + right) / 2;
    if (slope(middle) > 0) right = middle;
    else left = middle;
    iterations += 1;
  }
  return { exponent: (left + right) / 2, atBound: null, iterations };
}

/**
 * Fits P_th = P0·(1 − (V/V_pi)ⁿ) to trip tests by (weighted) least squares in power, or in ln P where scatter is proportional.
 *
 * @param tripTests at least as many distinct biases as fitted parameters; repeats at a bias are welcome
 * @param options the exponent (free within 2/3…2, or held), the pull-in voltage when sweeps have measured it, and how scatter goes with power
 * @returns parameters (nW, V, –), covariance, degrees of freedom, residual spread, tested bias range, and whether a
 *   free exponent ended at a bound, in which case it is held there and says so
 * @throws InputError `TOO_FEW_BIASES`, `NO_DEGREES_OF_FREEDOM` (covariance would rest on nothing),
 *   `THRESHOLD_DOES_NOT_FALL`, `PULL_IN_NOT_ABOVE_TESTED_BIAS`, `UNCERTAINTY_FOR_SOME`, `EXPONENT_OUT_OF_RANGE`,
 *   `PULL_IN_SD_MISSING`, `SCATTER_STATED_TWICE`, `NOT_POSITIVE`, `NEGATIVE`, `NOT_FINITE`
 *
 * Method: at a held n the curve is a straight line in Vⁿ, so P0 and V_pi are eliminated exactly and only n is searched
 * (variable projection: Golub & Pereyra 1973, from memory); covariance from the Jacobian of all fitted parameters at
 * the solution. An uncertain V_pi that is held adds its own share through the way the others follow it.
 *
 * @example
 * const tests = [{ biasV: 0, tripPowerNw: 100 }, { biasV: 6, tripPowerNw: 64 }, { biasV: 8, tripPowerNw: 36 }];
 * fitBiasThresholdCurve(tests, { exponent: 2 }).pullInV // => 10
 */
export function fitBiasThresholdCurve(tripTests: readonly TripTest[], options: CurveFitOptions): BiasThresholdFit {
  const design = readTests(tripTests);
  const { pullInV } = options;
  requireOptions(options, design);
  const fitted = [
    'powerAtZeroBiasNw' as const,
    ...(pullInV === undefined ? ['pullInV' as const] : []),
    ...(options.exponent === 'free' ? ['exponent' as const] : []),
  ];
  requireEnoughTests(design, fitted.length);

  return describeFit(design, options.scatter === 'proportional' ? findOnLogs(design, options) : findOnPowers(design, options), fitted, options);
}

function findOnPowers(design: Design, { exponent: wanted, pullInV }: CurveFitOptions): Found {
  const scale = Math.max(...design.bias);
  const found = wanted === 'free'
    ? bestExponent(design, scale, pullInV)
    : { exponent: wanted, atBound: null, iterations: 0 };
  const line = lineAt(design, found.exponent, scale, pullInV);
  if (!(line.a > 0 && (line.b > 0 || pullInV !== undefined))) throw thresholdDoesNotFall(design);
  const curve = {
    powerAtZeroBiasNw: line.a,
    pullInV: pullInV ?? scale * raise(line.a / line.b, 1 / found.exponent),
    exponent: found.exponent,
  };
  if (curve.pullInV <= scale) {
    throw new InputError('PULL_IN_NOT_ABOVE_TESTED_BIAS', 'tripTests',
      `the fitted pull-in voltage ${curve.pullInV} V is not above the highest tested bias ${scale} V`,
      'The curve does not describe these tests: free the exponent, or check the tests at the highest biases.');
  }
  return { curve, atBound: found.atBound, iterations: found.iterations };
}

/** Exponents from which the search on logarithms starts; the best of the rests it comes to is taken. */
const STARTS = [PARALLEL_PLATE_EXPONENT, 1, 1.5, CONTACT_LIMITED_EXPONENT];
/** Start of (V_max/V_pi)ⁿ at most: the curve has no logarithm from 1 on. */
const STEEPEST_START = 0.99;

/**
 * Least squares of ln P = ln P0 + ln(1 − q·(V/V_max)ⁿ), q = (V_max/V_pi)ⁿ. In q the flat curve (0) and a rising one (below)
 * are ordinary points, so that tests that do not fall are told and not run after to a pull-in at infinity.
 */
function findOnLogs(design: Design, { exponent: wanted, pullInV }: CurveFitOptions): Found {
  const scale = Math.max(...design.bias);
  const logs = design.power.map(Math.log);
  const [lower, upper] = [PARALLEL_PLATE_EXPONENT, CONTACT_LIMITED_EXPONENT];
  const model = logModel(design.bias.map((v) => v / scale), wanted, pullInV === undefined ? undefined : scale / pullInV);
  const rests = (wanted === 'free' ? STARTS : [wanted]).map((n) => {
    const line = lineAt(design, n, scale, pullInV);
    const start = [
      Math.log(line.a > 0 ? line.a : Math.max(...design.power)),
      ...(pullInV === undefined ? [Math.min(line.b / line.a, STEEPEST_START)] : []),
      ...(wanted === 'free' ? [n] : []),
    ];
    const [none, any] = [start.map(() => -Infinity), start.map(() => Infinity)];
    const bounds = wanted === 'free' ? { lower: none.with(-1, lower), upper: any.with(-1, upper) } : {};
    return restFrom(() => solveNonlinear(model, logs, { start, ...bounds }));
  }).filter((rest) => rest !== null);
  if (rests.length === 0) throw parametersNotTold();
  const best = rests.reduce((least, rest) => (rest.residualSumOfSquares < least.residualSumOfSquares ? rest : least));
  const [logP0, ...rest] = best.parameters as [number, ...number[]];
  const exponent = wanted === 'free' ? rest.at(-1)! : wanted;
  if (pullInV === undefined && !(rest[0]! > 0)) throw thresholdDoesNotFall(design);
  return {
    curve: { powerAtZeroBiasNw: Math.exp(logP0), pullInV: pullInV ?? scale * raise(rest[0]!, -1 / exponent), exponent },
    atBound: wanted !== 'free' || (exponent > lower && exponent < upper) ? null : exponent === lower ? 'lower' : 'upper',
    iterations: best.convergence.iterations,
  };
}

/** Null where the search rests at a point that does not tell the parameters apart, or finds none. */
function restFrom(search: () => ParameterFit): ParameterFit | null {
  try {
    const fit = search();
    return fit.convergence.converged ? fit : null;
  } catch (error) {
    if (error instanceof InputError && error.code === 'SINGULAR_DESIGN') return null;
    throw error;
  }
}

/** Parameters (ln P0, q unless pull-in is held, n unless it is held) at biases x = V/V_max. */
function logModel(x: readonly number[], exponent: 'free' | number, reach: number | undefined): ResponseModel {
  return {
    parameterCount: 1 + Number(reach === undefined) + Number(exponent === 'free'),
    evaluate(parameters, i, gradient) {
      const n = exponent === 'free' ? parameters.at(-1)! : exponent;
      const q = reach === undefined ? parameters[1]! : raise(reach, n);
      const power = x[i] === 0 ? 0 : raise(x[i]!, n);
      const left = 1 - q * power;
      if (gradient !== null) {
        gradient[0] = 1;
        if (reach === undefined) gradient[1] = -power / left;
        if (exponent === 'free') gradient[gradient.length - 1] = power === 0 ? 0 : (-q * power * Math.log(x[i]! * (reach ?? 1))) / left;
      }
      return parameters[0]! + Math.log(left);
    },
  };
}

function requireOptions(options: CurveFitOptions, design: Design): void {
  const { exponent, pullInV, pullInSdV } = options;
  if (options.scatter !== undefined && design.stated) {
    throw new InputError('SCATTER_STATED_TWICE', 'scatter', `${options.scatter} scatter is asked for while the tests state their uncertainty`,
      'Leave the scatter out, or leave the uncertainties of the trip powers out.');
  }
  if (exponent !== 'free') {
    requireFinite('exponent', exponent);
    if (exponent < PARALLEL_PLATE_EXPONENT || exponent > CONTACT_LIMITED_EXPONENT) {
      throw new InputError('EXPONENT_OUT_OF_RANGE', 'exponent', `${exponent} is outside 2/3 to 2`,
        'Hold a value between the parallel plate (2/3) and the contact-limited case (2), or leave it free.');
    }
  }
  if (pullInV === undefined) return;
  requirePositive('pullInV', pullInV);
  if (pullInSdV === undefined) {
    throw new InputError('PULL_IN_SD_MISSING', 'pullInSdV', 'the pull-in voltage is given without its standard uncertainty',
      'Give the standard uncertainty from the sweeps, or leave both out and let the trip tests decide.');
  }
  requireNotNegative('pullInSdV', pullInSdV);
  if (pullInV <= Math.max(...design.bias)) {
    throw new InputError('PULL_IN_NOT_ABOVE_TESTED_BIAS', 'pullInV',
      `${pullInV} V is not above the highest tested bias ${Math.max(...design.bias)} V`,
      'Check that the sweeps and the trip tests belong to the same unit.');
  }
}

function requireEnoughTests(design: Design, parameters: number): void {
  const distinct = new Set(design.bias).size;
  if (distinct < parameters) {
    throw new InputError('TOO_FEW_BIASES', 'tripTests',
      `${distinct} different biases cannot decide ${parameters} parameters`,
      'Test at more biases, hold the exponent, or give the pull-in voltage from sweeps.');
  }
  if (design.bias.length === parameters && !design.stated) {
    throw new InputError('NO_DEGREES_OF_FREEDOM', 'tripTests',
      `${parameters} tests for ${parameters} parameters leave nothing to judge the scatter by`,
      'Repeat the tests or state the uncertainty of each trip power.');
  }
}

function thresholdDoesNotFall(design: Design): InputError {
  return new InputError('THRESHOLD_DOES_NOT_FALL', 'tripTests',
    `trip power does not fall with bias between ${Math.min(...design.bias)} V and ${Math.max(...design.bias)} V`,
    'Check that biases and powers belong together, and test over a wider range of bias.');
}

function describeFit(d: Design, { curve, atBound, iterations }: Found, fitted: BiasThresholdFit['fitted'], options: CurveFitOptions): BiasThresholdFit {
  const { powerAtZeroBiasNw: p0, pullInV, exponent } = curve;
  const predicted = d.bias.map((v) => p0 * oneMinusPower(v / pullInV, exponent));
  const residualsNw = d.power.map((p, i) => p - predicted[i]!);
  const moving = fitted.filter((name) => name !== 'exponent' || atBound === null);
  const degreesOfFreedom = d.bias.length - moving.length;
  const scatter = d.stated ? 'stated' : options.scatter ?? 'constant';
  const relative = residualsNw.map((r, i) => (scatter === 'proportional' ? Math.log(d.power[i]! / predicted[i]!) : r / predicted[i]!));
  const relativeSum = compensatedSum(relative.map((r) => r * r));
  const weightedResidualSum = scatter === 'proportional' ? relativeSum : compensatedSum(residualsNw.map((r, i) => d.weight[i]! * r * r));
  // ∂lnP/∂θ = (∂P/∂θ)/P: on logarithms the same columns count by 1/P².
  const weighed = scatter === 'proportional' ? { ...d, weight: predicted.map((p) => raise(p, -2)) } : d;
  return {
    ...curve,
    covariance: covarianceOf(weighed, curve, moving, d.stated ? 1 : weightedResidualSum / degreesOfFreedom, options.pullInSdV),
    fitted,
    exponentAtBound: atBound,
    degreesOfFreedom,
    scatter,
    weightedResidualSum,
    residualSd: degreesOfFreedom > 0 ? Math.sqrt(weightedResidualSum / degreesOfFreedom) : null,
    relativeResidualSd: degreesOfFreedom > 0 ? Math.sqrt(relativeSum / degreesOfFreedom) : null,
    covarianceFrom: d.stated ? 'stated' : 'residual',
    residualsNw,
    testedBiasV: { min: Math.min(...d.bias), max: Math.max(...d.bias) },
    distinctBiases: new Set(d.bias).size,
    convergence: { reason: reasonOf(scatter, options.exponent, atBound), iterations },
  };
}

function reasonOf(scatter: BiasThresholdFit['scatter'], exponent: CurveFitOptions['exponent'], atBound: Found['atBound']): BiasThresholdFit['convergence']['reason'] {
  if (atBound !== null) return 'exponent-at-bound';
  if (scatter === 'proportional') return 'stationary';
  return exponent === 'free' ? 'stationary-profile' : 'linear';
}

const ORDER = ['powerAtZeroBiasNw', 'pullInV', 'exponent'] as const;

/** σ²(JᵀWJ)⁻¹ of the moving parameters, spread into 3 × 3; a held, uncertain V_pi drags the moving ones along. */
function covarianceOf(
  d: Design, curve: { powerAtZeroBiasNw: number; pullInV: number; exponent: number },
  moving: readonly (typeof ORDER)[number][], variance: number, pullInSdV: number | undefined,
): Covariance {
  // Logarithmic columns (P0·∂/∂P0, V_pi·∂/∂V_pi) keep the normal matrix well scaled in any unit.
  const unit = [curve.powerAtZeroBiasNw, curve.pullInV, 1];
  const columns = [0, 1, 2].map((k) => d.bias.map((v) => {
    const ratio = v / curve.pullInV;
    const power = v === 0 ? 0 : raise(ratio, curve.exponent);
    if (k === 0) return curve.powerAtZeroBiasNw * (1 - power);
    if (k === 1) return curve.powerAtZeroBiasNw * curve.exponent * power;
    return v === 0 ? 0 : -curve.powerAtZeroBiasNw * power * Math.log(ratio);
  }));
  const index = moving.map((name) => ORDER.indexOf(name));
  const inner = (i: number, j: number): number => compensatedSum(d.weight.map((w, r) => w * columns[i]![r]! * columns[j]![r]!));
  const inverse = invertSymmetric(index.map((i) => index.map((j) => inner(i, j))));
  const full = [0, 1, 2].map(() => [0, 0, 0]);
  index.forEach((i, a) => index.forEach((j, b) => { full[i]![j] = variance * inverse[a]![b]!; }));
  if (pullInSdV !== undefined) {
    const relative = pullInSdV / curve.pullInV;
    const follow = [0, 1, 0];
    index.forEach((i, a) => { follow[i] = -compensatedSum(index.map((j, b) => inverse[a]![b]! * inner(j, 1))); });
    follow.forEach((fi, i) => follow.forEach((fj, j) => { full[i]![j]! += fi * fj * relative ** 2; }));
  }
  return full.map((row, i) => row.map((c, j) => c * unit[i]! * unit[j]!));
}

/** (JᵀWJ)⁻¹, saying in the words of the bench why it may not exist. */
function invertSymmetric(normal: readonly (readonly number[])[]): number[][] {
  // On the scale of correlations: then "nearly singular" means the same for nW and V.
  const scale = normal.map((row, i) => Math.sqrt(row[i]!));
  try {
    const inverse = cholesky(matrixFromRows(normal.map((row, i) => row.map((c, j) => c / scale[i]! / scale[j]!))), 'tripTests').inverse();
    return matrixToRows(inverse).map((row, i) => row.map((c, j) => c / scale[i]! / scale[j]!));
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    throw parametersNotTold();
  }
}

function parametersNotTold(): InputError {
  return new InputError('SINGULAR_DESIGN', 'tripTests', 'the tested biases cannot tell the parameters apart',
    'Test over a wider range of bias, hold the exponent, or give the pull-in voltage from sweeps.');
}
