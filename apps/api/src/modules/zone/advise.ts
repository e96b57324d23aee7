import { recommend, replayRule, type Replay, type ZoneRule as RuleTerms } from '#libs/zone-rule';
import { InputError } from '#libs/quantity';
import type { AdviceDocument } from './advice-document.js';
import { solarNoonAt, type ZoneFact } from './zone-events.js';
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

/** @throws InputError `SPAN` for a span that is empty or has too many moments */
export function replayFrom(rule: ZoneRule, facts: readonly ZoneFact[], from: Date, until: Date, everyMinutes: number): Replay {
  if (!(everyMinutes >= 1)) throw new InputError('SPAN', 'everyMinutes', `is ${everyMinutes}`, 'Give at least one minute.');
  const steps = Math.floor((until.getTime() - from.getTime()) / (everyMinutes * 60_000));
  if (steps < 0) throw new InputError('SPAN', 'until', 'lies before from', 'Give a span that goes forward.');
  if (steps >= MOMENTS_MOST) throw new InputError('SPAN', 'everyMinutes', `gives ${steps + 1} moments`, `Look less often, or at a shorter span: at most ${MOMENTS_MOST}.`);
  const moments = Array.from({ length: steps + 1 }, (_, i) => from.getTime() + i * everyMinutes * 60_000);
  return replayRule(termsOf(rule), facts.map(({ event }) => event), moments, solarNoonAt(rule));
}

/** What an advice looked at, of all that was known: its rule, the units' places, what speaks for each unit, what held it back. */
export function usedFacts(document: AdviceDocument, facts: readonly ZoneFact[]): ZoneFact[] {
  const known = facts.filter(({ event }) => event.at <= document.at && event.knownAt <= document.at);
  const used = new Map<string, ZoneFact>();
  for (const fact of known) {
    const { event } = fact;
    if (!('unit' in event)) {
      if (event.kind === 'irrigated') used.set('irrigated', fact);
      else used.set(fact.id, fact);
      continue;
    }
    if (!document.units.some(({ unit }) => unit === event.unit)) continue;
    if (event.kind === 'armed' || event.kind === 'trip') used.set(fact.id, fact);
    else used.set(`newest ${event.unit} ${event.kind}`, fact);
  }
  return [...used.values()];
}
