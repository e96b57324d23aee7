import { minimumMassMg, uDiscMassMg, uMassMg } from '../src/index.js';

describe('uncertainty of a mass', () => {
  const balance = { resolutionMg: 0.1, repeatabilityMg: 0.1 };

  // Worked example derived for this project (F 60, T 70, D 12 mg on a balance of d = 0.1 mg), terms as EURAMET cg-18.
  it.each([
    ['fresh, evaporation ±0.15 mg', { massMg: 60, evaporationMg: 0.15 }, '0.138'],
    ['turgid, blotting 1 %', { massMg: 70, blottingFraction: 0.01 }, '0.708'],
    ['dry, residual moisture 1 %', { massMg: 12, residualMoistureFraction: 0.01 }, '0.161'],
  ])('%s', (_name, handling, u) => {
    expect(uDiscMassMg(balance, handling).u.toFixed(3)).toBe(u);
  });

  it('counts the display twice, for zero and for load: d/√6 for both', () => {
    expect(uMassMg({ resolutionMg: 0.1 }).u).toBeCloseTo(0.1 / Math.sqrt(6), 14);
    expect(uMassMg({ resolutionMg: 0.1 }).u.toFixed(3)).toBe('0.041');
  });

  // Rectangular half-width a has u = a/√3 (JCGM 100:2008, 4.3.7).
  it('takes linearity, drift and eccentricity as half-widths', () => {
    const u = (terms: object) => uMassMg({ resolutionMg: 1e-9, ...terms }).u;
    expect(u({ linearityMg: 0.3 })).toBeCloseTo(0.3 / Math.sqrt(3), 9);
    expect(u({ driftMg: 0.3 })).toBeCloseTo(0.3 / Math.sqrt(3), 9);
    expect(u({ eccentricityMg: 0.3 })).toBeCloseTo(0.3 / Math.sqrt(3), 9);
    expect(u({ repeatabilityMg: 0.3 })).toBeCloseTo(0.3, 9);
  });

  it('shows each source and its share', () => {
    const { lines } = uDiscMassMg(balance, { massMg: 70, blottingFraction: 0.01 });
    expect(lines.map((line) => line.source)).toEqual(['resolution at zero', 'resolution at load', 'repeatability', 'blotting']);
    expect(lines.at(-1)!.share).toBeGreaterThan(0.97);
  });

  it('refuses a negative term and a missing resolution by name', () => {
    expect(() => uMassMg({ resolutionMg: 0 })).toThrow(/resolutionMg/);
    expect(() => uMassMg({ resolutionMg: 0.1, driftMg: -1 })).toThrow(/driftMg/);
    expect(() => uDiscMassMg(balance, { massMg: -2 })).toThrow(/massMg/);
  });

  // USP <41> (secondary source): 2000 s with s at least 0.41 d: 82 mg at 0.1 mg, 8.2 mg at 0.01 mg.
  it('knows the minimum mass', () => {
    expect(minimumMassMg({ resolutionMg: 0.1 })).toBeCloseTo(82, 10);
    expect(minimumMassMg({ resolutionMg: 0.01 })).toBeCloseTo(8.2, 10);
    expect(minimumMassMg({ resolutionMg: 0.01, repeatabilityMg: 0.02 })).toBeCloseTo(40, 10);
  });
});
