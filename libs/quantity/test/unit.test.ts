import fc from 'fast-check';
import { convertDecimal, convertNumber, InputError, parseQuantity, parseUnit, shiftDecimal, Unit, UNITS, unitSymbol } from '../src/index.js';

describe('units by UCUM code', () => {
  it('knows the units of the trade', () => {
    for (const code of ['mg', 'g', 'ug', 'kg', 'nW', 'uW', 'mW', 'W', 'V', 'mV', 'nm', 'um', 'mm', 'cm2', 'mm2', 'Cel', '%', '1', 'min', 'h', 's', 'W.m-2.nm-1', 'MPa']) {
      expect(parseUnit(code)).toBe(code);
    }
  });

  it('tells capitals apart', () => {
    expect(() => parseUnit('MG')).toThrow(/mg/);
    expect(() => parseUnit('NW')).toThrow(/nW/);
    expect(() => parseUnit('MW')).toThrow(InputError);
  });

  it('reads back the symbols it prints, both mu signs', () => {
    for (const code of Object.keys(UNITS) as Unit[]) if (code !== '1') expect(parseUnit(unitSymbol(code))).toBe(code);
    expect(parseUnit('\u03bcg')).toBe('ug');
    expect(parseUnit('\u00b5g')).toBe('ug');
  });

  it.each(['toString', 'constructor', '', 'grams', 'lb'])('refuses %p', (text) => {
    expect(() => parseUnit(text)).toThrow(/is not a unit known here/);
  });
});

describe('conversion', () => {
  it.each([
    ['0.0603', 'g', 'mg', '60.3'],
    ['60.3', 'mg', 'g', '0.0603'],
    ['1', 'kg', 'ug', '1000000000'],
    ['82.8', '%', '1', '0.828'],
    ['115', 'cm2', 'm2', '0.0115'],
    ['-7.2', 'bar', 'MPa', '-0.72'],
    ['1.5', 'h', 'min', '90'],
    ['0.25', 'min', 's', '15'],
    ['40', 'g.m-2', 'mg.cm-2', '4'],
    ['180', 'um', 'cm', '0.018'],
    ['12.5', 'Cel', 'Cel', '12.5'],
  ] as const)('%s %s to %s is %s exactly', (decimal, from, to, expected) => {
    expect(convertDecimal(decimal, from, to)).toBe(expected);
    expect(convertNumber(Number(decimal), from, to)).toBeCloseTo(Number(expected), 12);
  });

  // SI Brochure, 9th edition, tables 7 and 8 (prefixes; min, h, d): each unit in the unit without prefix.
  it.each([
    ['kg', 'g', '1000'], ['mg', 'g', '0.001'], ['ug', 'g', '0.000001'],
    ['mW', 'W', '0.001'], ['uW', 'W', '0.000001'], ['nW', 'W', '0.000000001'], ['mV', 'V', '0.001'],
    ['mA', 'A', '0.001'], ['uA', 'A', '0.000001'], ['nA', 'A', '0.000000001'], ['pA', 'A', '0.000000000001'],
    ['cm', 'm', '0.01'], ['mm', 'm', '0.001'], ['um', 'm', '0.000001'], ['nm', 'm', '0.000000001'],
    ['cm2', 'm2', '0.0001'], ['mm2', 'm2', '0.000001'], ['ms', 's', '0.001'], ['min', 's', '60'], ['h', 's', '3600'], ['d', 's', '86400'],
    ['MPa', 'kPa', '1000'], ['bar', 'kPa', '100'], ['mg.cm-2', 'g.m-2', '10'], ['%', '1', '0.01'],
  ] as const)('1 %s is so many %s: %s', (from, to, expected) => {
    expect(convertDecimal('1', from, to)).toBe(expected);
  });

  it('refuses another dimension and a decimal that would not end', () => {
    expect(() => convertDecimal('1', 'mg', 'mW')).toThrow(/mg is a unit of mass, mW of power/);
    expect(() => convertDecimal('1', 's', 'min')).toThrow(/no exact decimal/);
  });

  it('goes and comes back exactly', () => {
    const masses = ['kg', 'g', 'mg', 'ug'] as const;
    fc.assert(fc.property(fc.bigInt(-(10n ** 20n), 10n ** 20n), fc.constantFrom(...masses), fc.constantFrom(...masses), (digits, from, to) => {
      const decimal = shiftDecimal(digits.toString(), -7);
      expect(convertDecimal(convertDecimal(decimal, from, to), to, from)).toBe(decimal);
    }));
  });
});

describe('parseQuantity', () => {
  it('reads a line of a balance', () => {
    expect(parseQuantity('+   60.30 mg  ')).toMatchObject({ decimal: '60.3', decimalPlaces: 2, unit: 'mg' });
    expect(parseQuantity('-0,0012g', { decimalComma: true })).toMatchObject({ value: -0.0012, unit: 'g' });
    expect(parseQuantity('82.8 %')).toMatchObject({ value: 82.8, unit: '%' });
    expect(parseQuantity('6.03e-2 g')).toMatchObject({ decimal: '0.0603', unit: 'g' });
  });

  it('wants a unit', () => {
    expect(() => parseQuantity('60.3')).toThrow(/no unit/);
    expect(() => parseQuantity('60.3 mgg')).toThrow(/not a unit/);
    expect(() => parseQuantity('mg')).toThrow(/not a number/);
    expect(parseQuantity('60.3', { defaultUnit: 'mg' }).unit).toBe('mg');
  });
});
