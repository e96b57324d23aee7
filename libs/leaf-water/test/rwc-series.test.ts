import fc from 'fast-check';
import { createStream } from '#libs/numeric';
import { relativeWaterContent, rwcSeries } from '../src/index.js';

const disc = { turgidMassMg: 70, dryMassMg: 12, uTurgidMg: 0.708, uDryMg: 0.161 };
const points = [70, 60, 41, 30].map((freshMassMg) => ({ freshMassMg, uFreshMg: 0.108 }));

describe('rwcSeries', () => {
  it('has cov(Ri, Rj) = (RiRj uT² + (1 − Ri)(1 − Rj) uD²)/W²', () => {
    const { rwc, covariance } = rwcSeries({ ...disc, points });
    rwc.forEach((ri, i) => rwc.forEach((rj, j) => {
      const common = (ri * rj * 0.708 ** 2 + (1 - ri) * (1 - rj) * 0.161 ** 2) / 58 ** 2;
      expect(covariance[i]![j]).toBeCloseTo(common + (i === j ? 0.108 ** 2 / 58 ** 2 : 0), 16);
    }));
  });

  // Derived for this project: independent part .002; common part .012 at R = 1 and .004 at R = .31.
  it('parts what a point has of its own from what all share', () => {
    const { rwc, uIndependent, uCommon } = rwcSeries({ ...disc, points });
    expect(uIndependent.map((u) => u.toFixed(3))).toEqual(['0.002', '0.002', '0.002', '0.002']);
    expect(uCommon[0]!.toFixed(3)).toBe('0.012');
    expect(rwc[3]!.toFixed(2)).toBe('0.31');
    expect(uCommon[3]!.toFixed(3)).toBe('0.004');
  });

  it('gives each point the uncertainty it has alone', () => {
    const series = rwcSeries({ ...disc, points });
    series.rwc.forEach((rwc, i) => {
      const alone = relativeWaterContent({ ...disc, ...points[i]! });
      expect(rwc).toBe(alone.rwc);
      expect(series.u[i]).toBeCloseTo(alone.u, 15);
      expect(series.u[i]).toBeCloseTo(Math.hypot(series.uIndependent[i]!, series.uCommon[i]!), 15);
    });
  });

  it('follows its points through any order', () => {
    fc.assert(fc.property(fc.shuffledSubarray(points.map((_, i) => i), { minLength: points.length }), (order) => {
      const straight = rwcSeries({ ...disc, points });
      const shuffled = rwcSeries({ ...disc, points: order.map((i) => points[i]!) });
      order.forEach((i, at) => {
        expect(shuffled.rwc[at]).toBe(straight.rwc[i]);
        order.forEach((j, to) => expect(shuffled.covariance[at]![to]).toBeCloseTo(straight.covariance[i]![j]!, 16));
      });
    }));
  });

  it('shares the zero of another balance among all points', () => {
    const commonErrors = [{ source: 'zero of the field balance', kind: 'zero', u: 0.5, masses: ['fresh'] }] as const;
    const plain = rwcSeries({ ...disc, points });
    const shared = rwcSeries({ ...disc, points, commonErrors });
    plain.covariance.forEach((row, i) => row.forEach((value, j) => {
      expect(shared.covariance[i]![j]).toBeCloseTo(value + 0.5 ** 2 / 58 ** 2, 16);
    }));
  });

  it('knows that the turgid weighing itself has RWC 1 without uncertainty', () => {
    const series = rwcSeries({ ...disc, points: [{ freshMassMg: 70, uFreshMg: 0.708, isTurgidMass: true }, ...points.slice(1)] });
    expect([series.rwc[0], series.u[0], series.covariance[0]![1]]).toEqual([1, 0, 0]);
    expect(series.u[1]).toBe(rwcSeries({ ...disc, points }).u[1]);
    expect(() => rwcSeries({ ...disc, points: [{ freshMassMg: 70, uFreshMg: 0.1, isTurgidMass: true }] })).toThrow(/points\[0\]: it is marked as the turgid mass/);
  });

  // 20 000 simulated discs; the relative standard error of a variance is √(2/20000) = 1 %, so 5 % is five of them.
  it('states the covariance that repeated discs show', () => {
    const stream = createStream('covariance of a drying series', 0);
    const { rwc, covariance } = rwcSeries({ ...disc, points });
    const runs = 20_000;
    const sums = covariance.map((row) => row.map(() => 0));
    for (let run = 0; run < runs; run += 1) {
      const t = 70 + 0.708 * stream.normal();
      const d = 12 + 0.161 * stream.normal();
      const errors = points.map(({ freshMassMg, uFreshMg }, i) => (freshMassMg + uFreshMg * stream.normal() - d) / (t - d) - rwc[i]!);
      errors.forEach((a, i) => errors.forEach((b, j) => { sums[i]![j]! += (a * b) / runs; }));
    }
    sums.forEach((row, i) => row.forEach((seen, j) => {
      const scale = Math.sqrt(covariance[i]![i]! * covariance[j]![j]!);
      expect(Math.abs(seen - covariance[i]![j]!) / scale).toBeLessThan(0.05);
    }));
  });

  it('refuses an empty series and names a bad point', () => {
    expect(() => rwcSeries({ ...disc, points: [] })).toThrow(/points: there is no mass/);
    expect(() => rwcSeries({ ...disc, points: [{ freshMassMg: 60, uFreshMg: 0.1 }, { freshMassMg: -1, uFreshMg: 0.1 }] })).toThrow(/points\[1\].freshMassMg/);
    expect(() => rwcSeries({ ...disc, dryMassMg: 80, points })).toThrow(/no RWC exists/);
  });
});
