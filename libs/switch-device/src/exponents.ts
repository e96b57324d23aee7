import { compensatedSum } from '#libs/numeric';
import { CONTACT_LIMITED_EXPONENT, PARALLEL_PLATE_EXPONENT } from './bias-threshold.js';
import { BiasThresholdFit, CurveFitOptions, TripScatter, fitBiasThresholdCurve } from './fit-curve.js';
import type { TripTest } from './trip-tests.js';

export interface ComparedExponent {
  readonly name: 'parallel-plate' | 'contact-limited' | 'free';
  readonly fit: BiasThresholdFit;
  /** AICc less the least of the three; null where there are too few tests for the correction. */
  readonly deltaAicc: number | null;
}

/**
 * The three readings of one unit's trip tests (n = 2/3, n = 2, n free) side by side, by AICc.
 *
 * @param tripTests as for {@link fitBiasThresholdCurve}, enough for a free exponent
 * @param held pull-in from sweeps and the kind of scatter, if they are to be held in all three
 * @returns parallel plate, contact-limited, free; a difference below 2 decides nothing (common practice, no source)
 * @throws InputError as {@link fitBiasThresholdCurve}
 *
 * AICc = n·ln(RSS/n) + 2k + 2k(k + 1)/(n − k − 1) with k counting the residual variance, or χ² + … with stated
 * uncertainties. Source: Hurvich & Tsai (1989), from memory. Exact data (RSS = 0) give −Infinity and no differences.
 *
 * @example
 * const tests = [0, 3, 6, 8, 9, 10].map((biasV, i) => ({ biasV, tripPowerNw: 500 * (1 - (biasV / 12) ** 2) + (-1) ** i }));
 * compareExponents(tests).find((c) => c.deltaAicc === 0).name // => 'contact-limited'
 */
export function compareExponents(tripTests: readonly TripTest[], held: Omit<CurveFitOptions, 'exponent'> = {}): readonly ComparedExponent[] {
  const fits = [
    { name: 'parallel-plate' as const, fit: fitBiasThresholdCurve(tripTests, { ...held, exponent: PARALLEL_PLATE_EXPONENT }) },
    { name: 'contact-limited' as const, fit: fitBiasThresholdCurve(tripTests, { ...held, exponent: CONTACT_LIMITED_EXPONENT }) },
    { name: 'free' as const, fit: fitBiasThresholdCurve(tripTests, { ...held, exponent: 'free' }) },
  ].map((entry) => ({ ...entry, aicc: aiccOf(entry.fit, tripTests) }));
  const least = leastOf(fits);
  return fits.map(({ name, fit, aicc }) => ({ name, fit, deltaAicc: differenceTo(least, aicc) }));
}

export interface ComparedScatter {
  readonly scatter: TripScatter;
  readonly fit: BiasThresholdFit;
  /** AICc less the lesser of the two; null where there are too few tests for the correction, or exact ones. */
  readonly deltaAicc: number | null;
}

/**
 * The two readings of how trip powers scatter (the same in nW everywhere, in proportion to the threshold) side by side, by AICc.
 *
 * @param tripTests as for {@link fitBiasThresholdCurve}, without stated uncertainties @param options exponent and pull-in, held alike in both
 * @returns constant, proportional; a difference below 2 decides nothing (common practice, no source): then take what is known of the meter
 * @throws InputError as {@link fitBiasThresholdCurve}
 *
 * Both likelihoods are of the powers in nW: the one of ln P carries the Jacobian, −2·ln L = n·ln(RSS_ln/n) + 2·Σ ln P + constant.
 * Source: Burnham & Anderson, Model Selection and Multimodel Inference, 2nd ed. (2002), 2.11.3 (from memory).
 *
 * @example
 * const tests = [0, 0, 3, 3, 6, 6, 8, 8, 9, 9].map((biasV, i) => ({ biasV, tripPowerNw: 500 * (1 - biasV / 10) * (1 + 0.04 * (-1) ** i) }));
 * compareScatter(tests, { exponent: 'free' }).find((c) => c.deltaAicc === 0).scatter // => 'proportional'
 */
export function compareScatter(tripTests: readonly TripTest[], options: Omit<CurveFitOptions, 'scatter'>): readonly ComparedScatter[] {
  const fits = (['constant', 'proportional'] as const).map((scatter) => {
    const fit = fitBiasThresholdCurve(tripTests, { ...options, scatter });
    return { scatter, fit, aicc: aiccOf(fit, tripTests) };
  });
  const least = leastOf(fits);
  return fits.map(({ scatter, fit, aicc }) => ({ scatter, fit, deltaAicc: differenceTo(least, aicc) }));
}

const leastOf = (fits: readonly { readonly aicc: number | null }[]): number => Math.min(...fits.map((f) => f.aicc ?? Infinity));

const differenceTo = (least: number, aicc: number | null): number | null => (aicc === null || !Number.isFinite(least) ? null : aicc - least);

function aiccOf(fit: BiasThresholdFit, tests: readonly TripTest[]): number | null {
  const n = tests.length;
  const k = fit.fitted.length + (fit.scatter === 'stated' ? 0 : 1);
  if (n - k - 1 <= 0) return null;
  return misfitOf(fit, tests) + 2 * k + (2 * k * (k + 1)) / (n - k - 1);
}

/** −2·ln L of the powers in nW, less what all fits of these tests have in common. */
function misfitOf({ scatter, weightedResidualSum }: BiasThresholdFit, tests: readonly TripTest[]): number {
  const n = tests.length;
  switch (scatter) {
    case 'stated': return weightedResidualSum;
    case 'constant': return n * Math.log(weightedResidualSum / n);
    case 'proportional': return n * Math.log(weightedResidualSum / n) + 2 * compensatedSum(tests.map((t) => Math.log(t.tripPowerNw)));
  }
}
