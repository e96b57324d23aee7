import type { ZoneEvent } from './events.js';

/** How a unit stands under its leaf after what is known of it. */
export interface Watched {
  readonly unit: string;
  readonly heardAt: number | null;
  /** Of the latch that stands: when it was told, and when it happened where that is known. */
  readonly trip: { readonly at: number; readonly happenedAt: number | null } | null;
}

type UnitEvent = Extract<ZoneEvent, { readonly unit: string }>;
type Irrigated = Extract<ZoneEvent, { readonly kind: 'irrigated' }>;
type Rain = Extract<ZoneEvent, { readonly kind: 'rain' }>;

/** Events of one unit in order of time, and how it stood after each; null while it is under no leaf. */
interface Course {
  readonly unit: string;
  readonly events: UnitEvent[];
  readonly states: (Watched | null)[];
}

/** What is known of a zone, growing with the moments it is asked about, so that a season of them costs little more than its events. */
export interface Knowledge {
  /** Learns all that was known at a moment; moments rise. */
  learnUntil(known: number): void;
  /** Units under a leaf at a moment not later than the one learnt until, by name. */
  unitsAt(moment: number): Watched[];
  /** The last irrigation up to a moment; null for none. */
  irrigatedAt(moment: number): number | null;
  /** Rain after one moment and up to another, mm. */
  rainMm(after: number, until: number): number;
}

/** Nothing is known of an event before it happened and before the record had it. */
const availableAt = ({ at, knownAt }: ZoneEvent): number => Math.max(at, knownAt);

/** @param events of one zone, in any order; of two at one moment the one known first comes first */
export function knowledgeOf(events: readonly ZoneEvent[]): Knowledge {
  const coming = [...events].sort((a, b) => availableAt(a) - availableAt(b));
  const courses: Course[] = [];
  const byUnit = new Map<string, Course>();
  const irrigations: Irrigated[] = [];
  const rains: Rain[] = [];
  let next = 0;

  const courseOf = (unit: string): Course => {
    let course = byUnit.get(unit);
    if (!course) {
      course = { unit, events: [], states: [] };
      byUnit.set(unit, course);
      courses.splice(firstAfter(courses, (each) => each.unit > unit), 0, course);
    }
    return course;
  };
  const learn = (event: ZoneEvent): void => {
    if (event.kind === 'rain') rains.push(event);
    else if (event.kind === 'irrigated') irrigations.splice(placeOf(irrigations, event), 0, event);
    else insert(courseOf(event.unit), event);
  };
  return {
    learnUntil(known) {
      for (; next < coming.length && availableAt(coming[next]!) <= known; next += 1) learn(coming[next]!);
    },
    unitsAt: (moment) => courses.flatMap(({ events: of, states }) => {
      const last = of.at(-1)!.at <= moment ? of.length : firstAfter(of, ({ at }) => at > moment);
      return (last > 0 ? states[last - 1] : null) ?? [];
    }),
    irrigatedAt: (moment) => irrigations[firstAfter(irrigations, ({ at }) => at > moment) - 1]?.at ?? null,
    rainMm: (after, until) => rains.reduce((sum, { at, depthMm }) => (at > after && at <= until ? sum + depthMm : sum), 0),
  };
}

/** What comes late is put where it belongs, and what followed from before it is told anew. */
function insert({ unit, events, states }: Course, event: UnitEvent): void {
  const place = placeOf(events, event);
  events.splice(place, 0, event);
  states.length = place;
  for (let i = place; i < events.length; i += 1) states.push(after(unit, states[i - 1] ?? null, events[i]!));
}

function after(unit: string, before: Watched | null, event: UnitEvent): Watched | null {
  if (event.kind === 'armed') return { unit, heardAt: event.at, trip: null };
  // What comes before arming or after removal says nothing of a leaf.
  if (before === null || event.kind === 'removed') return null;
  return { unit, heardAt: event.at, trip: latchAfter(before.trip, event) };
}

function latchAfter(trip: Watched['trip'], event: UnitEvent): Watched['trip'] {
  if (event.kind === 'trip') return trip ?? { at: event.at, happenedAt: event.happenedAt };
  // A report of a standing latch is a trip at a moment nobody knows; one of an open latch after a trip means it was reset.
  if (event.kind === 'heard' && event.latched) return trip ?? { at: event.at, happenedAt: null };
  return null;
}

/** Where an event belongs among others by its time, then by when it was known; after its equals. */
const placeOf = (events: readonly ZoneEvent[], { at, knownAt }: ZoneEvent): number =>
  firstAfter(events, (each) => each.at > at || (each.at === at && each.knownAt > knownAt));

/** First index at which `isAfter` holds; it holds from there on. */
function firstAfter<T>(list: readonly T[], isAfter: (each: T) => boolean): number {
  let [low, high] = [0, list.length];
  if (high === 0 || !isAfter(list[high - 1]!)) return high;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (isAfter(list[middle]!)) high = middle;
    else low = middle + 1;
  }
  return low;
}
