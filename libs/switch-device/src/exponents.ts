import { CONTACT_LIMITED_EXPONENT, PARALLEL_PLATE_EXPONENT } from './bias-threshold.js';
import { BiasThresholdFit, CurveFitOptions, TripTest, fitBiasThresholdCurve } from './fit-curve.js';

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
 * @param pullIn pull-in from sweeps, if it is to be held in all three
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
export function compareExponents(tripTests: readonly TripTest[], pullIn: Pick<CurveFitOptions, 'pullInV' | 'pullInSdV'> = {}): readonly ComparedExponent[] {
  const fits = [
    { name: 'parallel-plate' as const, fit: fitBiasThresholdCurve(tripTests, { ...pullIn, exponent: PARALLEL_PLATE_EXPONENT }) },
    { name: 'contact-limited' as const, fit: fitBiasThresholdCurve(tripTests, { ...pullIn, exponent: CONTACT_LIMITED_EXPONENT }) },
    { name: 'free' as const, fit: fitBiasThresholdCurve(tripTests, { ...pullIn, exponent: 'free' }) },
  ].map((entry) => ({ ...entry, aicc: aiccOf(entry.fit, tripTests.length) }));
  const least = Math.min(...fits.map((f) => f.aicc ?? Infinity));
  return fits.map(({ name, fit, aicc }) => ({ name, fit, deltaAicc: aicc === null || !Number.isFinite(least) ? null : aicc - least }));
}

function aiccOf(fit: BiasThresholdFit, n: number): number | null {
  const stated = fit.covarianceFrom === 'stated';
  const k = fit.fitted.length + (stated ? 0 : 1);
  if (n - k - 1 <= 0) return null;
  const misfit = stated ? fit.weightedResidualSum : n * Math.log(fit.weightedResidualSum / n);
  return misfit + 2 * k + (2 * k * (k + 1)) / (n - k - 1);
}
