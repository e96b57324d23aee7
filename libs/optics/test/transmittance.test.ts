import fc from 'fast-check';
import { InputError } from '#libs/quantity';
import { createStream } from '#libs/numeric';
import { OpticalBracket, transmittance, transmittanceRun } from '../src/index.js';

const MIN = 60_000;
const power = (minutes: number, powerNw: number, uPowerNw = 0.5) => ({ atMs: minutes * MIN, powerNw, uPowerNw });
const bracket: OpticalBracket = {
  references: [power(0, 1010, 2), power(10, 1014, 2)],
  dark: { powerNw: 10, uPowerNw: 1.5 },
  tauReference: 0.5, uTauReference: 0.002,
};
const reading = power(4, 310, 0.8);

const code = (run: () => unknown): string => {
  try {
    run();
  } catch (error) {
    if (error instanceof InputError) return `${error.code} ${error.field}`;
    throw error;
  }
  return 'NONE';
};

describe('transmittance', () => {
  it('is τ (S − D)/(R(t) − D) with R on the line between its references', () => {
    const result = transmittance(bracket, reading);
    expect(result.referenceNw).toBeCloseTo(1011.6, 12);
    expect(result.transmittance).toBeCloseTo((0.5 * 300) / 1001.6, 14);
    expect(result.bracketDifference).toBeCloseTo(0.004, 12);
    expect(result.flags).toEqual([]);
  });

  it('uses the references next to the reading', () => {
    const references = [power(0, 1000), power(10, 1100), power(20, 1000), power(30, 900)];
    const at = (minutes: number) => transmittance({ ...bracket, references }, power(minutes, 300));
    expect(at(15)).toMatchObject({ before: 1, after: 2, referenceNw: 1050 });
    expect(at(10).referenceNw).toBe(1100);
    expect(at(20).referenceNw).toBe(1000);
    expect(at(0).referenceNw).toBe(1000);
    expect(at(30).referenceNw).toBe(900);
  });

  // The formula as the trade writes it, for separate darks: u²(T)/T² = u²(τ)/τ² + [u²(S)+u²(D)]/(S−D)² + [u²(R)+u²(D)]/(R−D)².
  it('has the relative form of u for two darks and a steady lamp', () => {
    const steady: OpticalBracket = { ...bracket, references: [power(0, 1010, 2), power(10, 1010, 2)], referenceDark: { powerNw: 10, uPowerNw: 1.5 } };
    const { transmittance: t, u } = transmittance(steady, power(0, 310, 0.8));
    const relative = Math.sqrt((0.002 / 0.5) ** 2 + (0.8 ** 2 + 1.5 ** 2) / 300 ** 2 + (2 ** 2 + 1.5 ** 2) / 1000 ** 2);
    expect(u / t).toBeCloseTo(relative, 14);
  });

  it('lets one dark for both powers partly cancel', () => {
    const steady: OpticalBracket = { ...bracket, references: [power(0, 1010, 2), power(10, 1010, 2)] };
    const shared = transmittance(steady, power(0, 310, 0.8));
    const apart = transmittance({ ...steady, referenceDark: steady.dark }, power(0, 310, 0.8));
    expect(shared.transmittance).toBe(apart.transmittance);
    // Covariance term of JCGM 100:2008, 5.2.2: 2·(∂T/∂D_S)(∂T/∂D_R)·u²(D) = −2·(τ/b)·(τa/b²)·u²(D).
    const covariance = -2 * (0.5 / 1000) * ((0.5 * 300) / 1000 ** 2) * 1.5 ** 2;
    expect(shared.u ** 2).toBeCloseTo(apart.u ** 2 + covariance, 16);
    expect(shared.u).toBeLessThan(apart.u);
  });

  it('has the sensitivities that differences give', () => {
    const value = (change: { s?: number; d?: number; r0?: number; r1?: number; tau?: number }) => transmittance({
      ...bracket,
      references: [power(0, 1010 + (change.r0 ?? 0)), power(10, 1014 + (change.r1 ?? 0))],
      dark: { powerNw: 10 + (change.d ?? 0), uPowerNw: 0 }, tauReference: 0.5 + (change.tau ?? 0),
    }, power(4, 310 + (change.s ?? 0))).transmittance;
    const { lines } = transmittance(bracket, reading).budget;
    const sensitivity = (source: string) => lines.find((line) => line.source === source)!.sensitivity;
    const slope = (key: string, h = 1e-3) => (value({ [key]: h }) - value({ [key]: -h })) / (2 * h);
    expect(sensitivity('signal of reading')).toBeCloseTo(slope('s'), 11);
    expect(sensitivity('dark')).toBeCloseTo(slope('d'), 11);
    expect(sensitivity('references[0]')).toBeCloseTo(slope('r0'), 11);
    expect(sensitivity('references[1]')).toBeCloseTo(slope('r1'), 11);
    expect(sensitivity('reference transmittance')).toBeCloseTo(slope('tau', 1e-5), 9);
  });

  // Stray light s adds to T: at T = .15, s = .5 % inflates by 3.3 %; at T = .05 and s = .5 % by 10 % (derived for this project).
  it.each([[0.15, 3.3], [0.05, 10]])('takes stray light off T = %d, where it adds %d %%', (t, inflated) => {
    const steady: OpticalBracket = {
      references: [power(0, 1000, 0), power(10, 1000, 0)], dark: { powerNw: 0, uPowerNw: 0 }, tauReference: 1, uTauReference: 0,
    };
    const seen = power(5, 1000 * (t + 0.005), 0);
    expect(100 * (transmittance(steady, seen).transmittance / t - 1)).toBeCloseTo(inflated, 1);
    const corrected = transmittance({ ...steady, strayFraction: 0.005, uStrayFraction: 0.001 }, seen);
    expect(corrected.transmittance).toBeCloseTo(t, 14);
    expect(corrected.u).toBeCloseTo(0.001, 14);
  });

  it('widens u for a lamp that may have stepped, most in the middle, not at the references', () => {
    const u = (minutes: number, second: number) => transmittance(
      { ...bracket, references: [power(0, 1010, 0), power(10, second, 0)], dark: { powerNw: 10, uPowerNw: 0 }, uTauReference: 0, bracketLimit: 1 },
      power(minutes, 310, 0),
    ).u;
    expect(u(5, 1010)).toBe(0);
    expect(u(0, 1030)).toBe(0);
    expect(u(10, 1030)).toBe(0);
    // Half the step at the middle as a rectangular half-width: T·(10/√3)/1010.
    expect(u(5, 1030)).toBeCloseTo(((0.5 * 300) / 1010) * (10 / Math.sqrt(3) / 1010), 12);
  });

  it('does not move with the unit of power or the order of readings', () => {
    fc.assert(fc.property(fc.double({ min: 1e-3, max: 1e3, noNaN: true }), (k) => {
      const scale = <T extends { powerNw: number; uPowerNw: number }>(p: T): T => ({ ...p, powerNw: p.powerNw * k, uPowerNw: p.uPowerNw * k });
      const scaled = transmittance({ ...bracket, references: bracket.references.map(scale), dark: scale(bracket.dark) }, scale(reading));
      const plain = transmittance(bracket, reading);
      expect(scaled.transmittance).toBeCloseTo(plain.transmittance, 12);
      expect(scaled.u).toBeCloseTo(plain.u, 12);
    }));
    const [a, b] = [power(2, 310), power(8, 250)];
    const [forth, back] = [transmittanceRun(bracket, [a, b]), transmittanceRun(bracket, [b, a])];
    expect(forth.readings.map((r) => r.transmittance)).toEqual(back.readings.map((r) => r.transmittance).reverse());
    expect(forth.covariance[0]![1]).toBe(back.covariance[0]![1]);
  });
});

describe('flags', () => {
  const codes = (b: OpticalBracket, r = reading) => transmittance(b, r).flags.map((flag) => flag.code);

  it('asks when the lamp drifted more than 1 % between references, measured after the dark is off', () => {
    const drifted = (second: number) => codes({ ...bracket, references: [power(0, 1010), power(10, second)] });
    expect(drifted(1019.9)).toEqual([]);
    expect(drifted(1020.1)).toEqual(['BRACKET_DIFFERENCE']);
    expect(drifted(999)).toEqual(['BRACKET_DIFFERENCE']);
    expect(codes({ ...bracket, bracketLimit: 0.001 })).toEqual(['BRACKET_DIFFERENCE']);
    expect(transmittance({ ...bracket, references: [power(0, 1010), power(10, 1030)] }, reading).flags[0]!.message).toMatch(/2\.00 %; the limit is 1\.00 %/);
  });

  it('keeps noise below the dark and values above 1, and says so', () => {
    expect(transmittance(bracket, power(4, 9)).transmittance).toBeLessThan(0);
    expect(codes(bracket, power(4, 9))).toEqual(['BELOW_DARK']);
    expect(codes({ ...bracket, tauReference: 1 }, power(4, 1100))).toEqual(['ABOVE_ONE']);
  });
});

describe('bad input', () => {
  it('is refused by name', () => {
    expect(code(() => transmittance(bracket, power(-1, 300)))).toBe('READING_OUTSIDE_BRACKET reading.atMs');
    expect(code(() => transmittanceRun(bracket, [reading, power(10.1, 300)]))).toBe('READING_OUTSIDE_BRACKET readings[1].atMs');
    expect(code(() => transmittance({ ...bracket, references: [power(0, 1000)] }, reading))).toBe('TOO_FEW_REFERENCES references');
    expect(code(() => transmittance({ ...bracket, references: [power(5, 1000), power(0, 1000)] }, reading))).toBe('UNSORTED_TIMES references[1].atMs');
    expect(code(() => transmittance({ ...bracket, references: [power(0, 1000), power(5, 10)] }, reading))).toBe('REFERENCE_NOT_ABOVE_DARK references[1].powerNw');
    expect(code(() => transmittance({ ...bracket, tauReference: 50 }, reading))).toBe('TAU_OUT_OF_RANGE tauReference');
    expect(code(() => transmittance({ ...bracket, tauReference: 0 }, reading))).toBe('NOT_POSITIVE tauReference');
    expect(code(() => transmittance({ ...bracket, strayFraction: 0.01 }, reading))).toBe('STRAY_UNCERTAINTY_MISSING uStrayFraction');
    expect(code(() => transmittance({ ...bracket, uStrayFraction: 0.01 }, reading))).toBe('STRAY_MISSING strayFraction');
    expect(code(() => transmittance({ ...bracket, strayFraction: 1, uStrayFraction: 0 }, reading))).toBe('STRAY_OUT_OF_RANGE strayFraction');
    expect(code(() => transmittance(bracket, power(4, NaN)))).toBe('NOT_FINITE reading.powerNw');
    expect(code(() => transmittance(bracket, power(4, 300, -1)))).toBe('NEGATIVE_UNCERTAINTY u of signal of reading');
    expect(code(() => transmittance({ ...bracket, dark: { powerNw: 10, uPowerNw: -1 } }, reading))).toBe('NEGATIVE_UNCERTAINTY dark.uPowerNw');
    expect(code(() => transmittanceRun(bracket, []))).toBe('NO_READINGS readings');
  });
});

describe('the stated covariance holds', () => {
  // 8 000 simulated runs with a steady lamp: relative standard error of a variance 1.6 %, so 8 % is five of them.
  it('agrees with repeated runs that share dark, references and τ', () => {
    const steady: OpticalBracket = { ...bracket, references: [power(0, 1010, 4), power(10, 1010, 4)], uTauReference: 0.005, strayFraction: 0.005, uStrayFraction: 0.0005 };
    const readings = [power(2, 310, 0.8), power(5, 250, 0.8), power(9, 200, 0.8)];
    const stated = transmittanceRun(steady, readings);
    const stream = createStream('covariance of a run of readings', 0);
    const noisy = <T extends { powerNw: number; uPowerNw: number }>(p: T): T => ({ ...p, powerNw: p.powerNw + p.uPowerNw * stream.normal() });
    const runs = 8_000;
    const sums = readings.map(() => readings.map(() => 0));
    for (let run = 0; run < runs; run += 1) {
      const seen = transmittanceRun({
        ...steady, references: steady.references.map(noisy), dark: noisy(steady.dark),
        tauReference: 0.5 + 0.005 * stream.normal(), strayFraction: 0.005 + 0.0005 * stream.normal(),
      }, readings.map(noisy));
      const errors = seen.readings.map((r, i) => r.transmittance - stated.readings[i]!.transmittance);
      errors.forEach((a, i) => errors.forEach((b, j) => { sums[i]![j]! += (a * b) / runs; }));
    }
    sums.forEach((row, i) => row.forEach((seen, j) => {
      const scale = Math.sqrt(stated.covariance[i]![i]! * stated.covariance[j]![j]!);
      expect(Math.abs(seen - stated.covariance[i]![j]!) / scale).toBeLessThan(0.08);
    }));
  });
});
