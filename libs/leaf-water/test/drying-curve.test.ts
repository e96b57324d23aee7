import fc from 'fast-check';
import { createStream } from '#libs/numeric';
import { massAtReading, rwcAtReadings, rwcSeries } from '../src/index.js';

const MIN = 60_000;
const at = (minutes: number, massMg: number, uMassMg = 0.1) => ({ atMs: minutes * MIN, massMg, uMassMg });
const dry = { dryMassMg: 12, uDryMg: 0.16 };

describe('massAtReading', () => {
  it('lies on an exponential loss exactly', () => {
    const mass = (minutes: number) => 12 + 58 * Math.exp(-minutes / 40);
    const weighings = [0, 5, 11, 20, 33].map((minutes) => at(minutes, mass(minutes)));
    for (const minutes of [0.1, 2.5, 5, 7, 19.9, 20, 27, 33]) {
      const result = massAtReading({ weighings, ...dry, readingAtMs: minutes * MIN });
      expect(result.massMg).toBeCloseTo(mass(minutes), 10);
      expect(result.ratePerMin).toBeCloseTo((-58 / 40) * Math.exp(-minutes / 40), 8);
    }
  });

  // Derived for this project: a straight line is off by about Δt²·R/(8τ²), 0.16 points at Δt = 5 min, τ = 40 min, R = 0.8.
  it('shows what a straight line would cost', () => {
    const start = 12 + 58 * 0.8;
    const weighings = [at(0, start), at(5, 12 + 58 * 0.8 * Math.exp(-5 / 40))];
    const curve = massAtReading({ weighings, ...dry, readingAtMs: 2.5 * MIN });
    const line = massAtReading({ weighings, ...dry, readingAtMs: 2.5 * MIN, method: 'linear' });
    expect(((100 * (line.massMg - curve.massMg)) / 58).toFixed(2)).toBe('0.15');
    expect((100 * 25 * 0.8) / (8 * 1600)).toBeCloseTo(0.156, 3);
    expect(curve.uShapeMg).toBeCloseTo((line.massMg - curve.massMg) / Math.sqrt(3), 12);
    expect(line.uShapeMg).toBe(curve.uShapeMg);
  });

  it('is the weighing itself at its very time', () => {
    const weighings = [at(0, 60), at(5, 55, 0.3), at(9, 52)];
    for (const method of ['log-linear', 'linear'] as const) {
      expect(massAtReading({ weighings, ...dry, readingAtMs: 5 * MIN, method })).toMatchObject({ massMg: 55, uMassMg: 0.3, before: 1, after: 1, uShapeMg: 0 });
      expect(massAtReading({ weighings, ...dry, readingAtMs: 0, method })).toMatchObject({ massMg: 60, uMassMg: 0.1, before: 0 });
      expect(massAtReading({ weighings, ...dry, readingAtMs: 9 * MIN, method })).toMatchObject({ massMg: 52 });
    }
  });

  it('never extrapolates', () => {
    const weighings = [at(0, 60), at(5, 55)];
    const read = (minutes: number) => () => massAtReading({ weighings, ...dry, readingAtMs: minutes * MIN });
    expect(read(-0.5)).toThrow(/readingAtMs: the reading is 0.5 min before the first weighing/);
    expect(read(6)).toThrow(/1 min after the last weighing/);
  });

  it('has the sensitivities that differences give', () => {
    const water = fc.double({ min: 1, max: 60, noNaN: true });
    fc.assert(fc.property(water, water, fc.double({ min: 0.01, max: 0.99, noNaN: true }), (a, b, f) => {
      const mass = (da: number, db: number, dd: number) =>
        massAtReading({ weighings: [at(0, 12 + a + da), at(10, 12 + b + db)], dryMassMg: 12 + dd, uDryMg: 0, readingAtMs: f * 10 * MIN }).massMg;
      const { weights } = massAtReading({ weighings: [at(0, 12 + a), at(10, 12 + b)], ...dry, readingAtMs: f * 10 * MIN });
      const h = 1e-5;
      expect(weights.before).toBeCloseTo((mass(h, 0, 0) - mass(-h, 0, 0)) / (2 * h), 5);
      expect(weights.after).toBeCloseTo((mass(0, h, 0) - mass(0, -h, 0)) / (2 * h), 5);
      expect(weights.dry).toBeCloseTo((mass(0, 0, h) - mass(0, 0, -h)) / (2 * h), 5);
      expect(weights.before + weights.after + weights.dry).toBeCloseTo(1, 12);
    }));
  });

  // A 3.1 cm² disc losing 2 mmol m⁻² s⁻¹ loses 0.67 mg/min: a clock offset of 1 min is 0.67 mg (derived for this project).
  it('turns a clock offset into mass', () => {
    const rate = 2e-3 * 18.015 * 3.1e-4 * 60; // g/min
    expect((rate * 1000).toFixed(2)).toBe('0.67');
    const weighings = [at(0, 60, 0), at(10, 60 - rate * 1e4, 0)];
    const { uMassMg } = massAtReading({ weighings, readingAtMs: 5 * MIN, method: 'linear', uTimeS: 60 });
    expect(uMassMg.toFixed(2)).toBe('0.67');
  });

  it('wants the dry mass for the curve, none for the line', () => {
    const weighings = [at(0, 60), at(10, 50)];
    expect(() => massAtReading({ weighings, readingAtMs: 5 * MIN })).toThrow(/dryMassMg: log-linear interpolation needs the dry mass/);
    expect(massAtReading({ weighings, readingAtMs: 5 * MIN, method: 'linear' })).toMatchObject({ massMg: 55, uShapeMg: 0 });
    expect(() => massAtReading({ weighings, dryMassMg: 12, readingAtMs: 5 * MIN })).toThrow(/uDryMg/);
    expect(() => massAtReading({ weighings, dryMassMg: 55, uDryMg: 0, readingAtMs: 5 * MIN })).toThrow(/weighings\[1\].massMg: 50 mg is not above/);
  });

  it('refuses unsorted, single and impossible weighings by name', () => {
    const read = (weighings: { atMs: number; massMg: number; uMassMg: number }[]) => () => massAtReading({ weighings, ...dry, readingAtMs: 0 });
    expect(read([at(0, 60)])).toThrow(/weighings: 1 is not enough/);
    expect(read([at(5, 60), at(0, 55)])).toThrow(/weighings\[1\].atMs/);
    expect(read([at(0, 60), at(0, 60)])).toThrow(/weighings\[1\].atMs/);
    expect(read([at(0, -60), at(5, 55)])).toThrow(/weighings\[0\].massMg/);
    expect(read([at(0, 60, -1), at(5, 55)])).toThrow(/weighings\[0\].uMassMg/);
  });
});

describe('rwcAtReadings', () => {
  const turgid = { turgidMassMg: 70, uTurgidMg: 0.7 };
  const weighings = [at(0, 70), at(10, 62), at(20, 55), at(30, 49)];

  it('is the plain series where readings fall on weighings', () => {
    const here = rwcAtReadings({ weighings, ...turgid, ...dry, readingsAtMs: weighings.map((w) => w.atMs) });
    const series = rwcSeries({ ...turgid, ...dry, points: weighings.map((w) => ({ freshMassMg: w.massMg, uFreshMg: w.uMassMg })) });
    expect(here.rwc).toEqual(series.rwc);
    here.uCommon.forEach((u, i) => expect(u).toBeCloseTo(series.uCommon[i]!, 15));
    here.covariance.forEach((row, i) => row.forEach((value, j) => expect(value).toBeCloseTo(series.covariance[i]![j]!, 16)));
  });

  // 8 000 simulated runs: relative standard error of a variance 1.6 %, so 8 % is five of them. Shape error left out on both sides.
  it('states the covariance that repeated runs show, weighings shared', () => {
    const readingsAtMs = [3 * MIN, 6 * MIN, 14 * MIN];
    const stated = rwcAtReadings({ weighings, ...turgid, ...dry, readingsAtMs });
    const shape = (i: number) => stated.masses[i]!.uShapeMg / 58;
    const stream = createStream('readings between weighings', 0);
    const runs = 8_000;
    const sums = readingsAtMs.map(() => readingsAtMs.map(() => 0));
    for (let run = 0; run < runs; run += 1) {
      const noisy = rwcAtReadings({
        weighings: weighings.map((w) => ({ ...w, massMg: w.massMg + w.uMassMg * stream.normal() })),
        turgidMassMg: 70 + 0.7 * stream.normal(), uTurgidMg: 0.7, dryMassMg: 12 + 0.16 * stream.normal(), uDryMg: 0.16, readingsAtMs,
      });
      const errors = noisy.rwc.map((value, i) => value - stated.rwc[i]!);
      errors.forEach((a, i) => errors.forEach((b, j) => { sums[i]![j]! += (a * b) / runs; }));
    }
    sums.forEach((row, i) => row.forEach((seen, j) => {
      const sharedShape = stated.masses[i]!.before === stated.masses[j]!.before ? shape(i) * shape(j) : 0;
      const expected = stated.covariance[i]![j]! - sharedShape;
      const scale = Math.sqrt(stated.covariance[i]![i]! * stated.covariance[j]![j]!);
      expect(Math.abs(seen - expected) / scale).toBeLessThan(0.08);
    }));
  });

  // 8 000 simulated runs that open with the turgid weighing: one error in two roles. Shape error left out on both sides.
  it('counts the error of a turgid weighing once', () => {
    const opening = [{ ...at(0, 70, 0.7), isTurgidMass: true }, at(10, 62), at(20, 55)];
    const readingsAtMs = [2 * MIN, 8 * MIN];
    const stated = rwcAtReadings({ weighings: opening, ...turgid, ...dry, readingsAtMs });
    const twice = rwcAtReadings({ weighings: opening.map((w) => ({ ...w, isTurgidMass: false })), ...turgid, ...dry, readingsAtMs });
    expect(stated.u[0]! / twice.u[0]!).toBeLessThan(0.5);
    stated.uCommon.forEach((u, i) => expect(u).toBeLessThanOrEqual(stated.u[i]!));
    const stream = createStream('turgid weighing opens the run', 0);
    const runs = 8_000;
    const sums = [0, 0];
    for (let run = 0; run < runs; run += 1) {
      const t = 70 + 0.7 * stream.normal();
      const noisy = rwcAtReadings({
        weighings: opening.map((w, i) => ({ ...w, massMg: i === 0 ? t : w.massMg + w.uMassMg * stream.normal() })),
        turgidMassMg: t, uTurgidMg: 0.7, dryMassMg: 12 + 0.16 * stream.normal(), uDryMg: 0.16, readingsAtMs,
      });
      noisy.rwc.forEach((value, i) => { sums[i]! += (value - stated.rwc[i]!) ** 2 / runs; });
    }
    sums.forEach((seen, i) => {
      const expected = stated.covariance[i]![i]! - (stated.masses[i]!.uShapeMg / 58) ** 2;
      expect(Math.abs(seen / expected - 1)).toBeLessThan(0.08);
    });
    expect(rwcAtReadings({ weighings: opening, ...turgid, ...dry, readingsAtMs: [0] })).toMatchObject({ rwc: [1], u: [0] });
    expect(() => rwcAtReadings({ weighings: opening, turgidMassMg: 71, uTurgidMg: 0.7, ...dry, readingsAtMs })).toThrow(/weighings\[0\]: it is marked/);
  });

  it('names the reading that lies outside', () => {
    expect(() => rwcAtReadings({ weighings, ...turgid, ...dry, readingsAtMs: [0, 31 * MIN] })).toThrow(/readingsAtMs\[1\]/);
    expect(() => rwcAtReadings({ weighings, ...turgid, ...dry, readingsAtMs: [] })).toThrow(/there is no reading/);
  });
});
