import { InputError } from '#libs/quantity';

/** A moment as the person's clock showed it: UTC with the offset that was valid there. */
export interface Moment {
  readonly at: Date;
  readonly offsetMin: number;
}

const RFC3339 = /^(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}:\d{2})(\.\d{1,9})?(Z|[+-]\d{2}:\d{2})$/;

/**
 * Reads RFC 3339 text with its offset, to the millisecond.
 *
 * @throws InputError `NOT_A_MOMENT` when the text has another form or names no real moment
 */
export function parseMoment(field: string, text: string): Moment {
  const match = RFC3339.exec(text);
  const at = match ? new Date(text) : new Date(NaN);
  if (!match || Number.isNaN(at.getTime())) {
    throw new InputError('NOT_A_MOMENT', field, `"${text}" is not a moment`, 'Write it like 2026-06-03T09:05:00+02:00, with the offset from UTC.');
  }
  const zone = match[4]!;
  const offsetMin = zone === 'Z' ? 0 : (zone.startsWith('-') ? -1 : 1) * (Number(zone.slice(1, 3)) * 60 + Number(zone.slice(4, 6)));
  if (Math.abs(offsetMin) > 14 * 60) {
    throw new InputError('NOT_A_MOMENT', field, `the offset ${zone} does not exist`, 'Offsets lie within 14 hours of UTC.');
  }
  return { at, offsetMin };
}

/** RFC 3339 text in the offset the moment was recorded with. */
export function formatMoment(at: Date, offsetMin = 0): string {
  if (offsetMin === 0) return at.toISOString();
  const shifted = new Date(at.getTime() + offsetMin * 60_000).toISOString().slice(0, -1);
  const minutes = Math.abs(offsetMin);
  const two = (value: number): string => String(value).padStart(2, '0');
  return `${shifted}${offsetMin < 0 ? '-' : '+'}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
}
