import { BURST_GAP_MS, KeyBurst } from '../src/listening/key-burst.js';
import { capturedAs, sayingOf } from '../src/listening/said.js';
import type { LineFormatFieldsFragment } from '../src/generated/graphql.js';

const format: LineFormatFieldsFragment = {
  id: 'format', pattern: '{mark},{value} {unit}', stableMarks: ['ST'], movingMarks: ['US'], netMarks: [], grossMarks: [], decimalMark: 'POINT', unit: 'mg', unitWords: [], unitOnlyWhenStable: false,
  baudRate: 9600, dataBits: 8, parity: 'NONE', stopBits: 1, terminator: 'CRLF',
};

it('takes a settled line only, keeps the raw line, and takes no empty pan for a mass', () => {
  expect(sayingOf('ST,+   60.30 mg', format, 'heard', 'Bench 2')).toEqual({
    outcome: 'take', said: { way: 'heard', through: 'Bench 2', rawLine: 'ST,+   60.30 mg', valueText: '60.30', unit: 'mg', stable: true },
  });
  expect(sayingOf('US,+   60.29 mg', format, 'keys').outcome).toBe('moving');
  expect(sayingOf('ST,+    0.00 mg', format, 'keys').outcome).toBe('zero');
  expect(sayingOf('W-1', format, 'keys').outcome).toBe('unread');
  // A format without a mark cannot say that the value had settled; a meter in the dark may well show zero.
  const meter = { ...format, pattern: '{value} {unit}', stableMarks: [], movingMarks: [], unit: 'nW' };
  expect(sayingOf('0.0 nW', meter, 'heard')).toMatchObject({ outcome: 'take', said: { valueText: '0.0', stable: null } });
});

it('calls a number the instrument’s only while nobody has typed over it or changed its unit', () => {
  const said = { way: 'serial', through: null, rawLine: 'ST,+   60.30 mg', valueText: '60.30', unit: 'mg', stable: true } as const;
  expect(capturedAs(said, '60.30', 'mg')).toEqual({ entryMode: 'LINE', rawLine: 'ST,+   60.30 mg', stable: true });
  expect(capturedAs(said, '60.3', 'mg')).toEqual({ entryMode: 'TYPED', rawLine: '60.3', stable: null });
  expect(capturedAs(said, '60.30', 'g').entryMode).toBe('TYPED');
  expect(capturedAs(null, '60.30', 'mg').entryMode).toBe('TYPED');
});

it('tells a burst of keys from a hand', () => {
  const burst = new KeyBurst();
  const type = (text: string, gapMs: number, fromMs = 0): string | null => {
    [...text].forEach((character, i) => burst.key(character, fromMs + i * gapMs));
    return burst.enter(fromMs + text.length * gapMs);
  };
  expect(type('ST,+   60.30 mg', 8)).toBe('ST,+   60.30 mg');
  expect(type('60.30', 120)).toBeNull();
  // A hand typed the beginning; the scanner's own keys follow at once.
  burst.key('7', 0);
  expect(type('TL4K7X9', 5, 400)).toBe('TL4K7X9');
  // Nobody scans three characters, and a late Enter is a hand's.
  expect(type('W-1', 5)).toBeNull();
  [...'W-123'].forEach((character, i) => burst.key(character, i * 5));
  expect(burst.enter(5 * 4 + BURST_GAP_MS + 1)).toBeNull();
});
