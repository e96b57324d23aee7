import { voteProbability } from '#libs/switch-device';
import type { ZoneRule } from './rule.js';

/** Where the units of a zone trip, and which part of the spread they share. */
export interface ZoneSpread {
  /** RWC at which the units trip, fraction. */
  readonly tripRwc: number;
  /** SD of each unit's own part (its leaf, its device), fraction of RWC. */
  readonly ownSigma: number;
  /** SD of what all share (the same sky, the same calibration), fraction of RWC. */
  readonly sharedSigma: number;
}

export interface RuleRisk {
  /** Chance that enough units have tripped although the leaves still have `wetRwc`. */
  readonly falseCall: number;
  /** Chance that too few have tripped although the leaves are down to `dryRwc`. */
  readonly missedCall: number;
  /** The same two if the units shared nothing: what a careless reckoning would promise. */
  readonly falseCallIfIndependent: number;
  readonly missedCallIfIndependent: number;
}

/**
 * How often a k-of-n vote would be wrong in one window, with the error that all units share.
 *
 * Units under one sky are wrong together: voting averages out what each has of its own, and cannot touch the rest.
 * For more windows than one the false call is at most, and the missed call at least, what is told here.
 *
 * @param rule its `needed` is used @param count units of the zone @param wetRwc, dryRwc leaves that need no water, and leaves that do
 * @throws InputError those of `voteProbability`
 *
 * Source: trade reckoning with independent and shared spread, derived (see libs/switch-device, `voteProbability`).
 *
 * @example
 * ruleRisk({ needed: 3 }, 5, { tripRwc: 0.7, ownSigma: 0.1049, sharedSigma: 0.1 }, 0.85, 0.6).falseCall.toFixed(3) // => '0.095'
 */
export function ruleRisk({ needed }: Pick<ZoneRule, 'needed'>, count: number, spread: ZoneSpread, wetRwc: number, dryRwc: number): RuleRisk {
  const { tripRwc, ownSigma, sharedSigma } = spread;
  const vote = { count, needed, tripRwc, ownSigma, sharedSigma };
  const alone = { count, needed, tripRwc, ownSigma: Math.hypot(ownSigma, sharedSigma), sharedSigma: 0 };
  return {
    falseCall: voteProbability(vote, wetRwc),
    missedCall: 1 - voteProbability(vote, dryRwc),
    falseCallIfIndependent: voteProbability(alone, wetRwc),
    missedCallIfIndependent: 1 - voteProbability(alone, dryRwc),
  };
}
