import fc from 'fast-check';
import {
  PARALLEL_PLATE_EXPONENT, biasForThreshold, biasUncertainty, thresholdPower, thresholdSensitivity, thresholdUncertainty,
} from '../src/index.js';

const curve = fc.record({
  powerAtZeroBiasNw: fc.double({ min: 1e-3, max: 1e6, noNaN: true }),
  pullInV: fc.double({ min: 0.1, max: 200, noNaN: true }),
  exponent: fc.double({ min: 2 / 3, max: 2, noNaN: true }),
});
const fraction = fc.double({ min: 0.01, max: 0.99, noNaN: true });

describe('thresholdPower', () => {
  it('is P0 without bias and 0.64 P0 at 0.6 V_pi with n = 2 (1 − 0.36, by hand)', () => {
    expect(thresholdPower({ powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 }, 0)).toBe(1000);
    expect(thresholdPower({ powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 }, 6)).toBeCloseTo(640, 10);
  });

  it('is undone by biasForThreshold anywhere on the curve', () => {
    fc.assert(fc.property(curve, fraction, (c, v) => {
      const bias = v * c.pullInV;
      expect(biasForThreshold(c, thresholdPower(c, bias)) / bias).toBeCloseTo(1, 9);
    }));
  });

  it('does not depend on the unit of power or of voltage', () => {
    fc.assert(fc.property(curve, fraction, (c, v) => {
      const inMicrowattAndMillivolt = { ...c, powerAtZeroBiasNw: c.powerAtZeroBiasNw / 1000, pullInV: c.pullInV * 1000 };
      const a = thresholdPower(c, v * c.pullInV);
      const b = 1000 * thresholdPower(inMicrowattAndMillivolt, v * c.pullInV * 1000);
      expect(b / a).toBeCloseTo(1, 9);
    }));
  });

  it('keeps its digits a hair below pull-in, where 1 − vⁿ cancels', () => {
    // By the binomial series: 1 − (1 − e)^(2/3) = 2e/3 + e²/9 + …
    const e = 2 ** -40;
    const value = thresholdPower({ powerAtZeroBiasNw: 1, pullInV: 1, exponent: PARALLEL_PLATE_EXPONENT }, 1 - e);
    expect(value / ((2 * e) / 3)).toBeCloseTo(1, 11);
  });

  it.each([
    [{ powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 }, 10, 'BIAS_AT_OR_ABOVE_PULL_IN'],
    [{ powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 }, 11, 'BIAS_AT_OR_ABOVE_PULL_IN'],
    [{ powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 }, -1, 'NEGATIVE_BIAS'],
    [{ powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 }, NaN, 'NOT_FINITE'],
    [{ powerAtZeroBiasNw: -1, pullInV: 10, exponent: 2 }, 1, 'NOT_POSITIVE'],
    [{ powerAtZeroBiasNw: 1, pullInV: 0, exponent: 2 }, 0, 'NOT_POSITIVE'],
  ])('refuses %j at %p V with %s', (c, bias, code) => {
    expect(() => thresholdPower(c, bias)).toThrow(expect.objectContaining({ code }));
  });

  it('refuses a threshold above what trips the unit without bias', () => {
    const c = { powerAtZeroBiasNw: 1000, pullInV: 10, exponent: 2 };
    expect(() => biasForThreshold(c, 1001)).toThrow(expect.objectContaining({ code: 'THRESHOLD_ABOVE_ZERO_BIAS_POWER' }));
    expect(() => biasForThreshold(c, 0)).toThrow(expect.objectContaining({ code: 'NOT_POSITIVE' }));
    expect(biasForThreshold(c, 1000)).toBe(0);
  });
});

describe('thresholdSensitivity', () => {
  // Derived for the parallel plate: −(2/3)v^(2/3)/(1 − v^(2/3)), printed in the house's notes as −4, −9, −19, −49.
  it.each([[0.8, -4.157], [0.9, -9.158], [0.95, -19.162], [0.98, -49.165]])('is steep near pull-in: at v = %p it is %p', (v, expected) => {
    const s = thresholdSensitivity({ powerAtZeroBiasNw: 1, pullInV: 1, exponent: PARALLEL_PLATE_EXPONENT }, v);
    expect(s.perLnBias).toBeCloseTo(expected, 2);
    expect(s.perLnPullIn).toBe(-s.perLnBias);
  });

  it('agrees with differences of thresholdPower in every argument', () => {
    fc.assert(fc.property(curve, fc.double({ min: 0.1, max: 0.95, noNaN: true }), (c, v) => {
      const bias = v * c.pullInV;
      const s = thresholdSensitivity(c, bias);
      const h = 1e-6;
      const lnDifference = (plus: number, minus: number): number => Math.log(plus / minus) / (2 * h);
      const scaled = (name: 'pullInV' | 'powerAtZeroBiasNw', by: number) => thresholdPower({ ...c, [name]: c[name] * Math.exp(by) }, bias);
      const close = (got: number, want: number) => expect(Math.abs(got - want)).toBeLessThan(1e-6 * (1 + Math.abs(want)));
      close(s.perLnBias, lnDifference(thresholdPower(c, bias * Math.exp(h)), thresholdPower(c, bias * Math.exp(-h))));
      close(s.perLnPullIn, lnDifference(scaled('pullInV', h), scaled('pullInV', -h)));
      close(s.perLnPowerAtZeroBias, lnDifference(scaled('powerAtZeroBiasNw', h), scaled('powerAtZeroBiasNw', -h)));
      close(s.perExponent, lnDifference(thresholdPower({ ...c, exponent: c.exponent + h }, bias), thresholdPower({ ...c, exponent: c.exponent - h }, bias)));
    }));
  });
});

describe('thresholdUncertainty', () => {
  const c = { powerAtZeroBiasNw: 100, pullInV: 10, exponent: 2, covariance: [[4, 0, 0], [0, 0.01, 0], [0, 0, 0]] };

  it('adds P0, pull-in and bias in quadrature (by hand: n·vⁿ/(1 − vⁿ) = 2·0.36/0.64 = 1.125 at v = 0.6)', () => {
    const expected = Math.hypot(2 / 100, (1.125 * 0.1) / 10, (1.125 * 0.06) / 6);
    expect(thresholdUncertainty(c, 6, 0.06).relative).toBeCloseTo(expected, 12);
    expect(thresholdUncertainty(c, 6, 0.06).powerNw).toBeCloseTo(64 * expected, 9);
  });

  it('lets correlated parameters cancel', () => {
    // P0 and V_pi fully anticorrelated in just the proportion that leaves the threshold at 6 V unmoved.
    const p0 = 1.125;
    const cov = [[p0 ** 2, -0.1 * p0, 0], [-0.1 * p0, 0.01, 0], [0, 0, 0]];
    expect(thresholdUncertainty({ ...c, covariance: cov }, 6, 0).relative).toBeLessThan(1e-9);
  });

  it('gives the bias uncertainty that gives the threshold uncertainty back', () => {
    const u = biasUncertainty(c, 64);
    const relative = thresholdUncertainty(c, 6, 0).relative;
    expect((u * 1.125) / 6).toBeCloseTo(relative, 12);
  });

  it('refuses a matrix that is no covariance of three parameters', () => {
    expect(() => thresholdUncertainty({ ...c, covariance: [[1]] }, 6, 0)).toThrow(expect.objectContaining({ code: 'COVARIANCE_SHAPE' }));
    expect(() => thresholdUncertainty({ ...c, covariance: [[-4, 0, 0], [0, 0, 0], [0, 0, 0]] }, 6, 0))
      .toThrow(expect.objectContaining({ code: 'COVARIANCE_NOT_POSITIVE' }));
    expect(() => thresholdUncertainty(c, 6, -1)).toThrow(expect.objectContaining({ code: 'NEGATIVE', field: 'biasSdV' }));
  });
});
