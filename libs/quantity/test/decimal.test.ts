import fc from 'fast-check';
import {
  compareDecimals, decimalOf, InputError, multiplyDecimal, parseDecimal, roundDecimal, shiftDecimal, subtractDecimals,
} from '../src/index.js';

const code = (run: () => unknown): string => {
  try {
    run();
  } catch (error) {
    if (error instanceof InputError) return error.code;
    throw error;
  }
  return 'NONE';
};

describe('parseDecimal', () => {
  it.each([
    ['60.3', '60.3', 1],
    ['060.30', '60.3', 2],
    ['+   60.30', '60.3', 2],
    ['-0.00', '0', 2],
    ['\u22125', '-5', 0],
    ['.5', '0.5', 1],
    ['5.', '5', 0],
    ['60,3', '60.3', 1],
    ['0,603', '0.603', 3],
    ['1234,567', '1234.567', 3],
    ['6.03e-2', '0.0603', 4],
    ['6.03E2', '603', 0],
    ['1.234', '1.234', 3],
    ['\u00a012\u202f', '12', 0],
  ])('reads %p as %s with %i places', (text, decimal, places) => {
    expect(parseDecimal(text)).toEqual({ text, value: Number(decimal), decimal, decimalPlaces: places });
  });

  it.each(['1,234', '12,345', '999,000', '-1,234'])('refuses %p: it reads two ways', (text) => {
    expect(code(() => parseDecimal(text))).toBe('AMBIGUOUS_NUMBER');
    expect(parseDecimal(text, { decimalComma: true }).value).toBeCloseTo(Number(text.replace(',', '.')), 12);
  });

  it.each(['1.234,5', '1,234.5', '1,234,567', '1.234.567'])('never reads grouping marks: %p', (text) => {
    for (const decimalComma of [true, false, undefined]) expect(code(() => parseDecimal(text, { decimalComma }))).toBe('AMBIGUOUS_NUMBER');
  });

  it('holds to the decimal mark that was stated', () => {
    expect(code(() => parseDecimal('60.3', { decimalComma: true }))).toBe('WRONG_DECIMAL_MARK');
    expect(code(() => parseDecimal('60,3', { decimalComma: false }))).toBe('WRONG_DECIMAL_MARK');
  });

  it.each(['', ' ', '-', '.', 'e5', '1 234', '12a', '1e', 'NaN', 'Infinity', '0x10', '١٢', '--5', '+-5', '2026-11-25', '1/2'])(
    'refuses %p as a number',
    (text) => expect(code(() => parseDecimal(text))).toBe('NOT_A_NUMBER'),
  );

  it('refuses what text, database and hash could not all carry', () => {
    expect(code(() => parseDecimal('1'.repeat(35)))).toBe('NUMBER_TOO_LONG');
    expect(code(() => parseDecimal('1e31'))).toBe('NUMBER_TOO_LONG');
  });

  it('names the field it was asked to name', () => {
    expect(() => parseDecimal('x', { field: 'row 7, column fresh_g' })).toThrow(/^row 7, column fresh_g: /);
  });

  it('reads every double back from its decimal', () => {
    fc.assert(fc.property(fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e20, max: 1e20 }), (x) => {
      fc.pre(x === 0 || Math.abs(x) > 1e-20);
      expect(parseDecimal(decimalOf(x)).value).toBe(x === 0 ? 0 : x);
    }));
  });

  it('gives equal numbers equal spellings', () => {
    fc.assert(fc.property(fc.bigInt(-(10n ** 15n), 10n ** 15n), fc.nat(8), fc.nat(4), (digits, places, zeros) => {
      const plain = shiftDecimal(digits.toString(), -places);
      const padded = plain.includes('.') ? plain + '0'.repeat(zeros) : plain;
      expect(parseDecimal(padded, { decimalComma: false }).decimal).toBe(plain);
      expect(parseDecimal(padded.replace('.', ','), { decimalComma: true }).decimal).toBe(plain);
    }));
  });
});

describe('exact arithmetic', () => {
  it('subtracts where doubles would not', () => {
    expect(60.3 - 60.1).not.toBe(0.2);
    expect(subtractDecimals('60.3', '60.1')).toBe('0.2');
    expect(subtractDecimals('1', '1.000')).toBe('0');
  });

  it('compares by value', () => {
    expect([compareDecimals('9.9', '10'), compareDecimals('-2', '-3'), compareDecimals('5', '5')]).toEqual([-1, 1, 0]);
  });

  it('multiplies and shifts and back', () => {
    fc.assert(fc.property(fc.bigInt(-(10n ** 20n), 10n ** 20n), fc.integer({ min: -12, max: 12 }), (digits, power) => {
      const decimal = shiftDecimal(digits.toString(), -6);
      expect(shiftDecimal(shiftDecimal(decimal, power), -power)).toBe(decimal);
      expect(multiplyDecimal(decimal, 10)).toBe(shiftDecimal(decimal, 1));
    }));
  });

  // ISO 80000-1, annex B, rule A (from memory): the even multiple where two are equally near.
  it.each([
    ['12.25', 1, '12.2'], ['12.35', 1, '12.4'], ['-12.25', 1, '-12.2'], ['12.251', 1, '12.3'], ['0.05', 1, '0.0'], ['0.15', 1, '0.2'],
    ['1275', -1, '1280'], ['1265', -1, '1260'], ['0', 2, '0.00'], ['999.96', 1, '1000.0'],
  ])('rounds %s to %i places as %s', (decimal, places, rounded) => {
    expect(roundDecimal(decimal, places)).toBe(rounded);
  });

  it('refuses text that is not canonical', () => {
    expect(code(() => shiftDecimal('1e5', 1))).toBe('NOT_A_DECIMAL');
  });
});
