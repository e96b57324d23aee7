import { normalCdf, normalPdf, normalQuantile, normalSurvival, raise } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { requireNotNegative } from './bias-threshold.js';

/** Where a unit trips: centre and standard deviation of its trip RWC, as fractions. */
export interface TripRwcSpread {
  readonly tripRwc: number;
  readonly sigma: number;
}

/**
 * Operating characteristic: the chance that a unit has tripped on a leaf at a given RWC, P = Φ((R_trip − R)/σ).
 *
 * @param spread centre and SD of the trip RWC @param rwc of the leaf, fraction
 * @returns probability, falling from 1 (dry leaf) to 0 (wet leaf)
 * @throws InputError `NOT_POSITIVE` for σ, `NOT_FINITE`
 *
 * Assumes the trip RWC is normal and the leaf's RWC is that at the brightest moment since arming: a latch keeps the
 * maximum of the light behind the leaf.
 *
 * @example
 * tripProbability({ tripRwc: 0.70, sigma: 0.145 }, 0.85).toFixed(2) // => '0.15'
 */
export function tripProbability(spread: TripRwcSpread, rwc: number): number {
  requireFinite('tripRwc', spread.tripRwc);
  requirePositive('sigma', spread.sigma);
  return normalCdf((spread.tripRwc - requireFinite('rwc', rwc)) / spread.sigma);
}

/**
 * Chance of a false trip: the unit trips although the leaf still has `wetRwc`. As {@link tripProbability}, by its other name.
 *
 * @example
 * falseTripChance({ tripRwc: 0.7, sigma: 0.1 }, 0.7) // => 0.5
 */
export function falseTripChance(spread: TripRwcSpread, wetRwc: number): number {
  return tripProbability(spread, wetRwc);
}

/**
 * Chance of a missed trip: the unit has not tripped although the leaf is down to `dryRwc`, Φ((R − R_trip)/σ).
 *
 * @throws InputError as {@link tripProbability}
 * @example
 * missedTripChance({ tripRwc: 0.7, sigma: 0.145 }, 0.6).toFixed(2) // => '0.25'
 */
export function missedTripChance(spread: TripRwcSpread, dryRwc: number): number {
  requireFinite('tripRwc', spread.tripRwc);
  requirePositive('sigma', spread.sigma);
  return normalCdf((requireFinite('dryRwc', dryRwc) - spread.tripRwc) / spread.sigma);
}

/** A risk in words: what must not happen at this RWC more often than `risk`. */
export interface RiskLimit {
  /** `false-trip`: tripping at this RWC is wrong. `missed-trip`: not having tripped at it is wrong. */
  readonly kind: 'false-trip' | 'missed-trip';
  readonly rwc: number;
  /** Accepted probability, above 0 and below 1. */
  readonly risk: number;
}

/**
 * Guard band: the target RWC that keeps one risk at its limit, R_wet − z·σ or R_dry + z·σ with z = Φ⁻¹(1 − risk).
 *
 * @param sigma SD of the trip RWC, fraction @param limit which event, at which RWC, how often at most
 * @returns the target RWC, fraction
 * @throws InputError `RISK_OUT_OF_RANGE`, `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Source: guarded acceptance, JCGM 106:2012, 8.3 (clause from memory).
 *
 * @example
 * guardBandTarget(0.145, { kind: 'false-trip', rwc: 0.85, risk: 0.05 }).toFixed(3) // => '0.611'
 */
export function guardBandTarget(sigma: number, limit: RiskLimit): number {
  requirePositive('sigma', sigma);
  requireFinite('rwc', limit.rwc);
  if (!(limit.risk > 0 && limit.risk < 1)) {
    throw new InputError('RISK_OUT_OF_RANGE', 'risk', `${limit.risk} is not between 0 and 1`, 'Enter the accepted probability, for instance 0.05.');
  }
  const guard = -normalQuantile(limit.risk) * sigma;
  return limit.kind === 'false-trip' ? limit.rwc - guard : limit.rwc + guard;
}

/** A zone's vote: `needed` trips of `count` units that share part of their error. */
export interface Vote {
  readonly count: number;
  readonly needed: number;
  readonly tripRwc: number;
  /** SD of each unit's own part (its leaf, its device), fraction of RWC. */
  readonly ownSigma: number;
  /** SD of the part all units share (the same sky, the same calibration), fraction of RWC. */
  readonly sharedSigma: number;
}

/**
 * Chance that at least `needed` of `count` units have tripped, with a shared error:
 * P = ∫ φ(z) · P(Bin(count, Φ((R_trip + s·z − R)/σ_own)) ≥ needed) dz.
 *
 * Voting averages out what units have of their own; what they share it cannot touch.
 *
 * @param vote counts and SDs; a zero `sharedSigma` gives the binomial tail @param rwc RWC of all the leaves, fraction
 * @returns probability
 * @throws InputError `NOT_A_VOTE` unless 1 ≤ needed ≤ count are whole numbers, `NOT_POSITIVE`, `NEGATIVE`
 *
 * Method: trapezoidal rule over ±9, in the shared error or, where that is the larger, by parts in the units' own.
 *
 * @example
 * voteProbability({ count: 5, needed: 3, tripRwc: 0.7, ownSigma: 0.1049, sharedSigma: 0.1 }, 0.85).toFixed(3) // => '0.095'
 */
export function voteProbability(vote: Vote, rwc: number): number {
  const { count, needed, tripRwc, ownSigma, sharedSigma } = vote;
  if (!Number.isInteger(count) || !Number.isInteger(needed) || needed < 1 || needed > count) {
    throw new InputError('NOT_A_VOTE', 'needed', `${needed} of ${count} is no vote`, 'Ask for at least one and at most all of the units.');
  }
  requireFinite('tripRwc', tripRwc);
  requireFinite('rwc', rwc);
  requirePositive('ownSigma', ownSigma);
  requireNotNegative('sharedSigma', sharedSigma);
  const lead = tripRwc - rwc;
  if (sharedSigma === 0) return binomialTail(count, needed, normalCdf(lead / ownSigma));
  if (sharedSigma <= ownSigma) return trapezoid((z) => normalPdf(z) * binomialTail(count, needed, normalCdf((lead + sharedSigma * z) / ownSigma)));
  // With little error of its own the vote is a step in z. By parts: the needed-th unit's own error, and the chance that the sky reaches it.
  return trapezoid((u) => orderDensity(count, needed, u) * normalSurvival((ownSigma * u - lead) / sharedSigma));
}

/** ∫ over ±9 of an integrand that is smooth on the scale of 1 and gone at the ends: spacing 1/64 converges exponentially. */
function trapezoid(f: (x: number) => number): number {
  let total = 0;
  for (let i = -576; i <= 576; i += 1) total += f(i / 64);
  return Math.min(total / 64, 1);
}

/** Density at u of the error that exactly `needed` of `count` standard normal errors pass: d/du P(Bin(count, Φ(u)) ≥ needed). */
function orderDensity(count: number, needed: number, u: number): number {
  let ways = needed;
  for (let i = 0; i < needed; i += 1) ways *= (count - i) / (i + 1);
  return ways * normalPdf(u) * raise(normalCdf(u), needed - 1) * raise(normalSurvival(u), count - needed);
}

/** P(Bin(n, p) ≥ k); a plain sum serves zones of tens of units. */
function binomialTail(n: number, k: number, p: number): number {
  if (p <= 0) return 0;
  if (p >= 1) return 1;
  let tail = 0;
  let choose = 1;
  for (let i = 0; i <= n; i += 1) {
    if (i >= k) tail += choose * raise(p, i) * raise(1 - p, n - i);
    choose = (choose * (n - i)) / (i + 1);
  }
  return Math.min(tail, 1);
}
