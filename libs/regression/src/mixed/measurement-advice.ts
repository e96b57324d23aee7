import { requireCount, studentTQuantile, normalQuantile } from '#libs/numeric';
import { requireFinite, requirePositive } from '#libs/quantity';
import { fixedAt, leafTermsAt, responseSlopeAt, type LeafFit } from './leaf-fit.js';
import { estimateVariance } from './satterthwaite.js';
import { requireFraction } from './tolerance-factor.js';

/** What is to become narrower, where, and by how much. */
export interface AdviceRequest {
  /** The RWC that matters, a fraction: usually the trip target. */
  readonly rwc: number;
  /** `new-leaf`: the prediction interval of one new leaf; `mean-line`: the confidence interval of the mean line. */
  readonly goal: 'new-leaf' | 'mean-line';
  /** Default 0.95. */
  readonly level?: number;
  /** Readings averaged on the new leaf; default 1. */
  readonly readingsPerNewLeaf?: number;
  /** Half-width wished for, in points of RWC. */
  readonly wantedHalfWidthPoints?: number;
}

/** One possible further effort and the half-width to expect from it. */
export interface Effort {
  readonly extraLeaves: number;
  readonly extraReadingsPerLeaf: number;
  readonly halfWidthPoints: number;
}

/** The least effort of each kind that reaches the wish; null where that kind cannot reach it. */
export interface Plan {
  readonly byLeaves: Effort | null;
  readonly byReadings: Effort | null;
  /** What infinitely many leaves would leave. */
  readonly floorPoints: number;
}

/** What to measure next. */
export interface MeasurementAdvice {
  readonly presentHalfWidthPoints: number;
  /** Shares of the variance behind the half-width; they add up to 1. */
  readonly shares: { readonly betweenLeaves: number; readonly reading: number; readonly meanLine: number };
  readonly moreLeaves: readonly Effort[];
  readonly moreReadings: readonly Effort[];
  readonly plan: Plan | null;
  readonly sentence: string;
}

const STEPS = [1, 2, 5, 10, 20, 50] as const;
const MOST_LEAVES = 100_000;

/**
 * More leaves or more readings: the half-width to expect from each, and the least effort that reaches a wish.
 *
 * With L leaves of m readings, v(mean line at x) = b + w, b = Σ_levels zᵀΣz/groups and w what reading noise adds. L′ leaves and m′
 * readings give (L/L′)(b + w·m/m′); for a new leaf zᵀΣz + σ²/m_new is added, which no effort removes. The half-width is
 * t·√v/|slope|, degrees of freedom growing as leaves − 1. Exact for balanced designs that are repeated alike (new leaves measured over
 * the same RWC, as many to a plant); otherwise an approximation. Variances are taken as estimated: with few leaves they are rough.
 *
 * Errors: `NOT_FINITE`, `NOT_A_FRACTION`, `NOT_A_COUNT`, `NOT_POSITIVE`. Source: variance of a balanced nested design, Pinheiro & Bates (2000) 1.1.
 *
 * @example
 * const readings = ['a', 'b', 'c', 'd'].flatMap((leafId, i) => [1, 0.8, 0.6].map((rwc, k) =>
 *   ({ leafId, rwc, transmittance: Math.exp(-0.9 - rwc + 0.05 * (i % 3) + 0.01 * ((i + k) % 2)) })));
 * const line = fitLeafLine(readings, { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' });
 * adviseMeasurement(line, { rwc: 0.8, goal: 'new-leaf', wantedHalfWidthPoints: 12 }).plan.byLeaves.extraLeaves // => 4
 */
export function adviseMeasurement(line: LeafFit, request: AdviceRequest): MeasurementAdvice {
  const { rwc, goal, level = 0.95, readingsPerNewLeaf = 1, wantedHalfWidthPoints } = request;
  requireFinite('rwc', rwc);
  requireFraction('level', level);
  if (readingsPerNewLeaf !== Infinity) requireCount('readingsPerNewLeaf', readingsPerNewLeaf, 1);
  if (wantedHalfWidthPoints !== undefined) requirePositive('wantedHalfWidthPoints', wantedHalfWidthPoints);
  const design = designOf(line, rwc, goal, readingsPerNewLeaf);
  const expect = (extraLeaves: number, extraReadingsPerLeaf: number): Effort => ({
    extraLeaves,
    extraReadingsPerLeaf,
    halfWidthPoints: halfWidth(design, level, extraLeaves, extraReadingsPerLeaf),
  });
  const present = expect(0, 0);
  const total = design.mean + design.apart;
  const plan = wantedHalfWidthPoints === undefined ? null : planFor(wantedHalfWidthPoints, design, level, expect);
  const moreLeaves = STEPS.map((step) => expect(step, 0));
  const moreReadings = STEPS.map((step) => expect(0, step));
  return {
    presentHalfWidthPoints: present.halfWidthPoints,
    shares: { betweenLeaves: design.between / total, reading: design.newReading / total, meanLine: design.mean / total },
    moreLeaves,
    moreReadings,
    plan,
    sentence: sentenceOf(goal, present, moreLeaves[2]!, moreReadings[2]!, plan, wantedHalfWidthPoints),
  };
}

interface Design {
  readonly leaves: number;
  /** Readings per leaf, on average. */
  readonly readings: number;
  /** Variance of the mean line, and the part of it that reading noise adds. */
  readonly mean: number;
  readonly meanFromReadings: number;
  readonly between: number;
  readonly newReading: number;
  /** What the goal adds to the variance of the mean line. */
  readonly apart: number;
  readonly degreesOfFreedom: number;
  /** |slope| of the mean at the RWC asked about. */
  readonly slope: number;
}

function designOf(line: LeafFit, rwc: number, goal: AdviceRequest['goal'], readingsPerNewLeaf: number): Design {
  const { fit, leafCount: leaves } = line;
  const fixed = fixedAt(line, rwc);
  const levels = fit.levels.map((level) => leafTermsAt(line, rwc, level.sd.length));
  const apartOf = fit.levels.map((_, l) => estimateVariance(fit, { fixed: fixed.map(() => 0), levels: levels.map((z, k) => (k === l ? z : undefined)) }).variance);
  const newLeaf = goal === 'new-leaf';
  const whole = estimateVariance(fit, newLeaf ? { fixed, levels, residualWeight: 1 / readingsPerNewLeaf } : { fixed });
  const floor = apartOf.reduce((sum, value, l) => sum + value / fit.levels[l]!.groupCount, 0);
  const between = newLeaf ? apartOf.reduce((sum, value) => sum + value, 0) : 0;
  const newReading = newLeaf ? fit.residualSd ** 2 / readingsPerNewLeaf : 0;
  return {
    leaves,
    readings: fit.observationCount / leaves,
    mean: whole.fixedVariance,
    // Rounding alone can bring the whole below its own part.
    meanFromReadings: Math.max(0, whole.fixedVariance - floor),
    between,
    newReading,
    apart: between + newReading,
    degreesOfFreedom: newLeaf ? Math.min(whole.degreesOfFreedom, leaves - 1) : whole.degreesOfFreedom,
    slope: Math.abs(responseSlopeAt(line, rwc)),
  };
}

function halfWidth(design: Design, level: number, extraLeaves: number, extraReadings: number): number {
  const leaves = design.leaves + extraLeaves;
  const fromLeaves = design.mean - design.meanFromReadings;
  const mean = (design.leaves / leaves) * (fromLeaves + (design.meanFromReadings * design.readings) / (design.readings + extraReadings));
  const degreesOfFreedom = (design.degreesOfFreedom * (leaves - 1)) / (design.leaves - 1);
  return (100 * studentTQuantile((1 + level) / 2, degreesOfFreedom) * Math.sqrt(mean + design.apart)) / design.slope;
}

function planFor(wanted: number, design: Design, level: number, expect: (leaves: number, readings: number) => Effort): Plan {
  const floorPoints = (100 * normalQuantile((1 + level) / 2) * Math.sqrt(design.apart)) / design.slope;
  const least = (effort: (amount: number) => Effort): Effort | null => {
    if (effort(0).halfWidthPoints <= wanted) return effort(0);
    let high = 1;
    while (effort(high).halfWidthPoints > wanted) {
      high *= 2;
      if (high > MOST_LEAVES) return null;
    }
    let low = high / 2;
    if (high === 1) return effort(1);
    while (high - low > 1) {
      const middle = Math.floor((low + high) / 2);
      if (effort(middle).halfWidthPoints <= wanted) high = middle;
      else low = middle;
    }
    return effort(high);
  };
  return { byLeaves: least((amount) => expect(amount, 0)), byReadings: least((amount) => expect(0, amount)), floorPoints };
}

function sentenceOf(goal: AdviceRequest['goal'], present: Effort, leaves: Effort, readings: Effort, plan: Plan | null, wanted: number | undefined): string {
  const points = (effort: { readonly halfWidthPoints: number }) => `±${effort.halfWidthPoints.toPrecision(2)} points`;
  const what = goal === 'new-leaf' ? 'For one new leaf' : 'For the mean line';
  const better = leaves.halfWidthPoints <= readings.halfWidthPoints ? 'more leaves' : 'more readings on each leaf';
  const compared =
    `${what} the half-width is ${points(present)}. ${leaves.extraLeaves} more leaves would make it ${points(leaves)}, ` +
    `${readings.extraReadingsPerLeaf} more readings on each leaf ${points(readings)}: ${better} will help more.`;
  if (plan === null || wanted === undefined) return compared;
  if (plan.byLeaves?.extraLeaves === 0) return `${compared} The ±${wanted} points wished for are already reached.`;
  if (plan.byLeaves === null) {
    return (
      `${compared} No number of leaves reaches ±${wanted} points: leaves differ among themselves by ±${plan.floorPoints.toPrecision(2)} points. ` +
      "Divide by each leaf's own turgid transmittance, or average more readings on the new leaf."
    );
  }
  return `${compared} To reach ±${wanted} points, measure ${plan.byLeaves.extraLeaves} more leaves in the same way.`;
}
