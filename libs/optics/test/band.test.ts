import fc from 'fast-check';
import { bandOverlap, bandShape, bandShift, bandTransmittance, bellBand, integrateProduct, leafTransmittance, modelLeaf, requireSpectrum, Spectrum, spectralMismatch, spectrumAt, waterBand } from '../src/index.js';

const flat = (value: number, fromNm = 1400, toNm = 1500): Spectrum => ({ wavelengthNm: [fromNm, toNm], values: [value, value] });

/** A band filter: rises to 1 at 1450 nm and falls again. */
const filter: Spectrum = { wavelengthNm: [1410, 1450, 1490], values: [0, 1, 0] };

const spectrum = fc.array(fc.double({ min: 0, max: 10, noNaN: true }), { minLength: 2, maxLength: 12 }).map((values): Spectrum => ({
  wavelengthNm: values.map((_, i) => 1400 + (100 * i) / (values.length - 1)), values,
}));

describe('integrateProduct', () => {
  it('is exact for products of straight lines', () => {
    const ramp = { wavelengthNm: [0, 1], values: [0, 1] };
    expect(integrateProduct({ ramp }, 0, 1)).toBeCloseTo(1 / 2, 15);
    expect(integrateProduct({ a: ramp, b: ramp }, 0, 1)).toBeCloseTo(1 / 3, 15);
    expect(integrateProduct({ a: ramp, b: ramp, c: ramp }, 0, 1)).toBeCloseTo(1 / 4, 15);
    expect(integrateProduct({ filter }, 1410, 1490)).toBeCloseTo(40, 12);
  });

  it('does not change when a spectrum is given on a finer grid', () => {
    fc.assert(fc.property(spectrum, spectrum, spectrum, fc.double({ min: 1400, max: 1500, noNaN: true }), (a, b, c, nm) => {
      const plain = integrateProduct({ a, b, c }, 1400, 1500);
      const at = [...new Set([...a.wavelengthNm, nm])].sort((x, y) => x - y);
      const finer = { wavelengthNm: at, values: at.map((x) => spectrumAt(a, x)) };
      expect(integrateProduct({ a: finer, b, c }, 1400, 1500)).toBeCloseTo(plain, 7);
    }));
  });

  it('adds up over parts of the band and does not mind the order of spectra', () => {
    fc.assert(fc.property(spectrum, spectrum, fc.double({ min: 1401, max: 1499, noNaN: true }), (a, b, nm) => {
      const whole = integrateProduct({ a, b }, 1400, 1500);
      expect(integrateProduct({ a, b }, 1400, nm) + integrateProduct({ a, b }, nm, 1500)).toBeCloseTo(whole, 7);
      expect(integrateProduct({ b, a }, 1400, 1500)).toBeCloseTo(whole, 9);
    }));
  });

  it('agrees with a fine midpoint sum', () => {
    const a = { wavelengthNm: [1400, 1430, 1444, 1500], values: [1, 3, 2, 5] };
    const b = { wavelengthNm: [1400, 1417, 1480, 1500], values: [0.1, 0.9, 0.4, 0.2] };
    let sum = 0;
    for (let i = 0; i < 100_000; i += 1) sum += spectrumAt(a, 1400 + (i + 0.5) / 1000) * spectrumAt(b, 1400 + (i + 0.5) / 1000) / 1000;
    expect(integrateProduct({ a, b }, 1400, 1500)).toBeCloseTo(sum, 5);
  });
});

describe('T_band', () => {
  it('is the spectrum itself where it is flat, whatever the weights', () => {
    fc.assert(fc.property(spectrum, spectrum, fc.double({ min: 0.01, max: 1, noNaN: true }), (light, absorptance, t) => {
      fc.pre(integrateProduct({ light, absorptance }, 1400, 1500) > 1e-3);
      expect(bandTransmittance({ transmittance: flat(t), light, absorptance }).transmittance).toBeCloseTo(t, 10);
    }));
  });

  it('lies within the spectrum and does not move with the size of light or device', () => {
    fc.assert(fc.property(spectrum, spectrum, spectrum, fc.double({ min: 1e-3, max: 1e3, noNaN: true }), (transmittance, light, absorptance, k) => {
      fc.pre(integrateProduct({ light, absorptance }, 1400, 1500) > 1e-3);
      const band = bandTransmittance({ transmittance, light, absorptance });
      expect(band.transmittance).toBeGreaterThanOrEqual(Math.min(...transmittance.values) - 1e-9);
      expect(band.transmittance).toBeLessThanOrEqual(Math.max(...transmittance.values) + 1e-9);
      const scale = (s: Spectrum) => ({ ...s, values: s.values.map((value) => value * k) });
      expect(bandTransmittance({ transmittance, light: scale(light), absorptance: scale(absorptance) }).transmittance).toBeCloseTo(band.transmittance, 9);
    }));
  });

  // By hand: E = 1, A a triangle on 1410..1490 (area 40), T = (λ − 1400)/100: ∫TA/∫A is T at the triangle's centre, 0.5.
  it('weights by hand-computed areas', () => {
    const ramp = { wavelengthNm: [1400, 1500], values: [0, 1] };
    const band = bandTransmittance({ transmittance: ramp, light: flat(1), absorptance: filter });
    expect(band.transmittance).toBeCloseTo(0.5, 12);
    expect(band.incident).toBeCloseTo(40, 12);
    expect(band.absorbed).toBeCloseTo(20, 12);
    expect(band.centreNm).toBeCloseTo(1450, 9);
    expect([band.fromNm, band.toNm]).toEqual([1410, 1490]);
    // Light that rises as T does: E = (λ − 1400)/100 gives ∫T²A/∫TA = (0.5² + σ²)/0.5 with σ = 40/√6 nm for the triangle.
    const red = bandTransmittance({ transmittance: ramp, light: ramp, absorptance: filter });
    expect(red.transmittance).toBeCloseTo((0.25 + (0.4 ** 2) / 6) / 0.5, 10);
  });

  it('refuses spectra that do not cover the band, an empty band and darkness, by name', () => {
    const covers = { transmittance: flat(0.2), light: flat(1), absorptance: filter };
    expect(() => bandTransmittance({ ...covers, light: flat(1, 1420, 1500) })).toThrow(/light: it runs from 1420 to 1500 nm, not to 1410 nm/);
    expect(() => bandTransmittance({ ...covers, transmittance: flat(1, 1400, 1480) })).toThrow(/transmittance: .*not to 1490 nm/);
    expect(() => bandTransmittance({ ...covers, fromNm: 1450, toNm: 1450 })).toThrow(/empty/);
    expect(() => bandTransmittance({ ...covers, fromNm: NaN })).toThrow(/empty/);
    expect(() => bandTransmittance({ ...covers, light: flat(0) })).toThrow(/light: ∫E·A/);
    expect(() => requireSpectrum('lamp', { wavelengthNm: [1, 1], values: [1, 1] })).toThrow(/lamp.wavelengthNm\[1\]/);
    expect(() => requireSpectrum('lamp', { wavelengthNm: [1, 2], values: [1] })).toThrow(/lamp: 2 wavelengths and 1 values/);
    expect(() => requireSpectrum('lamp', { wavelengthNm: [1, 2], values: [1, NaN] })).toThrow(/lamp.values\[1\]/);
    expect(() => requireSpectrum('lamp', { wavelengthNm: [1], values: [1] })).toThrow(/make no spectrum/);
  });
});

describe('spectral mismatch', () => {
  const leaf: Spectrum = (() => {
    const wavelengthNm = Array.from({ length: 41 }, (_, i) => 1400 + 2.5 * i);
    return { wavelengthNm, values: wavelengthNm.map((nm) => leafTransmittance({ ewtUm: 150, lmaGm2: 40, structureN: 1.5, wavelengthNm: nm })) };
  })();
  const shared = { transmittance: leaf, absorptance: filter };

  it('is 1 for one light, and turns over when the lights change places', () => {
    const sun = { wavelengthNm: [1400, 1450, 1500], values: [0.02, 0.05, 0.2] };
    expect(spectralMismatch({ ...shared, lamp: sun, sun }).factor).toBe(1);
    const there = spectralMismatch({ ...shared, lamp: flat(1), sun });
    const back = spectralMismatch({ ...shared, lamp: sun, sun: flat(1) });
    expect(there.factor * back.factor).toBeCloseTo(1, 12);
    // This sun is strong where water absorbs less (beyond 1450 nm), so the leaf looks clearer under it.
    expect(there.factor).toBeGreaterThan(1.01);
  });

  // ASTM G173-03, global tilt, W m⁻² nm⁻¹: .050 at 1470, .018 at 1471, .185 at 1475 nm. By hand: (.034 + .406)/5 = .088, five times the
  // lowest line: no single line stands for the band.
  it('averages lines of the solar table over the band', () => {
    const lines = { wavelengthNm: [1470, 1471, 1475], values: [0.05, 0.018, 0.185] };
    expect(integrateProduct({ lines }, 1470, 1475) / 5).toBeCloseTo(0.088, 12);
  });

  it('refuses a leaf that lets nothing through under the lamp', () => {
    expect(() => spectralMismatch({ ...shared, transmittance: flat(0), lamp: flat(1), sun: flat(1) })).toThrow(/transmittance/);
  });
});

describe('overlap of two bands', () => {
  const box = (from: number, to: number) => ({ wavelengthNm: [1400, from, from + 1e-6, to, to + 1e-6, 1600], values: [0, 0, 1, 1, 0, 0] });
  test.each([[box(1420, 1440), box(1420, 1440), 1], [box(1420, 1440), box(1430, 1450), 0.5], [box(1420, 1440), box(1500, 1540), 0], [box(1420, 1440), box(1420, 1460), 0.5]] as const)('boxes', (a, b, share) => {
    expect(bandOverlap(a, b, 1400, 1600)).toBeCloseTo(share, 5);
  });

  test('scale does not count, the order of the two neither, and a finer grid changes nothing', () => {
    const [a, b] = [{ wavelengthNm: [1400, 1450, 1600], values: [0, 5, 1] }, waterBand()];
    const twice = { ...a, values: a.values.map((value) => 2 * value) };
    const finer = { wavelengthNm: [1400, 1425, 1450, 1525, 1600], values: [0, 2.5, 5, 3, 1] };
    const share = bandOverlap(a, b, 1400, 1600);
    for (const other of [bandOverlap(twice, b, 1400, 1600), bandOverlap(b, a, 1400, 1600), bandOverlap(finer, b, 1400, 1600)]) expect(other).toBeCloseTo(share, 12);
    // Against a sum of thin slices.
    const n = 40_000;
    const at = (s: typeof a, nm: number) => spectrumAt(s, nm);
    const area = (s: typeof a) => integrateProduct({ s }, 1400, 1600);
    const [areaA, areaB] = [area(a), area(b as typeof a)];
    let sum = 0;
    for (let i = 0; i < n; i += 1) {
      const nm = 1400 + (200 * (i + 0.5)) / n;
      sum += Math.min(at(a, nm) / areaA, at(b as typeof a, nm) / areaB) * (200 / n);
    }
    expect(share).toBeCloseTo(sum, 6);
  });

  test('refuses a band of nothing', () => {
    expect(() => bandOverlap(box(1420, 1440), { wavelengthNm: [1400, 1600], values: [0, 0] }, 1400, 1600)).toThrow(expect.objectContaining({ field: 'b' }));
  });
});

describe('where a band lies', () => {
  it('is told from its half maxima', () => {
    expect(bandShape(filter)).toEqual({ peakNm: 1450, peak: 1, centreNm: 1450, widthNm: 40 });
    // Half a maximum of 2 is 1: on the left half way up 1400 → 1410, on the right a third down 1410 → 1440 with end value 0.5.
    expect(bandShape({ wavelengthNm: [1400, 1410, 1440, 1450], values: [0, 2, 0.5, 0] })).toEqual({ peakNm: 1410, peak: 2, centreNm: 1417.5, widthNm: 25 });
  });

  it('of a bell is its centre and 2√(2 ln 2) of its standard deviation', () => {
    const sigma = 10;
    const grid = Array.from({ length: 2001 }, (_, i) => 1400 + i / 10);
    const { centreNm, widthNm } = bandShape({ wavelengthNm: grid, values: grid.map((nm) => 0.8 * Math.exp(-((nm - 1463.2) ** 2) / (2 * sigma ** 2))) });
    expect(centreNm).toBeCloseTo(1463.2, 4);
    expect(widthNm).toBeCloseTo(2 * Math.sqrt(2 * Math.log(2)) * sigma, 3);
  });

  it('does not move with the size of the band, and is refused where the band is cut off or empty', () => {
    fc.assert(fc.property(fc.double({ min: 1e-3, max: 1e3, noNaN: true }), (k) => {
      const scaled = bandShape({ ...filter, values: filter.values.map((value) => k * value) });
      expect([scaled.centreNm, scaled.widthNm].map((nm) => nm.toFixed(6))).toEqual(['1450.000000', '40.000000']);
    }));
    expect(() => bandShape({ wavelengthNm: [1400, 1450, 1460], values: [0, 1, 0.9] })).toThrow(/before 1460 nm/);
    expect(() => bandShape(flat(0))).toThrow(/no value above zero/);
  });
});

describe('the trip moved by looking through another band', () => {
  it('is the RWC at which the other band sees as much', () => {
    const [own, other] = [bellBand(1440, 34), bellBand(1470, 12)];
    const told = bandShift(own, other, 0.7)!;
    // Straight from the leaf: bisect the RWC at which the other band lets through what the own one sees at 0.7.
    const seen = (band: Spectrum, rwc: number): number => bandTransmittance({ transmittance: modelLeaf(rwc), light: flat(1, 1400, 1600), absorptance: band, fromNm: Math.max(1400, band.wavelengthNm[0]!), toNm: Math.min(1600, band.wavelengthNm.at(-1)!) }).transmittance;
    const own07 = seen(own, 0.7);
    let [low, high] = [0.3, 1.2];
    for (let i = 0; i < 60; i += 1) {
      const middle = (low + high) / 2;
      if (seen(other, middle) > own07) low = middle;
      else high = middle;
    }
    // Near the peak of water less light comes through, as if the leaf were wetter: it trips on a drier one.
    expect(told.ratio).toBeLessThan(1);
    expect(told.shiftRwc).toBeLessThan(0);
    expect(0.7 + (0.7 - low)).toBeCloseTo(0.7 + told.shiftRwc, 2);
  });

  it('is none through one and the same band, and not told outside of the model', () => {
    expect(bandShift(filter, filter, 0.8)).toEqual({ ratio: 1, shiftRwc: 0 });
    expect(bandShift(bellBand(1940, 30), filter, 0.8)).toBeNull();
  });
});
