import { InputError } from '#libs/quantity';

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;

/** Local calendar of the simulated lab: days counted backwards from the last one, minutes of the day, RFC 3339 text. */
export interface Calendar {
  /** Milliseconds since 1970 of a local time `daysBefore` the last day; `clock` as hours and minutes, `7.5` is 07:30. */
  moment(daysBefore: number, clock: number): number;
  text(ms: number): string;
  readonly endsAtMs: number;
}

/**
 * The calendar of a lab whose last moment is `endsAt`.
 *
 * @param endsAt RFC 3339 with offset (`Z` or ±hh:mm); the offset is kept for all moments of the lab
 * @throws InputError `NOT_A_MOMENT`
 */
export function calendarUntil(endsAt: string): Calendar {
  const match = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|([+-])(\d{2}):(\d{2}))$/.exec(endsAt);
  const endsAtMs = Date.parse(endsAt);
  if (match === null || Number.isNaN(endsAtMs)) {
    throw new InputError('NOT_A_MOMENT', 'endsAt', `"${endsAt}" is no moment with an offset`, 'Write it like 2026-06-03T09:05:00+02:00.');
  }
  const minutes = match[1] === undefined ? 0 : (match[1] === '-' ? -1 : 1) * (Number(match[2]) * 60 + Number(match[3]));
  const localMidnight = Math.floor((endsAtMs + minutes * MINUTE) / DAY) * DAY - minutes * MINUTE;
  const suffix = `${minutes < 0 ? '-' : '+'}${two(Math.abs(minutes) / 60)}:${two(Math.abs(minutes) % 60)}`;
  return {
    endsAtMs,
    moment: (daysBefore, clock) => localMidnight - daysBefore * DAY + Math.round(clock * 60 * MINUTE),
    text: (ms) => `${new Date(Math.round(ms / 1000) * 1000 + minutes * MINUTE).toISOString().slice(0, 19)}.000${suffix}`,
  };
}

const two = (n: number): string => String(Math.floor(n)).padStart(2, '0');
