import { recommend, replayRule, type Replay, type ZoneRule as RuleTerms } from '#libs/zone-rule';
import { InputError } from '#libs/quantity';
import type { AdviceDocument } from './advice-document.js';
import { eventsOf, solarNoonAt, type ZoneFact, type ZoneSeason } from './zone-events.js';
import type { ZoneRule } from './zone.entity.js';

/** Moments of one replay. */
const MOMENTS_MOST = 5_000;

export const termsOf = (rule: Omit<ZoneRule, 'labId' | 'id' | 'recordedAt' | 'recordedBy' | 'contentHash' | 'zone' | 'version' | 'latitude' | 'longitude' | 'basis'>): RuleTerms => ({
  needed: rule.needed,
  windows: rule.windows,
  hoursAroundNoon: Number(rule.hoursAroundNoon),
  maxAgeHours: Number(rule.maxAgeHours),
  silentAfterHours: Number(rule.silentAfterHours),
  minHealthy: rule.minHealthy,
  lockoutHours: Number(rule.lockoutHours),
  rainHoldMm: Number(rule.rainHoldMm),
  rainHoldHours: Number(rule.rainHoldHours),
});

/** What a rule says at a moment, from the facts of its zone: the same facts give the same document. */
export const adviseFrom = (rule: ZoneRule, facts: readonly ZoneFact[], at: Date): AdviceDocument =>
  recommend(termsOf(rule), facts.map(({ event }) => event), at.getTime(), solarNoonAt(rule));

/** Of which moments of the past a replay tells. */
export interface ReplaySpan {
  readonly from: Date;
  readonly until: Date;
  readonly everyMinutes: number;
}

/** @throws InputError `SPAN` for a span that is empty or has too many moments */
export function requireSpan({ from, until, everyMinutes }: ReplaySpan): void {
  if (!(everyMinutes >= 1)) throw new InputError('SPAN', 'everyMinutes', `is ${everyMinutes}`, 'Give at least one minute.');
  const steps = Math.floor((until.getTime() - from.getTime()) / (everyMinutes * 60_000));
  if (steps < 0) throw new InputError('SPAN', 'until', 'lies before from', 'Give a span that goes forward.');
  if (steps >= MOMENTS_MOST) throw new InputError('SPAN', 'everyMinutes', `gives ${steps + 1} moments`, `Look less often, or at a shorter span: at most ${MOMENTS_MOST}.`);
}

/** What a rule would have said over a season. */
export function replayFrom(rule: ZoneRule, season: ZoneSeason, span: ReplaySpan): Replay {
  requireSpan(span);
  const step = span.everyMinutes * 60_000;
  const moments = Array.from({ length: Math.floor((span.until.getTime() - span.from.getTime()) / step) + 1 }, (_, i) => span.from.getTime() + i * step);
  return replayRule(termsOf(rule), eventsOf(season), moments, solarNoonAt(rule));
}

/** What an advice looked at, of all that was known: what tells how the units of the zone stand, and what may hold it back. From these alone it follows again. */
export function usedFacts(rule: ZoneRule, document: AdviceDocument, facts: readonly ZoneFact[]): ZoneFact[] {
  const standing = new Set(document.units.map(({ unit }) => unit));
  const rainFrom = document.at - Number(rule.rainHoldHours) * 3_600_000;
  return facts.filter(({ event }) => {
    if (event.at > document.at || event.knownAt > document.at) return false;
    if ('unit' in event) return standing.has(event.unit);
    return event.kind === 'irrigated' || event.at > rainFrom;
  });
}
