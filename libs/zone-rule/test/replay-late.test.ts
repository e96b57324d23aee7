import { createStream } from '#libs/numeric';
import { recommend, replayRule, type ZoneEvent, type ZoneRule } from '#libs/zone-rule';

const HOUR = 3_600_000;
const rule: ZoneRule = { needed: 2, windows: 2, hoursAroundNoon: 4, maxAgeHours: 60, silentAfterHours: 12, minHealthy: 2, lockoutHours: 20, rainHoldMm: 5, rainHoldHours: 20 };
const noonOf = (at: number): number => Math.floor(at / (24 * HOUR)) * 24 * HOUR + 12 * HOUR;

/** A zone of five units over ten days; a third of what happens is told up to two days late, out of its order. */
function zoneEvents(seed: string): ZoneEvent[] {
  const stream = createStream(seed, 0);
  const pick = (n: number): number => Math.floor(n * stream.uniform());
  return Array.from({ length: 240 }, (): ZoneEvent => {
    const at = pick(240) * HOUR;
    const knownAt = at + (stream.uniform() < 0.35 ? pick(48) * HOUR : 0);
    const [unit, which] = [`U${pick(5)}`, stream.uniform()];
    if (which < 0.04) return { kind: 'armed', unit, at: pick(24) * HOUR, knownAt: 0 };
    if (which < 0.06) return { kind: 'removed', unit, at, knownAt };
    if (which < 0.1) return { kind: 'irrigated', at, knownAt };
    if (which < 0.14) return { kind: 'rain', at, knownAt, depthMm: 1 + pick(6) };
    if (which < 0.22) return { kind: 'reset', unit, at, knownAt };
    if (which < 0.45) return { kind: 'trip', unit, at, knownAt, happenedAt: stream.uniform() < 0.3 ? null : at };
    return { kind: 'heard', unit, at, knownAt, latched: stream.uniform() < 0.2 };
  });
}

/** Votes counted the plain way: everything known by then read through from the beginning. */
function plainVotes(events: readonly ZoneEvent[], at: number): number {
  const trips = new Map<string, { at: number; happenedAt: number | null } | null>();
  let irrigated = -Infinity;
  for (const event of events.filter((each) => each.at <= at && each.knownAt <= at).sort((a, b) => a.at - b.at || a.knownAt - b.knownAt)) {
    if (event.kind === 'irrigated') irrigated = event.at;
    if (!('unit' in event)) continue;
    if (event.kind === 'armed') trips.set(event.unit, null);
    else if (event.kind === 'removed') trips.delete(event.unit);
    else if (!trips.has(event.unit)) continue;
    else if (event.kind === 'trip' || (event.kind === 'heard' && event.latched)) trips.set(event.unit, trips.get(event.unit) ?? { at: event.at, happenedAt: event.kind === 'trip' ? event.happenedAt : null });
    else trips.set(event.unit, null);
  }
  return [...trips.values()].filter((trip) => {
    if (!trip) return false;
    const since = trip.happenedAt ?? trip.at;
    const near = trip.happenedAt === null || Math.abs(trip.happenedAt - noonOf(trip.happenedAt)) <= rule.hoursAroundNoon * HOUR;
    return since >= irrigated && at - since <= rule.maxAgeHours * HOUR && near;
  }).length;
}

describe('a replay that learns as it goes', () => {
  test.each(['a', 'b', 'c', 'd'])('says at every moment what one asked anew would say (%s)', (seed) => {
    const events = zoneEvents(seed);
    const moments = Array.from({ length: 260 }, (_, i) => i * HOUR);
    const anew = moments.map((at) => recommend(rule, events, at, noonOf));
    anew.forEach(({ votes, at }) => expect([at, votes]).toEqual([at, plainVotes(events, at)]));
    expect(Math.max(...anew.map(({ votes }) => votes))).toBeGreaterThanOrEqual(rule.needed);
    const { changes, counts } = replayRule(rule, events, moments, noonOf);
    expect(changes).toEqual(anew.filter(({ advice }, i) => i === 0 || advice !== anew[i - 1]!.advice));
    expect(counts.irrigate + counts.wait).toBe(anew.filter(({ advice }) => advice === 'irrigate' || advice === 'wait').length);
  });
});
