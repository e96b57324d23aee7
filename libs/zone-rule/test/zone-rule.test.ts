import { recommend, replayRule, requireRain, requireRule, ruleRisk, type ZoneEvent, type ZoneRule } from '#libs/zone-rule';

const HOUR = 3_600_000;
const NOON = Date.parse('2026-06-03T12:00:00Z');
/** A place on the prime meridian; the equation of time left out. */
const noonOf = (at: number): number => Math.floor(at / (24 * HOUR)) * 24 * HOUR + 12 * HOUR;
const h = (hours: number): number => NOON + hours * HOUR;

const rule: ZoneRule = { needed: 2, windows: 1, hoursAroundNoon: 2, maxAgeHours: 72, silentAfterHours: 6, minHealthy: 2, lockoutHours: 24, rainHoldMm: 5, rainHoldHours: 24 };

type Known = { known?: number };
const armed = (unit: string, at = -48): ZoneEvent => ({ kind: 'armed', unit, at: h(at), knownAt: h(at) });
const trip = (unit: string, at: number, { known = at }: Known = {}): ZoneEvent => ({ kind: 'trip', unit, at: h(at), knownAt: h(known), happenedAt: h(at) });
const heard = (unit: string, at: number, latched = false): ZoneEvent => ({ kind: 'heard', unit, at: h(at), knownAt: h(at), latched });
const irrigated = (at: number): ZoneEvent => ({ kind: 'irrigated', at: h(at), knownAt: h(at) });
const rain = (at: number, depthMm: number): ZoneEvent => ({ kind: 'rain', at: h(at), knownAt: h(at), depthMm });
const reset = (unit: string, at: number): ZoneEvent => ({ kind: 'reset', unit, at: h(at), knownAt: h(at) });

const three = [armed('a'), armed('b'), armed('c')];
const alive = (at: number, ...units: string[]): ZoneEvent[] => units.map((unit) => heard(unit, at));
const ask = (events: readonly ZoneEvent[], at: number, changes: Partial<ZoneRule> = {}) => recommend({ ...rule, ...changes }, events, h(at), noonOf);

describe('votes', () => {
  test('enough of them in the window ask for water, one too few does not', () => {
    expect(ask([...three, ...alive(0, 'a', 'b', 'c'), trip('a', 0.1), trip('b', 0.5)], 1).advice).toBe('irrigate');
    expect(ask([...three, ...alive(0, 'a', 'b', 'c'), trip('a', 0.1)], 1)).toMatchObject({ advice: 'none', votes: 1, installed: 3, healthy: 3 });
  });

  test('the order in which they came in does not matter', () => {
    const events = [...three, ...alive(0, 'a', 'b', 'c'), trip('a', 0.1), trip('b', 0.5), rain(-30, 2), irrigated(-47)];
    expect(ask([...events].reverse(), 1)).toEqual(ask(events, 1));
  });

  test('a trip far from solar noon does not vote, and says why', () => {
    const said = ask([...three, ...alive(0, 'a', 'b', 'c'), trip('a', 0.1), trip('b', 2.5)], 3.5);
    expect(said.advice).toBe('none');
    expect(said.units.find(({ unit }) => unit === 'b')).toMatchObject({ tripped: true, votes: false, remark: 'It latched 2.5 h from solar noon; the rule counts 2 h.' });
  });

  test('a trip grows too old; one from before the last irrigation waits for its reset', () => {
    const events = [...three.map((event) => ({ ...event, at: h(-200), knownAt: h(-200) })), ...alive(0, 'a', 'b', 'c').map((event) => ({ ...event, latched: event.kind === 'heard' && 'unit' in event && event.unit !== 'c' }) as ZoneEvent), trip('a', -96), trip('b', -24)];
    expect(ask(events, 1)).toMatchObject({ advice: 'none', votes: 1 });
    const watered = [...three, trip('a', -24), trip('b', -24), irrigated(-20), heard('a', 0, true), heard('b', 0, true), heard('c', 0)];
    expect(ask(watered, 6, { lockoutHours: 0 })).toMatchObject({ advice: 'none', votes: 0 });
    expect(ask([...watered, reset('a', 0), reset('b', 0), trip('a', 0.2), trip('b', 0.4), heard('c', 0.5)], 1, { lockoutHours: 0 }).advice).toBe('irrigate');
  });

  test('a latch found standing votes at an unknown moment, and says so; an open latch takes the vote back', () => {
    const found = ask([...three, heard('a', 0, true), heard('b', 0, true), heard('c', 0)], 1);
    expect(found.advice).toBe('irrigate');
    expect(found.units[0]!.remark).toBe('The moment it latched is not known.');
    expect(ask([...three, trip('a', 0.1), trip('b', 0.2), heard('a', 0.5), heard('c', 0.5)], 1).votes).toBe(1);
  });

  test('a unit that left the leaf, or was never armed, does not vote', () => {
    const removed: ZoneEvent = { kind: 'removed', unit: 'b', at: h(0.6), knownAt: h(0.6) };
    expect(ask([...three, ...alive(0, 'a', 'b', 'c'), trip('a', 0.1), trip('b', 0.5), removed, trip('z', 0.3)], 1)).toMatchObject({ votes: 1, installed: 2 });
  });
});

describe('silence', () => {
  test('is never read as wet: with too few heard of, too few votes ask for a look', () => {
    const said = ask([...three, heard('a', 0)], 1);
    expect(said).toMatchObject({ advice: 'look', healthy: 1 });
    expect(said.reasons.join(' ')).toContain('2 units are silent: that is not wet.');
  });

  test('does not silence those who speak: enough votes stand whoever is silent', () => {
    expect(ask([...three, trip('a', 0.1), trip('b', 0.2)], 1)).toMatchObject({ advice: 'irrigate', healthy: 2 });
  });
});

describe('what holds a recommendation back', () => {
  const calling = [...three, ...alive(0, 'a', 'b', 'c'), trip('a', 0.1), trip('b', 0.5)];

  test('lockout after irrigation, to the hour', () => {
    expect(ask([...calling, irrigated(-23)], 0.9).advice).toBe('wait');
    expect(ask([...calling, irrigated(-23)], 1.1).advice).toBe('irrigate');
  });

  test('rain, summed over its span', () => {
    expect(ask([...calling, rain(-3, 3), rain(-10, 2)], 1)).toMatchObject({ advice: 'wait', reasons: [expect.any(String), '5 mm of rain fell within 24 h.'] });
    expect(ask([...calling, rain(-3, 3), rain(-25, 2)], 1).advice).toBe('irrigate');
    expect(ask(calling, 1, { rainHoldMm: 0 }).advice).toBe('irrigate'); // no rain is no hold, whatever the limit
  });

  test('persistence: the votes must have stood at the end of each window', () => {
    const standing = [heard('a', 23, true), heard('b', 23, true), heard('c', 23)];
    expect(ask([...calling, ...standing], 1, { windows: 2 })).toMatchObject({ advice: 'wait', votes: 2 });
    expect(ask([...calling, ...standing], 24.5, { windows: 2 }).advice).toBe('irrigate');
    // A unit reset overnight that trips again by noon stood both days.
    expect(ask([...calling, reset('a', 10), reset('b', 10), heard('c', 24), trip('a', 24.1), trip('b', 24.2)], 24.5, { windows: 2 }).advice).toBe('irrigate');
    expect(ask([...calling, reset('a', 10), reset('b', 10), heard('c', 24), trip('a', 24.1)], 24.5, { windows: 2 }).advice).toBe('none');
  });
});

describe('what was known then', () => {
  test('a late report counts from when it arrived', () => {
    const late = [...three, ...alive(0, 'a', 'b', 'c'), trip('a', 0.1), trip('b', 0.5, { known: 5 })];
    expect(ask(late, 1).advice).toBe('none');
    expect(ask(late, 5.5).advice).toBe('irrigate');
  });

  test('a replay tells each change once, and as it would have been told', () => {
    const events = [...three, ...alive(0, 'a', 'b', 'c'), trip('a', 0.1), trip('b', 0.5), irrigated(3), ...alive(3, 'a', 'b', 'c')];
    const replay = replayRule(rule, events, [0, 0.2, 0.6, 1, 4].map(h), noonOf);
    expect(replay.changes.map(({ advice, at }) => [advice, (at - NOON) / HOUR])).toEqual([['none', 0], ['irrigate', 0.6], ['none', 4]]);
    expect(replay.counts).toEqual({ irrigate: 2, wait: 0, look: 0, none: 3 });
    expect(() => replayRule(rule, events, [h(1), h(1)], noonOf)).toThrow(expect.objectContaining({ code: 'NOT_RISING', field: 'moments[1]' }));
  });
});

describe('risk', () => {
  // Shared design figures of the trade, derived: σ .145 of which irradiance .10 is shared, target .70, three of five at RWC .85.
  test('three of five under one sky are wrong three and a half times as often as if they were independent', () => {
    const risk = ruleRisk({ needed: 3 }, 5, { tripRwc: 0.7, ownSigma: Math.sqrt(0.145 ** 2 - 0.1 ** 2), sharedSigma: 0.1 }, 0.85, 0.6);
    expect(risk.falseCallIfIndependent).toBeCloseTo(0.027, 3);
    // Printed as .095; to four digits it is .0955.
    expect(Math.abs(risk.falseCall - 0.095)).toBeLessThan(0.001);
    expect(risk.missedCall).toBeGreaterThan(risk.missedCallIfIndependent);
  });
});

describe('a rule that cannot be', () => {
  test.each<[keyof ZoneRule, number, string]>([
    ['needed', 0, 'NOT_A_COUNT'], ['windows', 1.5, 'NOT_A_COUNT'], ['minHealthy', Number.NaN, 'NOT_A_COUNT'], ['hoursAroundNoon', 13, 'OUT_OF_RANGE'],
    ['hoursAroundNoon', 0, 'NOT_POSITIVE'], ['maxAgeHours', -1, 'NOT_POSITIVE'], ['lockoutHours', -1, 'NEGATIVE'], ['rainHoldMm', Number.POSITIVE_INFINITY, 'NOT_FINITE'], ['windows', 5, 'AGE_BELOW_WINDOWS'],
  ])('%s of %d is refused by name', (name, value, code) => {
    const field = code === 'AGE_BELOW_WINDOWS' ? 'maxAgeHours' : name;
    expect(() => requireRule({ ...rule, [name]: value })).toThrow(expect.objectContaining({ code, field }));
  });

  test('rain below zero is refused', () => {
    expect(() => requireRain(-1)).toThrow(expect.objectContaining({ code: 'NEGATIVE' }));
  });
});
