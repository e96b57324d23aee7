import { detectableDrop, fiellerSet, fitFamily, inverseDraws, inversePredict, summariseDraws, type FittedCurve, type InversePrediction } from '#libs/regression';
import { intervalCases, invertCase } from '../digits/other-sources.js';
import { codeOf, relativeErrors, roundingOf } from '../support.js';

const pointsOf = (x: readonly number[], y: readonly number[]) => x.map((rwc, i) => ({ rwc, transmittance: y[i]! }));

function answered(answer: InversePrediction) {
  if (answer.verdict === 'refused') throw new Error(answer.sentence);
  return answer;
}

describe('calibration intervals as published', () => {
  test.each(intervalCases.map((item) => [item.name, item] as const))('%s', (_, item) => {
    const { estimate, standardUncertainty, g, fieller, delta } = invertCase(item);
    expect(relativeErrors([estimate, standardUncertainty, g, ...fieller], [item.estimate, item.u, item.g, ...item.fieller])).toBeLessThan(1e-12);
    expect(relativeErrors([delta.lower, delta.upper], item.wald)).toBeLessThan(1e-12);
    const printed: [number, number | undefined][] = [
      [estimate, item.printed?.estimate],
      [standardUncertainty, item.printed?.se],
      [fieller[0]!, item.printed?.fieller?.[0]],
      [fieller[1]!, item.printed?.fieller?.[1]],
      [delta.lower, item.printed?.wald?.[0]],
      [delta.upper, item.printed?.wald?.[1]],
    ];
    for (const [ours, source] of printed) {
      // Graybill & Iyer round 103.9949 up to 103.995, 9.9291 to 9.93: half a unit in the last place printed.
      if (source !== undefined) expect(Math.abs(ours - source)).toBeLessThanOrEqual(roundingOf(source) * 1.2);
    }
  });
});

describe('first-order uncertainty', () => {
  test('fluorescence standards (Miller & Miller ch. 5, data and figures from memory)', () => {
    const fit = fitFamily('linear', pointsOf([0, 2, 4, 6, 8, 10, 12], [2.1, 5, 9, 12.6, 17.3, 21, 24.7]));
    const printed = { a: 1.52, b: 1.93, s: 0.4329, uB: 0.0409 };
    expect(fit.parameters[0]).toBeCloseTo(printed.a, 2);
    expect(fit.parameters[1]).toBeCloseTo(printed.b, 2);
    expect(fit.residualSd).toBeCloseTo(printed.s, 3);
    expect(fit.standardErrors[1]).toBeCloseTo(printed.uB, 4);
    for (const [y0, x0, half] of [[2.9, 0.72, 0.68], [13.5, 6.21, 0.62]] as const) {
      const answer = answered(inversePredict(fit, { transmittance: y0 }));
      expect(Math.abs(answer.estimate - x0)).toBeLessThanOrEqual(0.005);
      expect(Math.abs((answer.delta.upper - answer.delta.lower) / 2 - half)).toBeLessThanOrEqual(0.005);
    }
    const four = answered(inversePredict(fit, { transmittance: [13.5, 13.5, 13.5, 13.5] }));
    expect(four.standardUncertainty).toBeCloseTo(0.14061336181375664, 12);
  });

  test('linewidth artefacts (NIST/SEMATECH e-Handbook 2.3.6: fit and covariance as printed there)', () => {
    const fit: FittedCurve = {
      family: 'linear',
      predictor: 'rwc',
      response: 'transmittance',
      errorScale: 'absolute',
      parameters: [0.2357623, 0.9870377],
      covariance: [[0.0005905067, -7.649453e-5], [-7.649453e-5, 1.183759e-5]],
      covarianceBasis: 'residuals',
      residualSd: Math.sqrt(0.0620318936676654 ** 2),
      degreesOfFreedom: 38,
      range: { from: 0.5, to: 12 },
      direction: 'rising',
      convergence: { converged: true },
    };
    for (const [y, x, u] of [[2, 1.787406600578681, 0.06568059237315105], [6, 5.839936711637256, 0.0636641989758302], [10, 9.89246682269583, 0.06474115465381228], [12, 11.918731878225119, 0.06640950131547035]] as const) {
      const answer = answered(inversePredict(fit, { transmittance: y }));
      expect(answer.estimate).toBeCloseTo(x, 12);
      expect(answer.standardUncertainty).toBeCloseTo(u, 12);
    }
  });
});

const DIN = pointsOf([0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5], [3060, 3522, 3707, 4280, 5058, 5510, 5703, 6205, 7156, 7178]);

describe('the smallest drop that shows', () => {
  // DIN 32645 (1994), worked example: content of the sample is the fall below the blank, so x is −RWC from a wet state at 0.
  const fit = fitFamily('linear', DIN.map(({ rwc, transmittance }) => ({ rwc: -rwc, transmittance })));
  const drop = detectableDrop(fit, { wetRwc: 0, alpha: 0.01, beta: 0.01 });

  test('is the critical value and detection limit of DIN 32645', () => {
    expect(Math.abs(drop.criticalDrop - 0.07)).toBeLessThanOrEqual(0.0005);
    expect(Math.abs(drop.criticalDrop - 0.0698)).toBeLessThanOrEqual(0.00005);
    expect(drop.criticalDrop).toBeCloseTo(0.06981269687542895, 12);
    // DIN takes twice the critical value; the noncentral t behind ISO 11843 gives a little less.
    expect(Math.abs(2 * drop.criticalDrop - 0.14)).toBeLessThanOrEqual(0.0005);
    expect(Math.abs(drop.minimumDetectableDrop - 0.14)).toBeLessThanOrEqual(0.005);
    expect(drop.noncentrality / (2 * 2.896459)).toBeCloseTo(0.9857, 3);
  });

  test('confidence at 3500 counts, and sx0, as an independent program prints them for these data', () => {
    const at = answered(inversePredict(fitFamily('linear', DIN), { transmittance: 3500, level: 0.99 }));
    expect(Math.abs((at.delta.upper - at.delta.lower) / 2 - 0.07434)).toBeLessThanOrEqual(0.000005);
  });

  test('shrinks with readings, grows with stricter rates, and follows the curve', () => {
    const leaf = fitFamily('log-linear', pointsOf([1, 0.9, 0.8, 0.7, 0.6, 0.5], [0.151, 0.166, 0.183, 0.202, 0.225, 0.251]));
    const one = detectableDrop(leaf);
    expect(detectableDrop(leaf, { readings: 10 }).minimumDetectableDrop).toBeLessThan(one.minimumDetectableDrop);
    expect(detectableDrop(leaf, { alpha: 0.01 }).criticalDrop).toBeGreaterThan(one.criticalDrop);
    expect(one.minimumDetectableDrop).toBeGreaterThan(one.criticalDrop);
    const curve = fitFamily('exponential', pointsOf([1, 0.9, 0.8, 0.7, 0.6, 0.5], [0.151, 0.166, 0.183, 0.202, 0.225, 0.251]));
    expect(detectableDrop(curve).criticalDrop).toBeGreaterThan(0);
    expect(codeOf(() => detectableDrop(leaf, { alpha: 0.6 }))).toBe('PROBABILITY');
    // A line that hardly falls would ask for a drop of more water than there is; a search that did not come to rest, for anything.
    const flat = fitFamily('linear', pointsOf([1, 0.9, 0.8, 0.7, 0.6, 0.5], [0.19, 0.21, 0.2, 0.19, 0.21, 0.205]));
    expect(codeOf(() => detectableDrop(flat))).toBe('OUT_OF_REACH');
    expect(codeOf(() => detectableDrop({ ...leaf, convergence: { converged: false } }))).toBe('NOT_CONVERGED');
    expect(codeOf(() => detectableDrop(leaf, { readings: 0 }))).toBe('COUNT');
  });
});

describe("Fieller's set as g grows", () => {
  const at = (slopeVariance: number, response = 2, intercept = 0) =>
    fiellerSet({ intercept, slope: 1, covariance: [[0.01, 0], [0, slopeVariance]], response, responseVariance: 0.01, quantile: 2 });

  test('interval, half line, two rays, whole line: each holds exactly what is accepted', () => {
    const cases = [at(0.01), at(0.25), at(0.3), at(0.3, 0.1), at(0.25, 0)];
    expect(cases.map(({ set }) => set.kind)).toEqual(['interval', 'at-least', 'two-rays', 'whole-line', 'whole-line']);
    expect(cases.map(({ g }) => g)).toEqual([0.04, 1, 1.2, 1.2, 1]);
    const slopes = [0.01, 0.25, 0.3, 0.3, 0.25];
    const responses = [2, 2, 2, 0.1, 0];
    cases.forEach(({ set }, i) => {
      for (let x = -40; x <= 40; x += 0.17) {
        const accepted = (responses[i]! - x) ** 2 <= 4 * (0.02 + slopes[i]! * x * x);
        const inside =
          set.kind === 'whole-line' ||
          (set.kind === 'interval' && x >= set.lower && x <= set.upper) ||
          (set.kind === 'two-rays' && (x <= set.lower || x >= set.upper)) ||
          (set.kind === 'at-least' && x >= set.lower) ||
          (set.kind === 'at-most' && x <= set.upper);
        expect({ x, i, inside }).toEqual({ x, i, inside: accepted });
      }
    });
  });

  test('with no slope at all the set is unbounded', () => {
    const { g, set } = fiellerSet({ intercept: 1, slope: 0, covariance: [[0.01, 0], [0, 0.01]], response: 1.5, responseVariance: 0, quantile: 2 });
    expect(g).toBe(Infinity);
    expect(set.kind).toBe('two-rays');
  });
});

describe('the verdict', () => {
  const x = [1, 0.9, 0.8, 0.7, 0.6, 0.5];
  const noisy = (noise: number) => fitFamily('log-linear', pointsOf(x, x.map((rwc, i) => Math.exp(-0.9 - rwc + noise * [1, -1, -1, 1, 1, -1][i]!))));

  test('usable, then with caution above g = 0.05, then refused from g = 1 with a plain sentence', () => {
    expect(inversePredict(noisy(0.01), { transmittance: 0.19 })).toMatchObject({ verdict: 'usable', extrapolated: false });
    const caution = inversePredict(noisy(0.06), { transmittance: 0.19 });
    expect(caution.verdict).toBe('caution');
    expect(caution.g).toBeGreaterThan(0.05);
    expect(caution.sentence).toContain('Fieller limits');
    // Just below the limit still an answer, just above it none.
    const below = inversePredict(noisy(0.113), { transmittance: 0.19 });
    const above = inversePredict(noisy(0.118), { transmittance: 0.19 });
    expect([below.g! > 0.9 && below.g! < 1, below.verdict]).toEqual([true, 'caution']);
    expect([above.g! > 1 && above.g! < 1.1, above.verdict]).toEqual([true, 'refused']);
    const refused = inversePredict(noisy(0.4), { transmittance: 0.19 });
    expect(refused).toMatchObject({ verdict: 'refused', reason: 'slope-not-significant' });
    expect(refused.g).toBeGreaterThanOrEqual(1);
    expect(refused.accepted!.kind).not.toBe('interval');
    expect(refused.sentence).toContain('cannot be told from zero');
    expect('estimate' in refused).toBe(false);
  });

  test('says when it extrapolates, when the curve never gets there, when the fit did not come to rest', () => {
    expect(inversePredict(noisy(0.01), { transmittance: 0.3 })).toMatchObject({ verdict: 'caution', extrapolated: true });
    const curve = fitFamily('exponential', pointsOf([1, 0.9, 0.8, 0.7, 0.6, 0.5], [0.151, 0.166, 0.183, 0.202, 0.225, 0.251]));
    expect(inversePredict(curve, { transmittance: 0.01 })).toMatchObject({ verdict: 'refused', reason: 'never-reached', accepted: null });
    expect(inversePredict({ ...curve, convergence: { converged: false } }, { transmittance: 0.2 })).toMatchObject({ verdict: 'refused', reason: 'not-converged' });
  });

  test('for a straight line, the general search for the accepted set finds the closed form', () => {
    // The linear family fitted on the relative scale is a curve there; on its own scale a line. Both near an exact line agree.
    const t = [0.15, 0.165, 0.18, 0.195, 0.21, 0.225].map((value, i) => value + 1e-5 * [1, -1, 1, -1, 1, -1][i]!);
    const line = answered(inversePredict(fitFamily('linear', pointsOf(x, t)), { transmittance: 0.2 }));
    const curve = answered(inversePredict(fitFamily('linear', pointsOf(x, t), { errorScale: 'relative' }), { transmittance: 0.2 }));
    expect(curve.estimate).toBeCloseTo(line.estimate, 4);
    if (line.accepted.kind !== 'interval' || curve.accepted.kind !== 'interval') throw new Error('expected intervals');
    expect(curve.accepted.upper - curve.accepted.lower).toBeCloseTo(line.accepted.upper - line.accepted.lower, 3);
    expect(curve.g / line.g).toBeCloseTo(1, 0);
  });

  test('bad input', () => {
    const fit = noisy(0.01);
    expect(codeOf(() => inversePredict(fit, { transmittance: 0 }))).toBe('NOT_POSITIVE');
    expect(codeOf(() => inversePredict(fit, { transmittance: NaN }))).toBe('NOT_FINITE');
    expect(codeOf(() => inversePredict(fit, { transmittance: [] }))).toBe('TOO_FEW_POINTS');
    expect(codeOf(() => inversePredict(fit, { transmittance: 0.2, level: 1 }))).toBe('LEVEL');
    expect(codeOf(() => inversePredict(fit, { transmittance: 0.2, readingUncertainty: -1 }))).toBe('NEGATIVE');
    const stated = fitFamily('linear', pointsOf(x, x.map((rwc) => 0.4 - 0.2 * rwc)).map((point, i) => ({ ...point, transmittance: point.transmittance + 1e-3 * (i % 2), uTransmittance: 0.001 })), { weighting: 'stated', covarianceBasis: 'stated' });
    expect(codeOf(() => inversePredict(stated, { transmittance: 0.2 }))).toBe('MISSING');
    expect(answered(inversePredict(stated, { transmittance: 0.2, readingUncertainty: 0.001 })).quantile).toBeCloseTo(1.959964, 6);
  });
});

describe('Monte Carlo', () => {
  const x = [1, 0.9, 0.8, 0.7, 0.6, 0.5];
  const fit = fitFamily('log-linear', pointsOf(x, x.map((rwc, i) => Math.exp(-0.9 - rwc + 0.01 * [1, -1, -1, 1, 1, -1][i]!))));
  const request = { transmittance: 0.19, seed: 'inverse draws' } as const;

  test('the same draws whatever the number of stretches they are made in', () => {
    const whole = inverseDraws(fit, { ...request, from: 0, count: 1000 });
    const parts = [0, 1, 2, 3].flatMap((k) => [...inverseDraws(fit, { ...request, from: 250 * k, count: 250 })]);
    expect(parts).toEqual([...whole]);
    expect([...inverseDraws(fit, { ...request, seed: 'another', from: 0, count: 10 })]).not.toEqual([...whole.subarray(0, 10)]);
  });

  test('agrees with Fieller for a sharp slope, and is tighter when the reading is exact', () => {
    const answer = answered(inversePredict(fit, { transmittance: 0.19 }));
    const summary = summariseDraws(inverseDraws(fit, { ...request, from: 0, count: 200_000 }));
    if (answer.accepted.kind !== 'interval') throw new Error('expected an interval');
    // 200 000 draws place a 2.5 % limit to about 0.0007 of the width.
    const width = answer.accepted.upper - answer.accepted.lower;
    expect(Math.abs(summary.symmetric.lower - answer.accepted.lower)).toBeLessThan(0.02 * width);
    expect(Math.abs(summary.symmetric.upper - answer.accepted.upper)).toBeLessThan(0.02 * width);
    expect(summary.median).toBeCloseTo(answer.estimate, 3);
    expect(summary.shortest.upper - summary.shortest.lower).toBeLessThanOrEqual(summary.symmetric.upper - summary.symmetric.lower);
    expect(summary.answered).toBe(200_000);
    const exact = summariseDraws(inverseDraws(fit, { ...request, readingUncertainty: 'exact', from: 0, count: 20_000 }));
    expect(exact.standardDeviation).toBeLessThan(0.6 * summary.standardDeviation);
  });

  test('draws without an answer are counted, and too few are refused', () => {
    const curve = fitFamily('exponential', pointsOf(x, [0.151, 0.167, 0.183, 0.203, 0.225, 0.251]));
    const low = curve.parameters[0]! * 1.05;
    const summary = summariseDraws(inverseDraws(curve, { transmittance: low, readingUncertainty: 0.05, seed: '1', from: 0, count: 4000 }));
    expect(summary.answered).toBeLessThan(4000);
    expect(codeOf(() => summariseDraws(new Float64Array(50)))).toBe('TOO_FEW_DRAWS');
    expect(codeOf(() => inverseDraws(fit, { ...request, from: 0.5, count: 1 }))).toBe('COUNT');
  });
});
