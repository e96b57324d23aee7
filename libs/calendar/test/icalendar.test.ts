import * as fc from 'fast-check';
import { calendar, dateTimeUtc, escapeText, foldLine } from '#libs/calendar';

const octets = (text: string): number => new TextEncoder().encode(text).length;
/** RFC 5545, section 3.1: a line break followed by one white space is taken away. */
const unfold = (text: string): string => text.replace(/\r\n[ \t]/g, '');

describe('lines', () => {
  it('are folded to 75 octets without cutting a character, and unfold to what they were (RFC 5545, 3.1)', () => {
    fc.assert(fc.property(fc.string({ unit: 'grapheme', maxLength: 400 }).map((text) => text.replace(/[\r\n]/g, '')), (text) => {
      const folded = foldLine(text);
      expect(unfold(folded)).toBe(text);
      for (const line of folded.split('\r\n')) expect(octets(line)).toBeLessThanOrEqual(75);
    }), { numRuns: 300, seed: 5545 });
    expect(foldLine('x'.repeat(75))).toBe('x'.repeat(75));
    expect(foldLine('x'.repeat(76))).toBe(`${'x'.repeat(75)}\r\n x`);
  });
});

describe('values', () => {
  // The example of RFC 5545, section 3.3.11.
  it('of text are escaped as in the example of section 3.3.11', () => {
    expect(escapeText('Project XYZ Final Review\nConference Room - 3B\nCome Prepared.')).toBe('Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.');
    expect(escapeText('a;b,c\\d')).toBe('a\\;b\\,c\\\\d');
  });

  // January 19, 1998, at 0700 UTC: the example of RFC 5545, section 3.3.5.
  it('of moments are UTC as in the example of section 3.3.5', () => {
    expect(dateTimeUtc(Date.UTC(1998, 0, 19, 7))).toBe('19980119T070000Z');
    expect(() => dateTimeUtc(Number.NaN)).toThrow(expect.objectContaining({ code: 'NOT_A_MOMENT' }));
  });
});

describe('a calendar', () => {
  const text = calendar({ name: 'Due, lab A', madeAtMs: 0, refreshMin: 15, events: [{ uid: 'a@b', atMs: 3_600_000, summary: 'Weigh; now', description: 'for you', url: 'https://lab.example/ovens/1' }] });

  it('has what section 3.6 asks of every object and event, each line ended by CRLF (3.1, 3.4, 3.6.1)', () => {
    const lines = unfold(text).split('\r\n');
    expect(lines.at(-1)).toBe('');
    expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/);
    expect(lines.slice(0, 3)).toEqual(['BEGIN:VCALENDAR', 'VERSION:2.0', expect.stringMatching(/^PRODID:/)]);
    expect(lines).toEqual(expect.arrayContaining(['BEGIN:VEVENT', 'UID:a@b', 'DTSTAMP:19700101T000000Z', 'DTSTART:19700101T010000Z', 'SUMMARY:Weigh\\; now', 'DESCRIPTION:for you', 'URL:https://lab.example/ovens/1', 'END:VEVENT']));
    expect(lines.at(-2)).toBe('END:VCALENDAR');
    expect(lines).toContain('NAME:Due\\, lab A');
  });
});
