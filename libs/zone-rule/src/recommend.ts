import { InputError, requireFinite } from '#libs/quantity';
import type { ZoneEvent } from './events.js';
import { knowledgeOf, type Knowledge, type Watched } from './knowledge.js';
import { requireRule, type ZoneRule } from './rule.js';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;

/** Solar noon of the day that a moment lies in, both ms since 1970 UTC. The place is the caller's to know. */
export type SolarNoon = (at: number) => number;

/**
 * `irrigate`: enough votes, nothing holds it back. `wait`: enough votes, but a lockout or rain holds it back, or they have
 * not stood long enough. `look`: too few votes among too few units heard of: go and look, silence is not wet.
 * `none`: too few votes among enough units heard of.
 */
export type Advice = 'irrigate' | 'wait' | 'look' | 'none';

export interface UnitStanding {
  readonly unit: string;
  readonly tripped: boolean;
  /** Its trip counts as a vote. */
  readonly votes: boolean;
  readonly silent: boolean;
  /** When it was last heard of, ms; null for never since it was armed. */
  readonly heardAt: number | null;
  /** Why a trip does not vote, or what is not known of it; null where nothing is to say. */
  readonly remark: string | null;
}

export interface Recommendation {
  readonly advice: Advice;
  /** The moment it is made for, ms. */
  readonly at: number;
  readonly votes: number;
  readonly installed: number;
  readonly healthy: number;
  readonly units: readonly UnitStanding[];
  /** In the order in which they weigh: what led to the advice. */
  readonly reasons: readonly string[];
}

/**
 * What a rule says of a zone at a moment, from what was known then.
 *
 * A trip votes while its latch stands, is not older than `maxAgeHours`, came after the last irrigation, and happened within
 * the window around solar noon (or at an unknown moment: then it votes, and the remark says so). The votes must have stood
 * at the end of each of the last `windows` windows; a window that is still open ends now.
 *
 * @param rule as {@link requireRule} takes it
 * @param events of one zone, in any order
 * @param at the moment, ms
 * @param noonOf solar noon at the zone
 * @returns advice with every unit's standing and the reasons as sentences
 * @throws InputError those of {@link requireRule}; `NOT_FINITE` for a moment
 *
 * Source: k of n per zone, persistence, window, age, least healthy, lockout, rain hold: common practice, no source.
 *
 * @example
 * const rule = { needed: 1, windows: 1, hoursAroundNoon: 2, maxAgeHours: 48, silentAfterHours: 6, minHealthy: 1, lockoutHours: 24, rainHoldMm: 5, rainHoldHours: 24 };
 * const noon = Date.parse('2026-06-03T12:00:00Z');
 * const events = [{ kind: 'armed', unit: 'U1', at: noon - 7_200_000, knownAt: noon - 7_200_000 }, { kind: 'trip', unit: 'U1', at: noon, knownAt: noon, happenedAt: noon }];
 * recommend(rule, events, noon + 60_000, () => noon).advice // => 'irrigate'
 */
export function recommend(rule: ZoneRule, events: readonly ZoneEvent[], at: number, noonOf: SolarNoon): Recommendation {
  requireRule(rule);
  requireFinite('at', at);
  return recommendFrom(rule, knowledgeOf(events), at, noonOf);
}

/** {@link recommend} from what is known; it learns until the moment asked about. */
export function recommendFrom(rule: ZoneRule, knowledge: Knowledge, at: number, noonOf: SolarNoon): Recommendation {
  knowledge.learnUntil(at);
  const units = standingAt(rule, knowledge, at, noonOf);
  const votes = units.filter((unit) => unit.votes).length;
  const healthy = units.filter(({ silent }) => !silent).length;
  const found = { at, votes, installed: units.length, healthy, units };
  const said = `${votes} of ${units.length} units vote; the rule asks for ${rule.needed}.`;
  const silence = healthy < units.length
    ? [`${units.length - healthy} ${units.length - healthy === 1 ? 'unit is' : 'units are'} silent: that is not wet.`] : [];
  if (votes < rule.needed) {
    const tooFew = healthy < rule.minHealthy;
    return {
      ...found, advice: tooFew ? 'look' : 'none',
      reasons: [said, ...silence, ...(tooFew ? [`Only ${healthy} units were heard of within ${rule.silentAfterHours} h; the rule asks for ${rule.minHealthy} before few votes mean anything. Go and look.`] : [])],
    };
  }
  const holds = holdsAt(rule, knowledge, at, noonOf);
  return { ...found, advice: holds.length > 0 ? 'wait' : 'irrigate', reasons: [said, ...holds, ...silence] };
}

/** What keeps enough votes from becoming a recommendation. */
function holdsAt(rule: ZoneRule, knowledge: Knowledge, at: number, noonOf: SolarNoon): string[] {
  const holds: string[] = [];
  const stood = windowEnds(rule, at, noonOf).filter((end) => standingAt(rule, knowledge, end, noonOf).filter(({ votes }) => votes).length >= rule.needed).length;
  if (stood < rule.windows) holds.push(`They stood at the end of ${stood} of the last ${rule.windows} windows around noon.`);
  const irrigatedAt = knowledge.irrigatedAt(at);
  if (irrigatedAt !== null && at - irrigatedAt < rule.lockoutHours * HOUR) {
    holds.push(`The zone was irrigated ${hoursText(at - irrigatedAt)} ago; the rule waits ${rule.lockoutHours} h.`);
  }
  const rainMm = knowledge.rainMm(at - rule.rainHoldHours * HOUR, at);
  if (rainMm > 0 && rainMm >= rule.rainHoldMm) holds.push(`${Number(rainMm.toFixed(1))} mm of rain fell within ${rule.rainHoldHours} h.`);
  return holds;
}

/** Ends of the last windows: the present one (or the last that has ended) and those a day apart before it. */
function windowEnds(rule: ZoneRule, at: number, noonOf: SolarNoon): number[] {
  const half = rule.hoursAroundNoon * HOUR;
  // Before today's window begins, yesterday's is the last one.
  const last = at >= noonOf(at) - half ? at : at - DAY;
  return Array.from({ length: rule.windows }, (_, back) => Math.min(noonOf(last - back * DAY) + half, at));
}

/** How each unit stood at a moment, by what is known now. */
function standingAt(rule: ZoneRule, knowledge: Knowledge, moment: number, noonOf: SolarNoon): UnitStanding[] {
  const irrigatedAt = knowledge.irrigatedAt(moment);
  return knowledge.unitsAt(moment).map((unit) => standingOf(rule, unit, moment, irrigatedAt, noonOf));
}

function standingOf(rule: ZoneRule, { unit, heardAt, trip }: Watched, moment: number, irrigatedAt: number | null, noonOf: SolarNoon): UnitStanding {
  const silent = heardAt === null || moment - heardAt > rule.silentAfterHours * HOUR;
  const against = trip && whyNot(rule, trip, moment, irrigatedAt, noonOf);
  const unknown = trip && trip.happenedAt === null ? 'The moment it latched is not known.' : null;
  return { unit, tripped: trip !== null, votes: trip !== null && against === null, silent, heardAt, remark: against ?? unknown };
}

function whyNot(rule: ZoneRule, trip: NonNullable<Watched['trip']>, moment: number, irrigatedAt: number | null, noonOf: SolarNoon): string | null {
  const since = trip.happenedAt ?? trip.at;
  if (irrigatedAt !== null && since < irrigatedAt) return 'It latched before the last irrigation and was not reset.';
  if (moment - since > rule.maxAgeHours * HOUR) return `It latched ${hoursText(moment - since)} ago; the rule counts ${rule.maxAgeHours} h.`;
  if (trip.happenedAt !== null) {
    const fromNoon = Math.abs(trip.happenedAt - noonOf(trip.happenedAt)) / HOUR;
    if (fromNoon > rule.hoursAroundNoon) return `It latched ${fromNoon.toFixed(1)} h from solar noon; the rule counts ${rule.hoursAroundNoon} h.`;
  }
  return null;
}

const hoursText = (ms: number): string => `${(ms / HOUR).toFixed(1)} h`;

/** @throws InputError `NEGATIVE` for rain below zero: a rule must never be told that water left the soil upwards */
export function requireRain(depthMm: number): number {
  if (requireFinite('depthMm', depthMm) < 0) throw new InputError('NEGATIVE', 'depthMm', `is ${depthMm} mm`, 'Give zero or more.');
  return depthMm;
}
