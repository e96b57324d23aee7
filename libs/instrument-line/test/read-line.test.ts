import fc from 'fast-check';
import { LineStream, partsOf, readLine, requireLineFormat, Settling, valueIn, type LineFormat } from '#libs/instrument-line';
import { InputError } from '#libs/quantity';

const plain: LineFormat = {
  pattern: '{value} {unit}', stableMarks: [], movingMarks: [], netMarks: [], grossMarks: [], decimalMark: 'EITHER', unit: 'mg', unitWords: [], unitOnlyWhenStable: false,
};
const marked: LineFormat = { ...plain, pattern: '{mark},{load},{value} {unit}', stableMarks: ['ST'], movingMarks: ['US'], netMarks: ['NT'], grossMarks: ['GS'] };
const told = (line: string, format: LineFormat): string => {
  const read = readLine(line, format);
  return read.outcome === 'unread' ? read.why : [read.outcome, read.valueText, read.decimal, read.unit, read.load ?? '-', read.zero ? 'zero' : ''].join(' ').trim();
};

describe('a line', () => {
  it.each<[string, LineFormat, string]>([
    ['+   60.30 mg', plain, 'stable +60.30 60.3 mg -'],
    ['  -  0,0603 g  ', plain, 'stable -0,0603 -0.0603 g -'],
    ['\u2212 12.5 mg', plain, 'stable \u221212.5 -12.5 mg -'],
    ['60.30mg', plain, 'stable 60.30 60.3 mg -'],
    ['60.30', plain, 'stable 60.30 60.3 mg -'],
    ['   0.00 mg', plain, 'stable 0.00 0 mg - zero'],
    ['-0.00 mg', plain, 'stable -0.00 0 mg - zero'],
    ['ST,NT,+00060.30  mg', marked, 'stable +00060.30 60.3 mg NET'],
    ['US,GS,+00060.31  mg', marked, 'moving +00060.31 60.31 mg GROSS'],
    ['ST,GS,-     0.02 mg', marked, 'stable -0.02 -0.02 mg GROSS'],
    [',NT,+00060.30 mg', marked, 'moving +00060.30 60.3 mg NET'],
    ['OL,GS,+99999.99 mg', marked, 'It fits up to {mark}; then "," is expected.'],
    ['S S     60.30 mg', { ...plain, pattern: '{mark} {value} {unit}', stableMarks: ['S S'], movingMarks: ['S D'] }, 'stable 60.30 60.3 mg -'],
    ['S D     60.29 mg', { ...plain, pattern: '{mark} {value} {unit}', stableMarks: ['S S'], movingMarks: ['S D'] }, 'moving 60.29 60.29 mg -'],
    ['+ 60.30 mg ?', { ...plain, pattern: '{value} {unit} {mark}', movingMarks: ['?'] }, 'moving +60.30 60.3 mg -'],
    ['+ 60.30 mg', { ...plain, pattern: '{value} {unit} {mark}', movingMarks: ['?'] }, 'stable +60.30 60.3 mg -'],
    ['N    + 60.30', { ...plain, pattern: '{word} {value} {unit}', unitOnlyWhenStable: true }, 'moving +60.30 60.3 mg -'],
    ['N    + 60.30 mg', { ...plain, pattern: '{word} {value} {unit}', unitOnlyWhenStable: true }, 'stable +60.30 60.3 mg -'],
    ['0.06030 grm', { ...plain, unitWords: [{ written: 'grm', unit: 'g' }] }, 'stable 0.06030 0.0603 g -'],
    ['1.512E-07 W', { ...plain, unit: 'nW' }, 'stable 1.512E-07 0.0000001512 W -'],
    ['03.06.26 09:05  12,345 mg #7', { ...plain, pattern: '{word} {word} {value} {unit} {any}', decimalMark: 'COMMA' }, 'stable 12,345 12.345 mg -'],
    ['\u2402ST,NT,+1.00 mg\u2403', marked, 'stable +1.00 1 mg NET'],
    ['', plain, 'The line is empty.'],
    ['\u2400\u2400', plain, 'The line is empty.'],
    ['ERR 51', plain, 'It does not begin with {value}.'],
    ['60.30 mg checked', plain, 'It goes on after the end of the pattern. Put {any} there if what follows does not matter.'],
    ['60.30 MG', plain, '"MG" is not a unit known here (capitals count).'],
    ['60.30 mV', plain, 'The unit "mV" is one of electric potential; this instrument shows mass.'],
    ['1,234 mg', plain, '"1,234" may mean 1.234 or 1234.'],
    ['60,30 mg', { ...plain, decimalMark: 'POINT' }, '"60,30" has "," where the decimal mark is ".".'],
    ['60.3.0 mg', plain, 'It goes on after the end of the pattern. Put {any} there if what follows does not matter.'],
    ['9'.repeat(201), plain, 'The line has 201 characters; at most 200 are read. Look at the terminator.'],
  ])('%s', (line, format, expected) => {
    requireLineFormat(format);
    expect(told(line, format)).toBe(expected);
  });

  it('is read in the unit that is wanted, exactly', () => {
    expect(valueIn({ decimal: '0.0603', unit: 'g' }, 'mg')).toBe('60.3');
    expect(valueIn({ decimal: '0.0000001512', unit: 'W' }, 'nW')).toBe('151.2');
  });

  it('of any characters whatever is read or told as unread, in bounded time', () => {
    const greedy: LineFormat = { ...plain, pattern: '{any}{any}{any}{any}{any}{any}{any}{any}x{any}{any}{any}{any}{value}{any}{any}y{unit}', stableMarks: [] };
    const long = 'x1'.repeat(100);
    const begun = performance.now();
    expect(readLine(long, greedy).outcome).toBe('unread');
    // Minutes without a guard; the limit is a thousand times what it takes.
    expect(performance.now() - begun).toBeLessThan(5_000);
    fc.assert(fc.property(fc.string({ maxLength: 220 }), (line) => ['stable', 'moving', 'unread'].includes(readLine(line, marked).outcome)));
  });

  it('read back from what a format wrote gives the same number', () => {
    fc.assert(fc.property(fc.integer({ min: -999_999, max: 999_999 }), fc.constantFrom('ST', 'US'), fc.nat(6), (hundredths, mark, gap) => {
      const text = `${mark},GS,${hundredths < 0 ? '-' : '+'}${' '.repeat(gap)}${(Math.abs(hundredths) / 100).toFixed(2)} mg`;
      const read = readLine(text, marked);
      expect(read).toMatchObject({ outcome: mark === 'ST' ? 'stable' : 'moving', unit: 'mg' });
      expect(Number((read as { decimal: string }).decimal) * 100).toBeCloseTo(hundredths, 6);
    }));
  });
});

describe('a pattern', () => {
  it.each<[Partial<LineFormat>, string, string]>([
    [{ pattern: ' ' }, 'PATTERN_EMPTY', 'pattern'],
    [{ pattern: '{unit}' }, 'NO_VALUE', 'pattern'],
    [{ pattern: '{value} {mass}' }, 'UNKNOWN_PART', 'pattern'],
    [{ pattern: '{value} {value}' }, 'PART_TWICE', 'pattern'],
    [{ pattern: `{value}${'x'.repeat(200)}` }, 'PATTERN_LONG', 'pattern'],
    [{ pattern: `{value}${' {any}'.repeat(20)}` }, 'PATTERN_LONG', 'pattern'],
    [{ pattern: '{mark} {value}' }, 'MARKS_MISSING', 'stableMarks'],
    [{ pattern: '{load} {value}' }, 'MARKS_MISSING', 'netMarks'],
    [{ pattern: '{mark} {value}', stableMarks: ['S'], movingMarks: ['S'] }, 'MARK_TWICE', 'movingMarks'],
    [{ stableMarks: [' '] }, 'MARK_FORM', 'stableMarks'],
    [{ movingMarks: Array.from({ length: 13 }, (_, i) => `m${i}`) }, 'MARKS_MANY', 'movingMarks'],
    [{ pattern: '{value}', unitOnlyWhenStable: true }, 'NO_UNIT', 'pattern'],
    [{ unit: 'stone' as 'mg' }, 'UNKNOWN_UNIT', 'unit'],
    [{ unitWords: [{ written: 'g r', unit: 'g' }] }, 'MARK_FORM', 'unitWords'],
  ])('%j is refused', (more, code, field) => {
    try {
      requireLineFormat({ ...plain, ...more });
    } catch (error) {
      expect(error).toBeInstanceOf(InputError);
      expect(error).toMatchObject({ code, field });
      return;
    }
    throw new Error('it was not refused');
  });

  it('may hold a brace that opens nothing, as text', () => {
    expect(partsOf('{ {value}').map(({ kind }) => kind)).toEqual(['text', 'space', 'value']);
  });
});

describe('a stream', () => {
  const bytes = (text: string): Uint8Array => Uint8Array.from(text, (letter) => letter.charCodeAt(0));

  it('gives the same lines however it is cut into pieces', () => {
    const text = 'ST,+1.00 mg\r\nUS,+1.0\r\n\r\n\u0002ST,+2.00 mg\u0003\r\nhalf';
    const whole = new LineStream('CRLF').take(bytes(text));
    expect(whole).toEqual(['ST,+1.00 mg', 'US,+1.0', '\u2402ST,+2.00 mg\u2403']);
    fc.assert(fc.property(fc.array(fc.integer({ min: 0, max: text.length }), { maxLength: 12 }), (cuts) => {
      const places = [0, ...cuts.sort((a, b) => a - b), text.length];
      const stream = new LineStream('CRLF');
      expect(places.slice(1).flatMap((place, i) => stream.take(bytes(text.slice(places[i], place))))).toEqual(whole);
    }));
  });

  it('that never ends a line is told as noise, not held for ever', () => {
    const stream = new LineStream('LF');
    expect(stream.take(bytes('x'.repeat(1_000))).map(({ length }) => length)).toEqual([400, 400]);
    expect(readLine('x'.repeat(400), plain).outcome).toBe('unread');
  });

  it('forgets a partial line after a gap', () => {
    const stream = new LineStream('CR');
    stream.take(bytes('+60.'));
    stream.forget();
    expect(stream.take(bytes('70.00 mg\r'))).toEqual(['70.00 mg']);
  });
});

describe('settling', () => {
  it('tells a stable value once, until the display moves or shows another', () => {
    const settling = new Settling();
    const lines = ['ST,GS,+1.00 mg', 'ST,GS,+1.00 mg', 'US,GS,+1.00 mg', 'ST,GS,+1.00 mg', 'ST,GS,+1.01 mg', 'noise', 'ST,GS,+1.01 mg', 'ST,NT,+1.01 mg'];
    expect(lines.map((line) => settling.isNew(readLine(line, marked)))).toEqual([true, false, false, true, true, false, false, true]);
  });
});
