import { InputError } from '#libs/quantity';
import type { ZoneEvent } from './events.js';
import { knowledgeOf } from './knowledge.js';
import { recommendFrom, type Advice, type Recommendation, type SolarNoon } from './recommend.js';
import { requireRule, type ZoneRule } from './rule.js';

/** A rule on what has happened, from change to change. */
export interface Replay {
  /** The first recommendation, and each one whose advice differs from the one before. */
  readonly changes: readonly Recommendation[];
  /** Moments looked at, by advice. */
  readonly counts: Readonly<Record<Advice, number>>;
}

/**
 * Plays a rule over past data, as it would have spoken at each of the moments, knowing only what was known then.
 *
 * What people did then stays as it was: an irrigation in the data sets the votes before it aside, whether this rule would
 * have asked for it or not. So a replay tells when a rule would have spoken first, not what the field would have become.
 *
 * @param events of one zone @param moments ms, rising
 * @throws InputError `NOT_RISING`, and those of {@link requireRule}
 *
 * @example
 * const rule = { needed: 1, windows: 1, hoursAroundNoon: 2, maxAgeHours: 48, silentAfterHours: 6, minHealthy: 1, lockoutHours: 24, rainHoldMm: 5, rainHoldHours: 24 };
 * const noon = Date.parse('2026-06-03T12:00:00Z');
 * replayRule(rule, [{ kind: 'armed', unit: 'U1', at: noon, knownAt: noon }], [noon, noon + 3_600_000], () => noon).counts.none // => 2
 */
export function replayRule(rule: ZoneRule, events: readonly ZoneEvent[], moments: readonly number[], noonOf: SolarNoon): Replay {
  const wrong = moments.findIndex((moment, i) => i > 0 && moment <= moments[i - 1]!);
  if (wrong >= 0) throw new InputError('NOT_RISING', `moments[${wrong}]`, 'does not come after the one before', 'Give the moments in order.');
  requireRule(rule);
  const knowledge = knowledgeOf(events);
  const changes: Recommendation[] = [];
  const counts: Record<Advice, number> = { irrigate: 0, wait: 0, look: 0, none: 0 };
  for (const moment of moments) {
    const said = recommendFrom(rule, knowledge, moment, noonOf);
    counts[said.advice] += 1;
    if (changes.at(-1)?.advice !== said.advice) changes.push(said);
  }
  return { changes, counts };
}
