import fc from 'fast-check';
import { createStream, studentTQuantile } from '#libs/numeric';
import { PARALLEL_PLATE_EXPONENT, TripTest, fitBiasThresholdCurve, thresholdPower } from '../src/index.js';

const biases = [0, 2, 4, 6, 7, 8, 9];

function testsOf(curve: { powerAtZeroBiasNw: number; pullInV: number; exponent: number }, biasV: readonly number[] = biases): TripTest[] {
  return biasV.map((v) => ({ biasV: v, tripPowerNw: thresholdPower(curve, v) }));
}

/** NIST StRD linear regression, Norris.dat, (y, x) as printed; https://www.itl.nist.gov/div898/strd/lls/data/LINKS/DATA/Norris.dat */
const norris: readonly (readonly [number, number])[] = [
  [0.1, 0.2], [338.8, 337.4], [118.1, 118.2], [888.0, 884.6], [9.2, 10.1], [228.1, 226.5], [668.5, 666.3], [998.5, 996.3], [449.1, 448.6],
  [778.9, 777.0], [559.2, 558.2], [0.3, 0.4], [0.1, 0.6], [778.1, 775.5], [668.8, 666.9], [339.3, 338.0], [448.9, 447.5], [10.8, 11.6],
  [557.7, 556.0], [228.3, 228.1], [998.0, 995.8], [888.8, 887.6], [119.6, 120.2], [0.3, 0.3], [0.6, 0.3], [557.6, 556.8], [339.3, 339.1],
  [888.0, 887.2], [998.5, 999.0], [778.9, 779.0], [10.2, 11.1], [117.6, 118.3], [228.9, 229.2], [668.4, 669.1], [449.2, 448.9], [0.2, 0.5],
];

describe('fitBiasThresholdCurve', () => {
  it('gives exact data back, whatever the curve', () => {
    const curve = fc.record({
      powerAtZeroBiasNw: fc.double({ min: 1e-2, max: 1e5, noNaN: true }),
      pullInV: fc.double({ min: 9.05, max: 30, noNaN: true }),
      exponent: fc.double({ min: 0.7, max: 1.95, noNaN: true }),
    });
    fc.assert(fc.property(curve, (c) => {
      const fit = fitBiasThresholdCurve(testsOf(c), { exponent: 'free' });
      expect(fit.powerAtZeroBiasNw / c.powerAtZeroBiasNw).toBeCloseTo(1, 8);
      expect(fit.pullInV / c.pullInV).toBeCloseTo(1, 6);
      expect(fit.exponent).toBeCloseTo(c.exponent, 6);
      expect(fit.exponentAtBound).toBeNull();
    }));
  });

  it('does not depend on the order of the tests nor on the units', () => {
    const noisy = testsOf({ powerAtZeroBiasNw: 500, pullInV: 10, exponent: 1 }).map((t, i) => ({ ...t, tripPowerNw: t.tripPowerNw + (i % 3) - 1 }));
    const fit = fitBiasThresholdCurve(noisy, { exponent: 'free' });
    const back = fitBiasThresholdCurve([...noisy].reverse(), { exponent: 'free' });
    const other = fitBiasThresholdCurve(noisy.map((t) => ({ biasV: t.biasV * 1000, tripPowerNw: t.tripPowerNw / 1000 })), { exponent: 'free' });
    expect(back.pullInV).toBeCloseTo(fit.pullInV, 9);
    expect(back.covariance[2]![2]! / fit.covariance[2]![2]!).toBeCloseTo(1, 8);
    expect(other.pullInV / fit.pullInV / 1000).toBeCloseTo(1, 9);
    expect(other.covariance[1]![1]! / fit.covariance[1]![1]! / 1e6).toBeCloseTo(1, 8);
    expect(other.covariance[0]![1]! / fit.covariance[0]![1]!).toBeCloseTo(1, 8);
  });

  it('agrees with a certified straight line: at n = 1 it is one (NIST StRD Norris, mirrored about y = 1000)', () => {
    // P = 2000 − y turns y = B0 + B1·x into P0·(1 − x/V_pi) with P0 = 2000 − B0 and V_pi = P0/B1.
    const certified = { b0: -0.262323073774029, b1: 1.00211681802045, seB0: 0.232818234301152, seB1: 0.000429796848199937, sd: 0.884796396144373 };
    const fit = fitBiasThresholdCurve(norris.map(([y, x]) => ({ biasV: x, tripPowerNw: 2000 - y })), { exponent: 1 });
    expect(fit.powerAtZeroBiasNw / (2000 - certified.b0)).toBeCloseTo(1, 12);
    expect(fit.pullInV / ((2000 - certified.b0) / certified.b1)).toBeCloseTo(1, 12);
    expect(Math.sqrt(fit.covariance[0]![0]!) / certified.seB0).toBeCloseTo(1, 10);
    expect(fit.residualSd! / certified.sd).toBeCloseTo(1, 10);
    expect(fit.degreesOfFreedom).toBe(34);
    // B1 = P0/V_pi: its certified standard error back from the covariance of P0 and V_pi.
    const [g0, g1] = [1 / fit.pullInV, -fit.powerAtZeroBiasNw / fit.pullInV ** 2];
    const [[c00, c01], [, c11]] = [fit.covariance[0]!, fit.covariance[1]!];
    expect(Math.sqrt(g0 * g0 * c00! + 2 * g0 * g1 * c01! + g1 * g1 * c11!) / certified.seB1).toBeCloseTo(1, 8);
  });

  it('holds an exponent that would leave 2/3…2 at the bound and says so', () => {
    const low = testsOf({ powerAtZeroBiasNw: 500, pullInV: 10, exponent: 0.62 });
    const high = testsOf({ powerAtZeroBiasNw: 500, pullInV: 10, exponent: 3 });
    const atLow = fitBiasThresholdCurve(low, { exponent: 'free' });
    expect([atLow.exponentAtBound, atLow.exponent, atLow.convergence.reason]).toEqual(['lower', PARALLEL_PLATE_EXPONENT, 'exponent-at-bound']);
    expect(atLow.covariance[2]).toEqual([0, 0, 0]);
    const atHigh = fitBiasThresholdCurve(high, { exponent: 'free' });
    expect([atHigh.exponentAtBound, atHigh.exponent]).toEqual(['upper', 2]);
  });

  it('takes pull-in from sweeps and carries its uncertainty into P0', () => {
    const c = { powerAtZeroBiasNw: 500, pullInV: 10, exponent: PARALLEL_PLATE_EXPONENT };
    const tests = testsOf(c).map((t) => ({ ...t, uNw: 5 }));
    const sure = fitBiasThresholdCurve(tests, { exponent: PARALLEL_PLATE_EXPONENT, pullInV: 10, pullInSdV: 0 });
    const unsure = fitBiasThresholdCurve(tests, { exponent: PARALLEL_PLATE_EXPONENT, pullInV: 10, pullInSdV: 0.2 });
    expect(sure.fitted).toEqual(['powerAtZeroBiasNw']);
    expect(unsure.covariance[1]![1]).toBeCloseTo(0.04, 12);
    // The way P0 follows V_pi, by refitting with V_pi moved.
    const moved = (by: number) => fitBiasThresholdCurve(tests, { exponent: PARALLEL_PLATE_EXPONENT, pullInV: 10 + by, pullInSdV: 0 }).powerAtZeroBiasNw;
    const follow = (moved(1e-4) - moved(-1e-4)) / 2e-4;
    expect(unsure.covariance[0]![0]! - sure.covariance[0]![0]!).toBeCloseTo(follow ** 2 * 0.04, 3);
    expect(unsure.covariance[0]![1]).toBeCloseTo(follow * 0.04, 3);
  });

  it('covers the truth as often as its intervals say (1000 simulated units, 95 %)', () => {
    const truth = { powerAtZeroBiasNw: 500, pullInV: 12, exponent: 1 };
    const stream = createStream('coverage of the curve fit', 0);
    const trials = 1000;
    const hits = [0, 0, 0];
    for (let trial = 0; trial < trials; trial += 1) {
      const tests = testsOf(truth, [...biases, ...biases]).map((t) => ({ ...t, tripPowerNw: t.tripPowerNw + 1.5 * stream.normal() }));
      const fit = fitBiasThresholdCurve(tests, { exponent: 'free' });
      const t = studentTQuantile(0.975, fit.degreesOfFreedom);
      [fit.powerAtZeroBiasNw - 500, fit.pullInV - 12, fit.exponent - 1].forEach((error, i) => {
        if (Math.abs(error) <= t * Math.sqrt(fit.covariance[i]![i]!)) hits[i]! += 1;
      });
    }
    // The binomial SD of 1000 trials at 0.95 is 0.7 points: 2.5 of them either side tells 95 % from 92 or 98.
    hits.forEach((h) => expect(Math.abs(h / trials - 0.95)).toBeLessThan(0.0175));
  });

  const good = testsOf({ powerAtZeroBiasNw: 500, pullInV: 10, exponent: 1 });
  it.each([
    ['too few biases', good.slice(0, 2), { exponent: 'free' as const }, 'TOO_FEW_BIASES'],
    ['repeats at too few biases', [good[0]!, good[0]!, good[3]!, good[3]!], { exponent: 'free' as const }, 'TOO_FEW_BIASES'],
    ['no degree of freedom', good.slice(0, 3), { exponent: 'free' as const }, 'NO_DEGREES_OF_FREEDOM'],
    ['no tests', [], { exponent: 1 }, 'TOO_FEW_BIASES'],
    ['rising powers', good.map((t, i) => ({ ...t, tripPowerNw: 100 + i })), { exponent: 'free' as const }, 'THRESHOLD_DOES_NOT_FALL'],
    ['an exponent out of range', good, { exponent: 3 }, 'EXPONENT_OUT_OF_RANGE'],
    ['pull-in below a tested bias', good, { exponent: 1, pullInV: 8, pullInSdV: 0 }, 'PULL_IN_NOT_ABOVE_TESTED_BIAS'],
    ['pull-in without uncertainty', good, { exponent: 1, pullInV: 10 }, 'PULL_IN_SD_MISSING'],
    ['uncertainty for some', good.map((t, i) => (i === 0 ? { ...t, uNw: 1 } : t)), { exponent: 1 }, 'UNCERTAINTY_FOR_SOME'],
    ['a power of zero', [{ biasV: 1, tripPowerNw: 0 }, ...good], { exponent: 1 }, 'NOT_POSITIVE'],
    ['a negative bias', [{ biasV: -1, tripPowerNw: 9 }, ...good], { exponent: 1 }, 'NEGATIVE'],
  ])('refuses %s', (_, tests, options, code) => {
    expect(() => fitBiasThresholdCurve(tests, options)).toThrow(expect.objectContaining({ code }));
  });
});
