import { chiSquareSurvival, gammaFactor, increasingRoot, noncentralTQuantile, normalCdf, normalPdf, normalQuantile, requireDegreesOfFreedom } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/** What a statistical tolerance factor is for. */
export interface ToleranceQuestion {
  /** How many observations the mean is worth: its variance is s²/effectiveCount. May be fractional for an unbalanced design. */
  readonly effectiveCount: number;
  /** Share of the population to be covered, strictly between 0 and 1. */
  readonly share: number;
  /** Confidence that it is covered, strictly between 0 and 1. */
  readonly confidence: number;
  /** Degrees of freedom of s²; effectiveCount − 1 for a simple sample. */
  readonly degreesOfFreedom: number;
}

/**
 * One-sided k: mean + k·s lies above the share of a normal population with the confidence stated.
 *
 * k = t'(confidence; df, z_share·√n)/√n with t' the quantile of the noncentral t. Exact for a normal sample.
 * Errors: `NOT_FINITE`, `NOT_POSITIVE`, `NOT_A_FRACTION`, `DEGREES_OF_FREEDOM`. Source: ISO 16269-6, one-sided factors for unknown
 * mean and deviation.
 *
 * @example
 * oneSidedToleranceFactor({ effectiveCount: 5, share: 0.95, confidence: 0.95, degreesOfFreedom: 4 }).toFixed(3) // => '4.203'
 */
export function oneSidedToleranceFactor(question: ToleranceQuestion): number {
  const { effectiveCount: n, share, confidence, degreesOfFreedom } = checked(question);
  const root = Math.sqrt(n);
  return noncentralTQuantile(confidence, degreesOfFreedom, normalQuantile(share) * root) / root;
}

/**
 * Two-sided k: mean ± k·s holds the share of a normal population with the confidence stated.
 *
 * The k that solves E[P(χ²_df ≥ df·r²(X)/k²)] = confidence, X ~ N(0, 1/n), with r from Φ(x + r) − Φ(x − r) = share: exact, by quadrature.
 * Errors: as {@link oneSidedToleranceFactor}. Source: A. Wald and J. Wolfowitz, Ann. Math. Stat. 17 (1946) 208, in the exact form of
 * ISO 16269-6 annex.
 *
 * @example
 * twoSidedToleranceFactor({ effectiveCount: 10, share: 0.95, confidence: 0.95, degreesOfFreedom: 9 }).toFixed(3) // => '3.393'
 */
export function twoSidedToleranceFactor(question: ToleranceQuestion): number {
  const { effectiveCount: n, share, confidence, degreesOfFreedom: df } = checked(question);
  // With s known, only the mean is uncertain: k reaches as far as the mean may be off.
  if (df === Infinity) return halfWidthHolding(share, normalQuantile((1 + confidence) / 2) / Math.sqrt(n));
  const nodes = offsetNodes(n, share);
  const attained = (k: number) => {
    let value = -confidence;
    let slope = 0;
    for (const { weight, reach } of nodes) {
      const u = (df * reach * reach) / (k * k);
      value += weight * chiSquareSurvival(u, df);
      slope += (weight * gammaFactor(df / 2, u / 2) * 2) / k;
    }
    return { value, slope };
  };
  let high = 2 * normalQuantile((1 + share) / 2);
  while (attained(high).value < 0) high *= 2;
  return increasingRoot(attained, 0, high, high / 2);
}

/** Offsets x of the mean with their normal weights, and the half-width r around x that holds the share. */
function offsetNodes(n: number, share: number): { readonly weight: number; readonly reach: number }[] {
  const spread = 1 / Math.sqrt(n);
  // The trapezoidal rule converges geometrically for this smooth, fast-decaying integrand.
  const step = 1 / 4;
  const nodes: { weight: number; reach: number }[] = [];
  let total = 0;
  for (let i = 0; i <= 34; i += 1) {
    const z = i * step;
    const weight = normalPdf(z) * (i === 0 ? 1 : 2);
    total += weight;
    nodes.push({ weight, reach: halfWidthHolding(share, z * spread) });
  }
  return nodes.map(({ weight, reach }) => ({ weight: weight / total, reach }));
}

function halfWidthHolding(share: number, offset: number): number {
  // Exact at offset 0, and far out, where only the nearer end cuts anything off.
  const start = Math.max(normalQuantile((1 + share) / 2), offset + normalQuantile(share));
  const f = (r: number) => ({
    value: normalCdf(offset + r) - normalCdf(offset - r) - share,
    slope: normalPdf(offset + r) + normalPdf(offset - r),
  });
  return increasingRoot(f, 0, offset + normalQuantile((1 + share) / 2) + 1, start);
}

function checked(question: ToleranceQuestion): ToleranceQuestion {
  if (question.effectiveCount !== Infinity) requirePositive('effectiveCount', question.effectiveCount);
  requireFraction('share', question.share);
  requireFraction('confidence', question.confidence);
  requireDegreesOfFreedom('degreesOfFreedom', question.degreesOfFreedom);
  return question;
}

/** Throws `NOT_A_FRACTION` unless 0 < value < 1. */
export function requireFraction(field: string, value: number): number {
  requireFinite(field, value);
  if (value <= 0 || value >= 1) {
    throw new InputError('NOT_A_FRACTION', field, `expected a number between 0 and 1, got ${value}`, 'Give a fraction such as 0.95, not per cent.');
  }
  return value;
}
