import { chiSquareSurvival, increasingRoot, raise, studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/** What one crop, laboratory or rig found: an estimate with its standard error. */
export interface GroupEstimate {
  readonly label: string;
  readonly estimate: number;
  readonly standardError: number;
}

/** How the variance between groups is estimated: DerSimonian-Laird, restricted maximum likelihood, or Paule-Mandel. */
export type TauMethod = 'DL' | 'REML' | 'PM';

/** Options of {@link summariseGroups}. */
export interface SummaryOptions {
  readonly tauMethod: TauMethod;
  /** Default 0.95. */
  readonly level?: number;
}

/** A random-effects summary over groups. */
export interface GroupsSummary {
  readonly groupCount: number;
  readonly mean: number;
  /** Modified Knapp-Hartung: √(max(1, q)/Σw). */
  readonly standardError: number;
  /** 1/√Σw, before the adjustment. */
  readonly plainStandardError: number;
  /** Knapp and Hartung's q; below 1 it is raised to 1, so that agreement by luck does not narrow the interval. */
  readonly knappHartungFactor: number;
  readonly degreesOfFreedom: number;
  /** Of the mean over all such groups. */
  readonly interval: { readonly lower: number; readonly upper: number };
  /** Of the true value of one new group; null for fewer than three groups, where it has no degrees of freedom. */
  readonly predictionInterval: { readonly lower: number; readonly upper: number } | null;
  readonly tauMethod: TauMethod;
  /** Variance between groups, and its root, in the units of the estimates. */
  readonly tauSquared: number;
  readonly tau: number;
  /** Share of the variance of an estimate that lies between groups, 0 to 1. */
  readonly iSquared: number;
  /** Cochran's Q and its p-value for no difference between groups. */
  readonly q: number;
  readonly qPValue: number;
  readonly weights: readonly { readonly label: string; readonly share: number }[];
  readonly sentence: string;
}

/**
 * Random-effects summary: the mean over groups, how much groups differ, and where a new group may lie.
 *
 * θ_i = μ + u_i + e_i, u ~ N(0, τ²), e ~ N(0, s_i²); weights 1/(s_i² + τ²). The interval of the mean is the modified Knapp-Hartung one
 * (t with k − 1 degrees of freedom); the prediction interval is μ ± t(k − 2)·√(τ² + 1/Σw) (Higgins et al. 2009). I² = τ²/(τ² + s²) with
 * s² the typical sampling variance. Units: those of the estimates. Domain: k ≥ 2, standard errors above zero.
 * Errors: `TOO_FEW_GROUPS`, `NOT_FINITE`, `NOT_POSITIVE`, `NOT_A_FRACTION`, `UNKNOWN_METHOD`, `NOT_CONVERGED`.
 * Source: R. DerSimonian and N. Laird, Control. Clin. Trials 7 (1986) 177; R. C. Paule and J. Mandel, J. Res. NBS 87 (1982) 377; J. P. T.
 * Higgins, S. G. Thompson and D. J. Spiegelhalter, J. R. Stat. Soc. A 172 (2009) 137; C. Röver et al., BMC Med. Res. Methodol. 15 (2015) 99.
 *
 * @example
 * const crops = [{ label: 'bean', estimate: -1.02, standardError: 0.04 }, { label: 'maize', estimate: -0.95, standardError: 0.05 }, { label: 'vine', estimate: -1.1, standardError: 0.03 }];
 * summariseGroups(crops, { tauMethod: 'REML' }).tau.toFixed(3) // => '0.064'
 */
export function summariseGroups(groups: readonly GroupEstimate[], options: SummaryOptions): GroupsSummary {
  const level = requireLevel(options.level ?? 0.95);
  const { y, v } = checked(groups);
  const k = y.length;
  const fixed = weigh(y, v, 0);
  const tauSquared = estimateTau(options.tauMethod, y, v);
  const { weights, total, mean, squares } = weigh(y, v, tauSquared);
  const knappHartungFactor = squares / (k - 1);
  const plainStandardError = 1 / Math.sqrt(total);
  const standardError = plainStandardError * Math.sqrt(Math.max(1, knappHartungFactor));
  const half = studentTQuantile((1 + level) / 2, k - 1) * standardError;
  const spread = k < 3 ? null : studentTQuantile((1 + level) / 2, k - 2) * Math.sqrt(tauSquared + plainStandardError ** 2);
  const typical = ((k - 1) * fixed.total) / (fixed.total ** 2 - fixed.weights.reduce((sum, w) => sum + w * w, 0));
  const summary = {
    groupCount: k,
    mean,
    standardError,
    plainStandardError,
    knappHartungFactor,
    degreesOfFreedom: k - 1,
    interval: { lower: mean - half, upper: mean + half },
    predictionInterval: spread === null ? null : { lower: mean - spread, upper: mean + spread },
    tauMethod: options.tauMethod,
    tauSquared,
    tau: Math.sqrt(tauSquared),
    iSquared: tauSquared / (tauSquared + typical),
    q: fixed.squares,
    qPValue: chiSquareSurvival(fixed.squares, k - 1),
    weights: groups.map((group, i) => ({ label: group.label, share: weights[i]! / total })),
  };
  return { ...summary, sentence: sentenceOf(summary, level) };
}

function checked(groups: readonly GroupEstimate[]) {
  if (groups.length < 2) {
    throw new InputError('TOO_FEW_GROUPS', 'groups', `${groups.length} group(s) cannot show how groups differ`, 'Give at least two, better five.');
  }
  return {
    y: groups.map((group, i) => requireFinite(`groups[${i}].estimate`, group.estimate)),
    v: groups.map((group, i) => requirePositive(`groups[${i}].standardError`, group.standardError) ** 2),
  };
}

function requireLevel(level: number): number {
  if (requireFinite('level', level) > 0 && level < 1) return level;
  throw new InputError('NOT_A_FRACTION', 'level', `expected a number between 0 and 1, got ${level}`, 'Give a fraction such as 0.95.');
}

/** Weights at a τ², the weighted mean, and Σw(y − mean)². */
function weigh(y: readonly number[], v: readonly number[], tauSquared: number) {
  const weights = v.map((variance) => 1 / (variance + tauSquared));
  const total = weights.reduce((sum, w) => sum + w, 0);
  const mean = weights.reduce((sum, w, i) => sum + w * y[i]!, 0) / total;
  const squares = weights.reduce((sum, w, i) => sum + w * (y[i]! - mean) ** 2, 0);
  return { weights, total, mean, squares };
}

function estimateTau(method: TauMethod, y: readonly number[], v: readonly number[]): number {
  if (method === 'DL') return derSimonianLaird(y, v);
  if (method === 'PM') return pauleMandel(y, v);
  if (method === 'REML') return restrictedLikelihood(y, v);
  throw new InputError('UNKNOWN_METHOD', 'tauMethod', `expected DL, REML or PM, got ${String(method)}`, 'Choose one of them.');
}

function derSimonianLaird(y: readonly number[], v: readonly number[]): number {
  const { weights, total, squares } = weigh(y, v, 0);
  const scale = total - weights.reduce((sum, w) => sum + w * w, 0) / total;
  return Math.max(0, (squares - (y.length - 1)) / scale);
}

/** The τ² at which Σw(y − mean)² equals its expectation k − 1; it falls as τ² grows. */
function pauleMandel(y: readonly number[], v: readonly number[]): number {
  const excess = (tauSquared: number) => y.length - 1 - weigh(y, v, tauSquared).squares;
  if (excess(0) >= 0) return 0;
  let high = Math.max(...v);
  while (excess(high) < 0) high *= 2;
  return increasingRoot((tauSquared) => ({ value: excess(tauSquared) }), 0, high, high / 2);
}

/** Fisher scoring on the restricted likelihood, held at zero or above. */
function restrictedLikelihood(y: readonly number[], v: readonly number[]): number {
  let tauSquared = derSimonianLaird(y, v);
  for (let round = 0; round < 1000; round += 1) {
    const { weights, total, mean } = weigh(y, v, tauSquared);
    const second = weights.reduce((sum, w) => sum + w * w, 0);
    const third = weights.reduce((sum, w) => sum + raise(w, 3), 0);
    const score = 0.5 * (weights.reduce((sum, w, i) => sum + (w * (y[i]! - mean)) ** 2, 0) - total + second / total);
    const information = 0.5 * (second - (2 * third) / total + (second / total) ** 2);
    const next = Math.max(0, tauSquared + score / information);
    if (Math.abs(next - tauSquared) <= 1e-14 * (next + Math.min(...v))) return next;
    tauSquared = next;
  }
  throw new InputError('NOT_CONVERGED', 'groups', 'the restricted likelihood did not come to rest', 'Use tauMethod PM.');
}

function sentenceOf(summary: Omit<GroupsSummary, 'sentence'>, level: number): string {
  const number = (value: number) => Number(value.toPrecision(3));
  const percent = Number((100 * level).toPrecision(4));
  const { interval, predictionInterval, tau, iSquared } = summary;
  const mean = `Over ${summary.groupCount} groups the mean is ${number(summary.mean)} (${percent} % interval ${number(interval.lower)} to ${number(interval.upper)}).`;
  const differ = tau === 0 ? 'The groups differ no more than their own errors explain.' : `Groups differ with SD ${number(tau)}; ${Math.round(100 * iSquared)} % of the variance is between them.`;
  const fresh =
    predictionInterval === null
      ? 'Two groups are too few to say where a new one may lie.'
      : `A new group is expected between ${number(predictionInterval.lower)} and ${number(predictionInterval.upper)}.`;
  return `${mean} ${differ} ${fresh}`;
}
