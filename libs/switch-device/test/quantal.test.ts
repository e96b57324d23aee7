import fc from 'fast-check';
import { createStream, normalCdf } from '#libs/numeric';
import { TripCount, thresholdScatterByProbit, upDownEstimate, UpDownTrial } from '../src/index.js';

/** C. I. Bliss, Ann. Appl. Biol. 22 (1935) 134: beetles killed by log₁₀ dose, the standing example of quantal response. */
const beetles: TripCount[] = [
  [1.6907, 59, 6], [1.7242, 60, 13], [1.7552, 62, 18], [1.7842, 56, 28], [1.8113, 63, 52], [1.8369, 59, 53], [1.861, 62, 61], [1.8839, 60, 60],
].map(([level, trials, trips]) => ({ level: level!, trials: trials!, trips: trips! }));

describe('thresholdScatterByProbit', () => {
  const fit = thresholdScatterByProbit(beetles, 0.95);

  it('meets the published probit analysis of the beetles (Dobson, Introduction to Generalized Linear Models: deviance 10.12; Agresti, Categorical Data Analysis: −34.94 + 19.73 x; both from memory)', () => {
    expect(fit.deviance).toBeCloseTo(10.12, 2);
    expect(fit.line.intercept).toBeCloseTo(-34.94, 1.9);
    expect(fit.line.slope).toBeCloseTo(19.73, 2);
    const expected = beetles.map((b) => b.trials * normalCdf(fit.line.intercept + fit.line.slope * b.level));
    [3.36, 10.72, 23.48, 33.82, 49.62, 53.32, 59.66, 59.23].forEach((e, i) => expect(expected[i]).toBeCloseTo(e, 2));
  });

  it('meets R\'s glm on the same data (fixtures/probit.R)', () => {
    expect(fit.line.intercept / -34.935258899178).toBeCloseTo(1, 9);
    expect(fit.line.slope / 19.7279342113223).toBeCloseTo(1, 9);
    expect(fit.deviance).toBeCloseTo(10.1197581130015, 8);
    expect(fit.line.covariance[0]![0] / 7.01146866823749).toBeCloseTo(1, 6);
    expect(fit.line.covariance[0]![1] / -3.93654384997524).toBeCloseTo(1, 6);
    expect(fit.line.covariance[1]![1] / 2.2118680668891).toBeCloseTo(1, 6);
    expect(fit.degreesOfFreedom).toBe(6);
  });

  it('gives μ = −α/β and σ = 1/β with first-order covariance', () => {
    expect(fit.median).toBeCloseTo(-fit.line.intercept / fit.line.slope, 10);
    expect(fit.sd).toBeCloseTo(1 / fit.line.slope, 12);
    expect(Math.sqrt(fit.covariance[1]![1])).toBeCloseTo(Math.sqrt(2.2118680668891) / 19.7279342113223 ** 2, 9);
    // Var(−α/β) = (V_αα + 2μ·V_αβ + μ²·V_ββ)/β².
    const m = fit.median;
    expect(fit.covariance[0]![0]).toBeCloseTo((7.01146866823749 - 2 * m * 3.93654384997524 + m * m * 2.2118680668891) / 19.7279342113223 ** 2, 9);
  });

  it('is centred by symmetry: 2 of 10 below and 8 of 10 above', () => {
    const half = thresholdScatterByProbit([{ level: 1, trials: 10, trips: 2 }, { level: 2, trials: 10, trips: 8 }], 0.95);
    expect(half.median).toBeCloseTo(1.5, 12);
    expect(half.sd).toBeCloseTo(0.5 / 0.8416212335729143, 10);
    expect(half.fitPValue).toBeNull();
  });

  it('does not mind order, splitting of levels, or the unit', () => {
    fc.assert(fc.property(fc.double({ min: 1e-3, max: 1e3, noNaN: true }), fc.double({ min: -50, max: 50, noNaN: true }), (scale, shift) => {
      const moved = [...beetles].reverse().flatMap((b) => [
        { level: shift + scale * b.level, trials: 20, trips: Math.min(20, b.trips) },
        { level: shift + scale * b.level, trials: b.trials - 20, trips: b.trips - Math.min(20, b.trips) },
      ]);
      const other = thresholdScatterByProbit(moved, 0.95);
      expect((other.median - shift) / scale / fit.median).toBeCloseTo(1, 7);
      expect(other.sd / scale / fit.sd).toBeCloseTo(1, 6);
      expect(other.deviance).toBeCloseTo(fit.deviance, 5);
      expect((other.medianInterval!.low - shift) / scale / fit.medianInterval!.low).toBeCloseTo(1, 7);
    }));
  });

  it('covers the true median 95 times of 100 (1000 simulated units of 5 × 20 trials)', () => {
    const stream = createStream('probit coverage', 0);
    let hits = 0;
    for (let unit = 0; unit < 1000; unit += 1) {
      const counts = [-1.2, -0.5, 0, 0.6, 1.3].map((level) => ({
        level, trials: 20, trips: Array.from({ length: 20 }, () => stream.normal() <= level).filter(Boolean).length,
      }));
      const interval = thresholdScatterByProbit(counts, 0.95).medianInterval;
      if (interval === null || (interval.low <= 0 && 0 <= interval.high)) hits += 1;
    }
    expect(Math.abs(hits / 1000 - 0.95)).toBeLessThan(0.0225);
  });

  it.each([
    ['no overlap', [{ level: 1, trials: 5, trips: 0 }, { level: 2, trials: 5, trips: 5 }], 'NO_OVERLAP'],
    ['only trips', [{ level: 1, trials: 5, trips: 5 }, { level: 2, trials: 5, trips: 5 }], 'NO_OVERLAP'],
    ['falling counts', [{ level: 1, trials: 9, trips: 8 }, { level: 2, trials: 9, trips: 5 }, { level: 3, trials: 9, trips: 1 }], 'TRIPS_FALL_WITH_LEVEL'],
    ['an impossible count', [{ level: 1, trials: 5, trips: 6 }], 'MORE_TRIPS_THAN_TRIALS'],
    ['half a trial', [{ level: 1, trials: 0.5, trips: 0 }], 'NOT_A_COUNT'],
    ['no level', [{ level: NaN, trials: 5, trips: 1 }], 'NOT_FINITE'],
  ])('refuses %s', (_, counts, code) => {
    expect(() => thresholdScatterByProbit(counts, 0.95)).toThrow(expect.objectContaining({ code }));
  });
});

/** Runs an up-down series against a normal threshold. */
function staircase(mu: number, sigma: number, step: number, length: number, draw: () => number): UpDownTrial[] {
  const trials: UpDownTrial[] = [];
  let level = mu + step;
  for (let i = 0; i < length; i += 1) {
    const tripped = mu + sigma * draw() <= level;
    trials.push({ level, tripped });
    level += tripped ? -step : step;
  }
  return trials;
}

describe('upDownEstimate', () => {
  /** Counts by level laid out as a series that visits them, from the highest level down. */
  const series: UpDownTrial[] = [5, 4, 3, 2, 3, 2, 1, 2, 3, 4, 3, 2, 3].map((level, i, all) => ({ level, tripped: i + 1 < all.length ? all[i + 1]! < level : true }));

  it('does Dixon and Mood\'s sums (worked by hand)', () => {
    // Silences: 2, 1, 2, 3, 2 → lowest 1, N = 5, A = 1 + 0 + 1 + 2 + 1 = 5, B = 1 + 1 + 4 + 1 = 7; trips are 8.
    const e = upDownEstimate(series, 1);
    expect([e.counted, e.n, e.a, e.b]).toEqual(['silences', 5, 5, 7]);
    expect(e.median).toBeCloseTo(1 + 5 / 5 + 0.5, 12);
    expect(e.sd).toBeCloseTo(1.62 * ((5 * 7 - 25) / 25 + 0.029), 12);
  });

  it('finds no SD where the step is too wide for the approximation', () => {
    const wide = upDownEstimate([{ level: 2, tripped: true }, { level: 1, tripped: false }, { level: 2, tripped: true }, { level: 1, tripped: false }], 1);
    expect([wide.median, wide.sd, wide.stepOverSd]).toEqual([1.5, null, null]);
  });

  it('agrees with probit on the same long series and with the truth behind it', () => {
    const stream = createStream('up-down', 0);
    const trials = staircase(20, 2, 2, 4000, () => stream.normal());
    const quick = upDownEstimate(trials, 2);
    const full = thresholdScatterByProbit(trials.map((t) => ({ level: t.level, trials: 1, trips: t.tripped ? 1 : 0 })), 0.95);
    // 4000 trials tell μ to about 1.25·σ/√2000 ≈ 0.06 and σ to about 0.07.
    expect(Math.abs(quick.median - 20)).toBeLessThan(0.2);
    expect(Math.abs(quick.median - full.median)).toBeLessThan(0.06);
    expect(Math.abs(quick.sd! - 2)).toBeLessThan(0.3);
    expect(Math.abs(full.sd - 2)).toBeLessThan(0.3);
  });

  it.each([0.6, 1, 1.5])('has constants that give the true SD back at a step of %p SD (60 000 trials: the constants are from memory, this is not)', (ratio) => {
    const stream = createStream('constants', Math.round(10 * ratio));
    const e = upDownEstimate(staircase(20, 2, 2 * ratio, 60_000, () => stream.normal()), 2 * ratio);
    // N = 30 000 tells the SD to about 1.5/√N, one per cent; Dixon and Mood call the formula good to a few per cent.
    expect(Math.abs(e.sd! / 2 - 1)).toBeLessThan(0.03);
    expect(Math.abs(e.median - 20)).toBeLessThan(0.1);
  });

  it('does not depend on the unit and lets trips or silences be the rarer', () => {
    const mirrored = series.map((t) => ({ level: -7 * t.level, tripped: !t.tripped }));
    const e = upDownEstimate(mirrored, 7);
    expect([e.counted, e.median]).toEqual(['trips', -7 * 2.5]);
    expect(e.sd! / 7).toBeCloseTo(upDownEstimate(series, 1).sd!, 12);
  });

  it.each([
    ['a skipped step', [{ level: 2, tripped: true }, { level: 0, tripped: false }], 1, 'BROKEN_STAIRCASE'],
    ['a step the wrong way', [{ level: 2, tripped: true }, { level: 3, tripped: false }], 1, 'BROKEN_STAIRCASE'],
    ['one outcome', [{ level: 2, tripped: true }, { level: 1, tripped: true }], 1, 'ONE_OUTCOME_ONLY'],
    ['no step', [{ level: 2, tripped: true }], 0, 'NOT_POSITIVE'],
  ])('refuses %s', (_, trials, step, code) => {
    expect(() => upDownEstimate(trials, step)).toThrow(expect.objectContaining({ code }));
  });
});
