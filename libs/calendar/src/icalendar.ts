import { InputError } from '#libs/quantity';

/** Something that happens at a moment. */
export interface CalendarEvent {
  /** The same for the same thing at every fetch, so that a calendar changes its entry instead of adding one. */
  readonly uid: string;
  /** Milliseconds since 1970-01-01 UTC. */
  readonly atMs: number;
  readonly summary: string;
  readonly description?: string;
  readonly url?: string;
}

export interface CalendarContents {
  readonly name: string;
  /** When it was made, milliseconds since 1970-01-01 UTC. */
  readonly madeAtMs: number;
  /** How often a calendar may look again, minutes. */
  readonly refreshMin: number;
  readonly events: readonly CalendarEvent[];
}

const LINE_OCTETS = 75;
const encoder = new TextEncoder();

/** TEXT values: backslash, semicolon, comma and line break are escaped (RFC 5545, section 3.3.11). */
export const escapeText = (text: string): string =>
  text.replace(/\\/g, '\\\\').replace(/;/g, '\\;').replace(/,/g, '\\,').replace(/\r\n|\r|\n/g, '\\n');

/** UTC date with time (RFC 5545, section 3.3.5, form #2). @throws InputError `NOT_A_MOMENT` */
export function dateTimeUtc(ms: number): string {
  const date = new Date(ms);
  if (!Number.isFinite(ms) || Number.isNaN(date.getTime())) throw new InputError('NOT_A_MOMENT', 'atMs', `${ms} is no moment`, 'Give milliseconds since 1970.');
  return `${date.toISOString().slice(0, 19).replace(/[-:]/g, '')}Z`;
}

/**
 * Folds a content line to at most 75 octets (RFC 5545, section 3.1): a line break and a space stand between the parts, and no
 * character is cut in the middle of its octets.
 */
export function foldLine(line: string): string {
  const parts: string[] = [];
  let part = '';
  let octets = 0;
  for (const letter of line) {
    const size = encoder.encode(letter).length;
    if (octets + size > LINE_OCTETS) {
      parts.push(part);
      part = ' ';
      octets = 1;
    }
    part += letter;
    octets += size;
  }
  return [...parts, part].join('\r\n');
}

/**
 * A calendar object (RFC 5545) with one event a thing that is due: a moment without duration (section 3.6.1: DTSTART alone,
 * as date with time, ends when it starts), which takes up no time (TRANSP, section 3.8.2.7).
 *
 * @example calendar({ name: 'Due', madeAtMs: 0, refreshMin: 15, events: [] }).startsWith('BEGIN:VCALENDAR\r\n') // true
 */
export function calendar({ name, madeAtMs, refreshMin, events }: CalendarContents): string {
  const lines = [
    'BEGIN:VCALENDAR', 'VERSION:2.0', 'PRODID:-//Threadleaf//Due//EN', 'CALSCALE:GREGORIAN', 'METHOD:PUBLISH',
    // RFC 7986, sections 5.1 and 5.7.
    `NAME:${escapeText(name)}`, `REFRESH-INTERVAL;VALUE=DURATION:PT${refreshMin}M`,
    ...events.flatMap(({ uid, atMs, summary, description, url }) => [
      'BEGIN:VEVENT', `UID:${escapeText(uid)}`, `DTSTAMP:${dateTimeUtc(madeAtMs)}`, `DTSTART:${dateTimeUtc(atMs)}`, `SUMMARY:${escapeText(summary)}`,
      ...(description ? [`DESCRIPTION:${escapeText(description)}`] : []), ...(url ? [`URL:${url}`] : []), 'TRANSP:TRANSPARENT', 'END:VEVENT',
    ]),
    'END:VCALENDAR',
  ];
  return `${lines.map(foldLine).join('\r\n')}\r\n`;
}
