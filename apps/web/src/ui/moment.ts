/** Two digits, for clocks. */
export const two = (value: number): string => String(value).padStart(2, '0');
export const dayOf = (date: Date): string => `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
export const clockOf = (date: Date): string => `${two(date.getHours())}:${two(date.getMinutes())}`;

export function offsetOf(date: Date): string {
  const minutes = -date.getTimezoneOffset();
  return `${minutes < 0 ? '−' : '+'}${two(Math.floor(Math.abs(minutes) / 60))}:${two(Math.abs(minutes) % 60)}`;
}

/** "14:20" today, "tomorrow 14:20", else "2026-06-03 14:20", on this computer's clock. */
export function momentText(at: string, now: number): string {
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return at;
  const day = dayOf(date);
  if (day === dayOf(new Date(now))) return clockOf(date);
  if (day === dayOf(new Date(now - 86_400_000))) return `yesterday ${clockOf(date)}`;
  if (day === dayOf(new Date(now + 86_400_000))) return `tomorrow ${clockOf(date)}`;
  return `${day} ${clockOf(date)}`;
}

function spanText(seconds: number): string {
  if (seconds < 5400) return `${Math.max(1, Math.round(seconds / 60))} min`;
  return seconds < 129_600 ? `${Math.round(seconds / 3600)} h` : `${Math.round(seconds / 86_400)} days`;
}

const secondsUntil = (at: string, now: number): number => Math.round((new Date(at).getTime() - now) / 1000);

/** "in 12 min", "3 h ago", "in 2 days". */
export function relativeText(at: string, now: number): string {
  const seconds = secondsUntil(at, now);
  if (Math.abs(seconds) < 45) return 'now';
  return seconds < 0 ? `${spanText(-seconds)} ago` : `in ${spanText(seconds)}`;
}

/** "late by 12 min", for what was due at a moment that has passed. */
export const lateText = (at: string, now: number): string => `late by ${spanText(-secondsUntil(at, now))}`;

/** The text of an input of type datetime-local for a moment. */
export function localInput(date: Date): string {
  return `${dayOf(date)}T${clockOf(date)}:${two(date.getSeconds())}`;
}

/** RFC 3339 with this computer's offset from UTC, as the contract wants it. */
export function momentNow(date: Date = new Date()): string {
  return `${dayOf(date)}T${clockOf(date)}:${two(date.getSeconds())}.${String(date.getMilliseconds()).padStart(3, '0')}${offsetOf(date).replace('−', '-')}`;
}

/** What a person typed into a moment field, as RFC 3339; the text itself when it cannot be read, so that the server names the fault. */
export function momentFromInput(text: string): string {
  const date = new Date(text);
  return text === '' || Number.isNaN(date.getTime()) ? text : momentNow(date);
}
