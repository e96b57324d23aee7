import fc from 'fast-check';
import { exponentialIntegral, leafCoefficients, leafOptics, leafTransmittance } from '../src/index.js';

const leaf = { ewtUm: 180, lmaGm2: 40, structureN: 1.5, wavelengthNm: 1470 };

describe('plate model', () => {
  // Table derived for this project with an independent program from the published PROSPECT-D coefficients: N 1.5, LMA 40, EWT 180 µm, 1470 nm.
  it.each([[1, '15.1'], [0.9, '16.6'], [0.8, '18.3'], [0.7, '20.2'], [0.6, '22.5'], [0.5, '25.1']])('RWC %d gives T = %s %%', (rwc, percent) => {
    expect((100 * leafTransmittance({ ...leaf, ewtUm: 180 * rwc })).toFixed(1)).toBe(percent);
  });

  // Same source: b = −d ln T/dR about 0.99 at 180 µm, 0.65 at 100 µm, 1.24 at 250 µm; taken here as the slope at R = 0.8 (the place is not stated there).
  it.each([[180, 0.99], [100, 0.65], [250, 1.24]])('EWT %d µm has b near %d', (ewtUm, b) => {
    const logT = (rwc: number) => Math.log(leafTransmittance({ ...leaf, ewtUm: ewtUm * rwc }));
    expect(Math.abs((logT(0.79) - logT(0.81)) / 0.02 - b)).toBeLessThan(0.015);
  });

  it('stays between nothing and everything, and conserves light without absorption', () => {
    fc.assert(fc.property(
      fc.double({ min: 0, max: 600, noNaN: true }), fc.double({ min: 0, max: 200, noNaN: true }), fc.double({ min: 1, max: 3.5, noNaN: true }), fc.double({ min: 1400, max: 1600, noNaN: true }),
      (ewtUm, lmaGm2, structureN, wavelengthNm) => {
        const { transmittance: t, reflectance: r } = leafOptics({ ewtUm, lmaGm2, structureN, wavelengthNm });
        expect(t).toBeGreaterThan(0);
        expect(r).toBeGreaterThan(0);
        expect(t + r).toBeLessThanOrEqual(1 + 1e-9);
        const clear = leafOptics({ ewtUm: 0, lmaGm2: 0, structureN, wavelengthNm });
        expect(clear.transmittance + clear.reflectance).toBeCloseTo(1, 10);
      },
    ));
  });

  it('darkens with water, with dry matter and with structure', () => {
    fc.assert(fc.property(fc.double({ min: 20, max: 500, noNaN: true }), fc.double({ min: 1.001, max: 1.5, noNaN: true }), (ewtUm, more) => {
      const t = leafTransmittance({ ...leaf, ewtUm });
      expect(leafTransmittance({ ...leaf, ewtUm: ewtUm * more })).toBeLessThan(t);
      expect(leafTransmittance({ ...leaf, ewtUm, lmaGm2: 40 * more })).toBeLessThan(t);
      expect(leafTransmittance({ ...leaf, ewtUm, structureN: 1.5 * more })).toBeLessThan(t);
    }));
  });

  it('stacks whole plates as adding them one by one does', () => {
    const one = leafOptics({ ewtUm: 100, lmaGm2: 0, structureN: 1, wavelengthNm: 1470 });
    const two = leafOptics({ ewtUm: 200, lmaGm2: 0, structureN: 2, wavelengthNm: 1470 });
    expect(two.transmittance).toBeLessThan(one.transmittance);
    // Nearly no absorption: the limit and the general solution must meet.
    const thin = (ewtUm: number) => leafTransmittance({ ewtUm, lmaGm2: 0, structureN: 2.3, wavelengthNm: 1500 });
    expect(thin(1e-7)).toBeCloseTo(thin(0), 6);
  });

  it('refuses what is no leaf or beyond the table, by name', () => {
    expect(() => leafTransmittance({ ...leaf, ewtUm: -1 })).toThrow(/ewtUm/);
    expect(() => leafTransmittance({ ...leaf, lmaGm2: NaN })).toThrow(/lmaGm2/);
    expect(() => leafTransmittance({ ...leaf, structureN: 0.9 })).toThrow(/structureN/);
    expect(() => leafTransmittance({ ...leaf, wavelengthNm: 1399.9 })).toThrow(/outside 1400 to 1600/);
    expect(() => exponentialIntegral(0)).toThrow(/above zero/);
  });
});

describe('exponential integral', () => {
  // Abramowitz & Stegun, table 5.1 (x = 0.5, 1, 2) and 5.2-type values (from memory, confirmed by numerical integration below).
  it.each([[0.5, 0.559773595], [1, 0.219383934], [2, 0.048900511]])('E1(%d) = %d', (x, value) => {
    expect(exponentialIntegral(x)).toBeCloseTo(value, 9);
  });

  it.each([0.01, 0.3, 0.999, 1.001, 3, 10])('agrees at %d with ∫₀¹ e^(−x/s)/s ds by the midpoint rule', (x) => {
    const steps = 400_000;
    let sum = 0;
    for (let i = 0; i < steps; i += 1) {
      const s = (i + 0.5) / steps;
      sum += Math.exp(-x / s) / s / steps;
    }
    expect(Math.abs(exponentialIntegral(x) / sum - 1)).toBeLessThan(1e-6);
  });
});

describe('water absorption near 1450 nm', () => {
  // Absorption of liquid water, cm⁻¹, from published tables: Kou, Labrie & Chylek, Appl. Opt. 32 (1993) 3531 (22 °C): 32.20 at 1440,
  // 30.60 at 1470; the tables of Segelstein (1981), Palmer & Williams (1974), Wieliczka (1989), Kedenburg (2012) as digitised span
  // 27.8 to 32.7 at 1450, 27.1 to 30.6 at 1470, 6.99 to 7.71 at 1600. They differ by about 8 %: a range check, no more.
  it.each([[1450, 27.8, 32.72], [1470, 27.1, 30.61], [1600, 6.98, 7.72]])('at %d nm lies within %d and %d', (nm, low, high) => {
    const { waterPerCm } = leafCoefficients(nm);
    expect(waterPerCm).toBeGreaterThanOrEqual(low);
    expect(waterPerCm).toBeLessThanOrEqual(high);
  });

  it('has its peak between 1440 and 1455 nm', () => {
    const nms = Array.from({ length: 201 }, (_, i) => 1400 + i);
    const peak = nms.reduce((best, nm) => (leafCoefficients(nm).waterPerCm > leafCoefficients(best).waterPerCm ? nm : best));
    expect(peak).toBeGreaterThanOrEqual(1440);
    expect(peak).toBeLessThanOrEqual(1455);
  });
});
