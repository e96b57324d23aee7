import { chiSquareSurvival, compensatedSum, normalCdf, normalPdf, normalQuantile, normalSurvival, requireCount } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';

/** How often a unit tripped at one level (power in nW, or its logarithm: the scatter is normal on the scale given). */
export interface TripCount {
  readonly level: number;
  readonly trials: number;
  readonly trips: number;
}

/** Threshold scatter: levels trip with probability Φ((level − μ)/σ). */
export interface ThresholdScatter {
  /** μ, the level that trips half of the time; unit of the levels. */
  readonly median: number;
  /** σ, SD of the threshold from trip to trip; unit of the levels. */
  readonly sd: number;
  /** Covariance of (μ, σ), first order from the information matrix. */
  readonly covariance: readonly (readonly [number, number])[];
  /** Probit line α + β·level and its covariance. */
  readonly line: { readonly intercept: number; readonly slope: number; readonly covariance: readonly (readonly [number, number])[] };
  /** Fieller limits of μ; null where the slope is not significant and the set is unbounded (g ≥ 1). */
  readonly medianInterval: { readonly low: number; readonly high: number; readonly coverage: number; readonly g: number } | null;
  readonly deviance: number;
  readonly degreesOfFreedom: number;
  /** Chance of so large a deviance if the model holds; null without degrees of freedom. Read it only with several trials a level. */
  readonly fitPValue: number | null;
  readonly convergence: { readonly iterations: number; readonly reason: 'deviance-stationary' };
}

function requireCounts(counts: readonly TripCount[], coverage: number): void {
  if (!(coverage > 0 && coverage < 1)) {
    throw new InputError('COVERAGE_OUT_OF_RANGE', 'coverage', `${coverage} is not between 0 and 1`, 'Enter for instance 0.95.');
  }
  counts.forEach(({ level, trials, trips }, i) => {
    requireFinite(`counts[${i}].level`, level);
    requireCount(`counts[${i}].trials`, trials, 1);
    requireCount(`counts[${i}].trips`, trips);
    if (trips > trials) {
      throw new InputError('MORE_TRIPS_THAN_TRIALS', `counts[${i}].trips`, `${trips} of ${trials} is impossible`, 'Check the counts.');
    }
  });
}

/** The likelihood has a maximum only if trips and silences overlap: some silence must lie above some trip (Silvapulle 1981, from memory). */
function requireOverlap(counts: readonly TripCount[]): void {
  const tripped = counts.filter((c) => c.trips > 0).map((c) => c.level);
  const silent = counts.filter((c) => c.trips < c.trials).map((c) => c.level);
  if (tripped.length === 0 || silent.length === 0 || Math.min(...tripped) >= Math.max(...silent)) {
    throw new InputError('NO_OVERLAP', 'counts', 'no silent level lies above a tripped one, so the scatter has no lower limit',
      'Add repeats at levels between the highest silent and the lowest tripped one, in smaller steps.');
  }
}

/**
 * Threshold scatter by probit: maximum likelihood of Φ(α + β·level) by Fisher scoring; μ = −α/β, σ = 1/β.
 *
 * Uncertainties are binomial: where `fitPValue` is small, the scatter is not normal on this scale or trials are not
 * independent, and they are too small. Serves fixed designs and up-down series alike (the likelihood is the same); give ln power for a log-normal scatter.
 *
 * @param counts trips and trials by level; levels may repeat @param coverage of the interval of μ, for instance 0.95
 * @returns μ, σ, their covariance, Fieller limits of μ, deviance
 * @throws InputError `NO_OVERLAP` when trips and silences do not overlap, `TRIPS_FALL_WITH_LEVEL` when β ≤ 0,
 *   `NOT_CONVERGED`, `MORE_TRIPS_THAN_TRIALS`, `COVERAGE_OUT_OF_RANGE`, `NOT_A_COUNT`, `NOT_FINITE`
 *
 * Source: Finney, Probit Analysis (1971); Fieller (1954), both from memory; checked against a published analysis and R's glm.
 *
 * @example
 * thresholdScatterByProbit([{ level: 1, trials: 10, trips: 2 }, { level: 2, trials: 10, trips: 8 }], 0.95).median // => 1.5
 */
export function thresholdScatterByProbit(counts: readonly TripCount[], coverage: number): ThresholdScatter {
  requireCounts(counts, coverage);
  requireOverlap(counts);
  // Centred and scaled levels keep the information matrix well conditioned for any unit.
  const total = compensatedSum(counts.map((c) => c.trials));
  const centre = compensatedSum(counts.map((c) => c.trials * c.level)) / total;
  const scale = Math.sqrt(compensatedSum(counts.map((c) => c.trials * (c.level - centre) ** 2)) / total);
  const z = counts.map((c) => (c.level - centre) / scale);
  const { alpha, beta, information, iterations } = scoring(counts, z);
  if (beta <= 0) {
    throw new InputError('TRIPS_FALL_WITH_LEVEL', 'counts', 'higher levels trip less often', 'Check that levels and counts belong together.');
  }
  const inverse = invert2(information);
  const slope = beta / scale;
  const intercept = alpha - slope * centre;
  const lineCovariance = [
    [inverse[0][0] - (2 * centre * inverse[0][1]) / scale + (centre / scale) ** 2 * inverse[1][1], inverse[0][1] / scale - (centre / scale ** 2) * inverse[1][1]],
    [inverse[0][1] / scale - (centre / scale ** 2) * inverse[1][1], inverse[1][1] / scale ** 2],
  ] as const;
  // d(μ, σ)/d(α, β) on the centred scale: better conditioned than through the raw intercept.
  const [ma, mb, sb] = [-scale / beta, (scale * alpha) / beta ** 2, -scale / beta ** 2];
  const cross = ma * sb * inverse[0][1] + mb * sb * inverse[1][1];
  const deviance = devianceOf(counts, z, alpha, beta);
  const degreesOfFreedom = new Set(counts.map((c) => c.level)).size - 2;
  return {
    median: centre - (scale * alpha) / beta,
    sd: scale / beta,
    covariance: [
      [ma * ma * inverse[0][0] + 2 * ma * mb * inverse[0][1] + mb * mb * inverse[1][1], cross],
      [cross, sb * sb * inverse[1][1]],
    ],
    line: { intercept, slope, covariance: lineCovariance },
    medianInterval: fieller(alpha, beta, inverse, centre, scale, coverage),
    deviance,
    degreesOfFreedom,
    fitPValue: degreesOfFreedom > 0 ? chiSquareSurvival(deviance, degreesOfFreedom) : null,
    convergence: { iterations, reason: 'deviance-stationary' },
  };
}

type Square2 = readonly [readonly [number, number], readonly [number, number]];

function invert2([[a, b], [, d]]: Square2): Square2 {
  const determinant = a * d - b * b;
  return [[d / determinant, -b / determinant], [-b / determinant, a / determinant]];
}

function logLikelihood(counts: readonly TripCount[], z: readonly number[], alpha: number, beta: number): number {
  return compensatedSum(counts.map(({ trials, trips }, i) => {
    const eta = alpha + beta * z[i]!;
    return (trips === 0 ? 0 : trips * Math.log(normalCdf(eta))) + (trips === trials ? 0 : (trials - trips) * Math.log(normalSurvival(eta)));
  }));
}

/** Fisher scoring, halved where a step would lower the likelihood: the probit likelihood is concave, so it cannot be trapped. */
function scoring(counts: readonly TripCount[], z: readonly number[]): { alpha: number; beta: number; information: Square2; iterations: number } {
  let [alpha, beta] = [0, 0];
  let current = logLikelihood(counts, z, alpha, beta);
  for (let iterations = 1; iterations <= 200; iterations += 1) {
    const { score, information } = scoreAndInformation(counts, z, alpha, beta);
    const inverse = invert2(information);
    const step = [inverse[0][0] * score[0] + inverse[0][1] * score[1], inverse[1][0] * score[0] + inverse[1][1] * score[1]] as const;
    let factor = 1;
    let next = logLikelihood(counts, z, alpha + step[0], beta + step[1]);
    while (!(next >= current - 1e-12 * Math.abs(current)) && factor > 1e-6) {
      factor /= 2;
      next = logLikelihood(counts, z, alpha + factor * step[0], beta + factor * step[1]);
    }
    alpha += factor * step[0];
    beta += factor * step[1];
    current = next;
    if (Math.hypot(...step) <= 1e-13 * (1 + Math.hypot(alpha, beta))) return { alpha, beta, information, iterations };
  }
  throw new InputError('NOT_CONVERGED', 'counts', 'the likelihood did not settle in 200 steps', 'Add repeats near the middle of the levels.');
}

function scoreAndInformation(counts: readonly TripCount[], z: readonly number[], alpha: number, beta: number): { score: readonly [number, number]; information: Square2 } {
  const terms = counts.map(({ trials, trips }, i) => {
    const eta = alpha + beta * z[i]!;
    const [p, q, density] = [normalCdf(eta), normalSurvival(eta), normalPdf(eta)];
    return { z: z[i]!, weight: (trials * density * density) / (p * q), pull: ((trips - trials * p) * density) / (p * q) };
  });
  const total = (of: (t: (typeof terms)[number]) => number): number => compensatedSum(terms.map(of));
  const off = total((t) => t.weight * t.z);
  return {
    score: [total((t) => t.pull), total((t) => t.pull * t.z)],
    information: [[total((t) => t.weight), off], [off, total((t) => t.weight * t.z * t.z)]],
  };
}

/** Against a model with its own probability for every level, repeats at one level pooled first. */
function devianceOf(counts: readonly TripCount[], z: readonly number[], alpha: number, beta: number): number {
  const pooled = new Map<number, { trials: number; trips: number }>();
  counts.forEach(({ trials, trips }, i) => {
    const at = pooled.get(z[i]!) ?? { trials: 0, trips: 0 };
    pooled.set(z[i]!, { trials: at.trials + trials, trips: at.trips + trips });
  });
  return 2 * compensatedSum([...pooled].map(([level, { trials, trips }]) => {
    const eta = alpha + beta * level;
    const silent = trials - trips;
    return (trips === 0 ? 0 : trips * Math.log(trips / trials / normalCdf(eta))) + (silent === 0 ? 0 : silent * Math.log(silent / trials / normalSurvival(eta)));
  }));
}

function fieller(alpha: number, beta: number, inverse: Square2, centre: number, scale: number, coverage: number): ThresholdScatter['medianInterval'] {
  const k = normalQuantile((1 + coverage) / 2);
  const [[vaa, vab], [, vbb]] = inverse;
  const g = (k * k * vbb) / beta ** 2;
  if (g >= 1) return null;
  const m = -alpha / beta;
  const root = Math.sqrt(vaa + 2 * m * vab + m * m * vbb - g * (vaa - (vab * vab) / vbb));
  const middle = m + (g / (1 - g)) * (m + vab / vbb);
  const half = (k / (beta * (1 - g))) * root;
  return { low: centre + scale * (middle - half), high: centre + scale * (middle + half), coverage, g };
}
