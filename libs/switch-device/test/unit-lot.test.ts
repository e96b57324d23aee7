import fc from 'fast-check';
import { createStream } from '#libs/numeric';
import { fitNonlinear } from '#libs/regression';
import {
  acceptanceSampleSize, adviseNextMeasurement, burnInEnd, compareExponents, driftPerDecade, fitBiasThresholdCurve, holdRatio, plateDisplacementM, platePullInV,
  shownReliability, thresholdPower,
} from '../src/index.js';

describe('parallel plate', () => {
  // Pull-in of three plates: computed from V² = 2k·x(g − x)²/(ε₀A) by maximising over x, not printed anywhere: cross-checks.
  it.each([
    [1, 1.8e-5, 2e-6, 9.88064363511142 * Math.sqrt(8.85e-12 / 8.8541878128e-12)],
    [1, 1e-6, 1e-8, 1.82931605707182],
    [6.481481481481482, 3e-6, 1e-8, 24.1995767817464],
  ])('with k = %p N/m, g = %p m, A = %p m² pulls in at %p V (computed)', (stiffnessNPerM, gapM, areaM2, expected) => {
    expect(platePullInV({ stiffnessNPerM, gapM, areaM2 }) / expected).toBeCloseTo(1, 11);
  });

  const plate = { stiffnessNPerM: 1, gapM: 1e-6, areaM2: 1e-8 };
  it.each([[0.1, 0.0014858939625404582], [0.5, 0.04020491947606108], [0.8, 0.12338343428935969], [0.99, 0.2802], [1, 1 / 3]])(
    'at %p of pull-in rests at %p of the gap (computed)', (ratio, s) => {
      expect(plateDisplacementM(plate, ratio * platePullInV(plate)) / 1e-6).toBeCloseTo(s, ratio === 0.99 ? 3 : 8);
    });

  // Force balance by hand: √(6.75·c·(1 − c)²) = √.84375, √.5, √.216.
  it.each([[0.5, 0.9186], [2 / 3, 0.7071], [0.8, 0.4648]])('closed at %p of the gap it holds down to %p of pull-in', (c, ratio) => {
    expect(holdRatio(c)).toBeCloseTo(ratio, 4);
  });

  it('whose gap light reduces by αP trips by P0·(1 − (V/V_pi)^(2/3)): the relation itself', () => {
    fc.assert(fc.property(fc.double({ min: 0.05, max: 0.99, noNaN: true }), (v) => {
      const alpha = 1e-9;
      const biasV = v * platePullInV(plate);
      // Bisect for the power at which the pull-in of the narrowed gap comes down to the bias.
      let [low, high] = [0, plate.gapM / alpha];
      for (let i = 0; i < 200; i += 1) {
        const middle = (low + high) / 2;
        if (platePullInV({ ...plate, gapM: plate.gapM - alpha * middle }) > biasV) low = middle;
        else high = middle;
      }
      const curve = { powerAtZeroBiasNw: plate.gapM / alpha, pullInV: platePullInV(plate), exponent: 2 / 3 };
      expect(thresholdPower(curve, biasV) / low).toBeCloseTo(1, 9);
    }));
  });

  it('refuses what does not latch or has no gap', () => {
    expect(() => holdRatio(0.3)).toThrow(expect.objectContaining({ code: 'CONTACT_BEFORE_INSTABILITY' }));
    expect(() => platePullInV({ ...plate, gapM: 0 })).toThrow(expect.objectContaining({ field: 'gapM' }));
    expect(() => plateDisplacementM(plate, 2)).toThrow(expect.objectContaining({ code: 'BIAS_AT_OR_ABOVE_PULL_IN' }));
  });
});

describe('acceptance plan', () => {
  it('asks for 59 units at 95/95 and 29 at 90/95 without failures (the usual figures)', () => {
    expect(acceptanceSampleSize({ reliability: 0.95, confidence: 0.95, allowedFailures: 0 })).toBe(59);
    expect(acceptanceSampleSize({ reliability: 0.9, confidence: 0.95, allowedFailures: 0 })).toBe(29);
  });

  it('asks for the least number that is enough, by the binomial sum', () => {
    const silent = (n: number, c: number, p: number): number => {
      let [sum, term] = [0, (1 - p) ** n];
      for (let i = 0; i <= c; i += 1) {
        sum += term;
        term *= ((n - i) / (i + 1)) * (p / (1 - p));
      }
      return sum;
    };
    fc.assert(fc.property(fc.double({ min: 0.5, max: 0.98, noNaN: true }), fc.double({ min: 0.5, max: 0.99, noNaN: true }), fc.integer({ min: 0, max: 4 }), (r, c, f) => {
      const n = acceptanceSampleSize({ reliability: r, confidence: c, allowedFailures: f });
      expect(silent(n, f, 1 - r)).toBeLessThanOrEqual((1 - c) * (1 + 1e-9));
      if (n > f + 1) expect(silent(n - 1, f, 1 - r)).toBeGreaterThan((1 - c) * (1 - 1e-9));
    }));
  });

  it('shows what a finished test has shown', () => {
    expect(shownReliability({ tested: 59, failed: 0, confidence: 0.95 })).toBeCloseTo(0.05 ** (1 / 59), 10);
    expect(shownReliability({ tested: 5, failed: 5, confidence: 0.95 })).toBe(0);
    expect(() => shownReliability({ tested: 5, failed: 6, confidence: 0.95 })).toThrow(expect.objectContaining({ code: 'MORE_FAILED_THAN_TESTED' }));
    expect(() => acceptanceSampleSize({ reliability: 95, confidence: 0.95, allowedFailures: 0 })).toThrow(expect.objectContaining({ field: 'reliability' }));
  });
});

describe('driftPerDecade', () => {
  const options = { limitPerDecade: 0.05, coverage: 0.95 };

  it('is a straight line in the decades (by hand: 10.0, 10.1, 10.3 after 1, 10, 100 cycles)', () => {
    const drift = driftPerDecade([{ cycles: 1, value: 10 }, { cycles: 10, value: 10.1 }, { cycles: 100, value: 10.3 }], options);
    expect(drift.perDecade).toBeCloseTo(0.15, 12);
    expect(drift.atFirstCycle).toBeCloseTo(10.1333333333 - 0.15, 9);
    expect(drift.residualSd).toBeCloseTo(Math.sqrt(0.01 / 6), 9);
    // t(0.975, 1) = 12.706: three points decide little.
    expect(drift.interval.high - drift.perDecade).toBeCloseTo((12.7062047 * Math.sqrt(0.01 / 6)) / Math.SQRT2, 6);
    expect(drift.verdict).toBe('undecided');
  });

  it('covers the true drift 95 times of 100 (2000 simulated units)', () => {
    const stream = createStream('drift', 0);
    let hits = 0;
    for (let unit = 0; unit < 2000; unit += 1) {
      const d = driftPerDecade([1, 3, 10, 30, 100, 1000].map((cycles) => ({ cycles, value: 12 + 0.02 * Math.log10(cycles) + 0.01 * stream.normal() })), options);
      if (d.interval.low <= 0.02 && 0.02 <= d.interval.high) hits += 1;
    }
    expect(Math.abs(hits / 2000 - 0.95)).toBeLessThan(0.0125);
  });

  it('tells within from beyond, and where burn-in ends', () => {
    const noise = [0.001, -0.001, 0.0005, -0.0004, 0.0008, -0.0009, 0.0003, 0];
    const settling = [1, 2, 5, 10, 100, 1000, 10000, 100000].map((cycles, i) => ({ cycles, value: 12 + 0.5 * Math.min(Math.log10(cycles), 1) + noise[i]! }));
    expect(driftPerDecade(settling.slice(0, 4), options).verdict).toBe('beyond');
    expect(burnInEnd(settling, options)!.cycles).toBe(10);
    expect(burnInEnd(settling, options)!.drift.verdict).toBe('within');
    expect(burnInEnd(settling.slice(0, 4), options)).toBeNull();
  });

  it.each([
    [[{ cycles: 1, value: 1 }, { cycles: 2, value: 1 }], 'TOO_FEW_OBSERVATIONS'],
    [[{ cycles: 5, value: 1 }, { cycles: 5, value: 1 }, { cycles: 5, value: 2 }], 'ONE_CYCLE_COUNT'],
    [[{ cycles: 0, value: 1 }, { cycles: 5, value: 1 }, { cycles: 6, value: 2 }], 'NOT_POSITIVE'],
  ])('refuses %j', (observations, code) => {
    expect(() => driftPerDecade(observations, options)).toThrow(expect.objectContaining({ code }));
  });
});

describe('compareExponents', () => {
  it('prefers the exponent the tests came from and agrees with the general nonlinear solver', () => {
    const stream = createStream('exponents', 0);
    const truth = { powerAtZeroBiasNw: 500, pullInV: 12, exponent: 2 };
    const tests = [0, 2, 4, 6, 8, 9, 10, 11].flatMap((biasV) => [1, 2, 3].map(() => ({ biasV, tripPowerNw: thresholdPower(truth, biasV) + stream.normal() })));
    const compared = compareExponents(tests);
    expect(compared.find((c) => c.deltaAicc === 0)!.name).not.toBe('parallel-plate');
    expect(compared.find((c) => c.name === 'parallel-plate')!.deltaAicc).toBeGreaterThan(20);
  });

  it('charges each parameter by AICc (by hand from the residual sums of 9 tests)', () => {
    const tests = [0, 3, 5, 6, 7, 8, 9, 10, 11].map((biasV, i) => ({ biasV, tripPowerNw: 500 * (1 - (biasV / 12) ** 1.2) + [1, -2, 1, 3, -1, -2, 2, 0, -1][i]! }));
    const compared = compareExponents(tests);
    const aicc = compared.map(({ fit, name }) => {
      const k = name === 'free' ? 4 : 3;
      return 9 * Math.log(fit.weightedResidualSum / 9) + 2 * k + (2 * k * (k + 1)) / (9 - k - 1);
    });
    compared.forEach((c, i) => expect(c.deltaAicc).toBeCloseTo(aicc[i]! - Math.min(...aicc), 9));
  });

  it('rests on a fit that the general nonlinear solver confirms, bound and all', () => {
    const stream = createStream('cross-check', 0);
    for (const exponent of [0.6, 0.9, 1.4, 2.2]) {
      const tests = [0, 2, 4, 6, 8, 9].flatMap((biasV) => [1, 2].map(() => (
        { biasV, tripPowerNw: thresholdPower({ powerAtZeroBiasNw: 500, pullInV: 12, exponent }, biasV) + stream.normal() })));
      const own = fitBiasThresholdCurve(tests, { exponent: 'free' });
      const general = fitNonlinear({
        parameterCount: 3,
        evaluate([p0, pullInV, n], i, gradient) {
          const v = tests[i]!.biasV / pullInV!;
          const power = v === 0 ? 0 : v ** n!;
          gradient?.set([1 - power, (p0! * n! * power) / pullInV!, v === 0 ? 0 : -p0! * power * Math.log(v)]);
          return p0! * (1 - power);
        },
      }, tests.map((t) => t.tripPowerNw), { start: [400, 11, 1], lower: [0, 0, 2 / 3], upper: [Infinity, Infinity, 2] });
      expect(own.weightedResidualSum / general.residualSumOfSquares).toBeCloseTo(1, 9);
      expect(own.pullInV / general.parameters[1]!).toBeCloseTo(1, 6);
      expect(own.exponent).toBeCloseTo(general.parameters[2]!, 6);
      expect(own.exponentAtBound !== null).toBe(general.parametersAtBound.includes(2));
      if (own.exponentAtBound === null) expect(Math.sqrt(own.covariance[1]![1]!) / general.standardErrors[1]!).toBeCloseTo(1, 5);
    }
  });
});

describe('adviseNextMeasurement', () => {
  const shares = [
    { cause: 'leaf', sigmaRwc: 0.09, share: 0.386 }, { cause: 'irradiance', sigmaRwc: 0.1, share: 0.476 },
    { cause: 'device', sigmaRwc: 0.05, share: 0.119 }, { cause: 'fit', sigmaRwc: 0.02, share: 0.019 },
  ] as const;

  it('ranks light above leaves above readings for the house\'s example, with the SD each would leave', () => {
    const advice = adviseNextMeasurement(shares, [
      { kind: 'more-readings', readingsPerLeaf: 10, extra: 10, betweenLeafSd: 0.08, readingSd: 0.02 },
      { kind: 'more-leaves', leaves: 8, extra: 8 },
      { kind: 'measure-light-at-trip', remainingSigmaRwc: 0.05 },
      { kind: 'more-trip-tests', tests: 12, extra: 12, curvePart: 0.4 },
    ]);
    expect(advice.map((a) => a.option.kind)).toEqual(['measure-light-at-trip', 'more-trip-tests', 'more-leaves', 'more-readings']);
    expect(advice[0]!.sigmaAfter).toBeCloseTo(Math.hypot(0.09, 0.05, 0.05, 0.02), 12);
    expect(advice[2]!.sigmaAfter).toBeCloseTo(Math.sqrt(0.09 ** 2 + 0.1 ** 2 + 0.05 ** 2 + 0.02 ** 2 / 2), 12);
    // Readings contribute s²/m = .00004 of τ² + s²/m = .00644: doubling them takes 0.3 % off the fit's variance.
    expect(advice[3]!.sigmaAfter ** 2).toBeCloseTo(0.09 ** 2 + 0.1 ** 2 + 0.05 ** 2 + 0.02 ** 2 * (0.00642 / 0.00644), 10);
    advice.forEach((a) => expect(a.sentence).toMatch(/points of RWC\.$/));
  });

  it('says when something would not help', () => {
    const [advice] = adviseNextMeasurement(shares, [{ kind: 'normalise-by-turgid-leaf', remainingSigmaRwc: 0.12 }]);
    expect(advice!.gain).toBeLessThan(0);
    expect(advice!.sentence).toContain('does not narrow');
  });

  it('refuses shares without spread and options without numbers', () => {
    expect(() => adviseNextMeasurement([], [])).toThrow(expect.objectContaining({ code: 'NO_SPREAD' }));
    expect(() => adviseNextMeasurement(shares, [{ kind: 'more-leaves', leaves: 8, extra: 0 }])).toThrow(expect.objectContaining({ code: 'NOT_A_COUNT' }));
    expect(() => adviseNextMeasurement(shares, [{ kind: 'more-trip-tests', tests: 3, extra: 1, curvePart: 2 }])).toThrow(expect.objectContaining({ code: 'NOT_A_PART' }));
  });
});
