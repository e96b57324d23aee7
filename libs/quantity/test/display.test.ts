import { formatByUncertainty, formatNumber, formatPercent, formatPercentPlain, roundByUncertainty } from '../src/index.js';

describe('rounding by uncertainty', () => {
  // JCGM 100:2008, 7.2.2 and 7.2.6: 100.021 47 g with u = 0.35 mg; 10.057 62 ohm with u = 27 milliohm.
  it.each([
    [100.02147, 0.00035, '100.02147 ± 0.00035'],
    [10.05762, 0.027, '10.058 ± 0.027'],
    [0.8275862, 0.0104, '0.828 ± 0.010'],
    [0.5, 0.0996, '0.50 ± 0.10'],
    [12345, 230, '12340 ± 230'],
    [-0.001, 0.2, '0.00 ± 0.20'],
    [-1.5, 0.2, '\u22121.50 ± 0.20'],
    [0, 0, '0 ± 0'],
    [0.3, 0, '0.3 ± 0'],
    [1000, 9.96, '1000 ± 10'],
    [8.854e-12, 3.1e-14, '(8.854 ± 0.031) × 10⁻¹²'],
    [-6.02214e23, 1e18, '(\u22126.022140 ± 0.000010) × 10²³'],
    [1e-9, 0.2, '0.00 ± 0.20'],
  ])('%d with u %d prints %s', (value, u, text) => {
    expect(formatByUncertainty(value, u)).toBe(text);
  });

  it('keeps one digit where asked', () => {
    expect(formatByUncertainty(0.82759, 0.0104, { uncertaintyDigits: 1 })).toBe('0.83 ± 0.01');
    expect(roundByUncertainty(0.82759, 0.0104)).toEqual({ value: '0.828', u: '0.010', decimalPlaces: 3 });
  });

  it.each([
    [0.82759, 0.0104, '(82.8 ± 1.0) %'],
    [1.0543, 0.002, '(105.43 ± 0.20) %'],
    [0.07, 0, '(7 ± 0) %'],
    [-0.012, 0.004, '(\u22121.20 ± 0.40) %'],
  ])('fraction %d with u %d prints %s', (value, u, text) => {
    expect(formatPercent(value, u)).toBe(text);
  });

  it('does not let a double show its tail', () => {
    expect(0.07 * 100).not.toBe(7);
    expect(formatPercentPlain(0.07)).toBe('7 %');
    expect(formatNumber(0.1 + 0.2, 6)).toBe('0.3');
    expect(formatNumber(60, 2)).toBe('60');
  });

  it('refuses what is no uncertainty', () => {
    expect(() => formatByUncertainty(1, -0.1)).toThrow(/below zero/);
    expect(() => formatByUncertainty(NaN, 0.1)).toThrow(/finite/);
    expect(() => formatPercent(0.5, Infinity)).toThrow(/finite/);
  });
});
