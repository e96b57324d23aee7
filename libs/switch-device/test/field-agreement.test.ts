import { createStream } from '#libs/numeric';
import { agreementOfField, type RealisedTrip } from '#libs/switch-device';

const check = (realisedRwc: number, predictedRwc = 0.8, half = 0.2): RealisedTrip => ({ predictedRwc, low: predictedRwc - half, high: predictedRwc + half, realisedRwc });

describe('field checks against what was stated', () => {
  // Binomial tails: B(3; 10, 0.95) and B(8; 10, 0.95) as printed by R 4.2 pbinom(c(3, 8), 10, 0.95).
  test('the tail is the binomial one', () => {
    const tenWith = (inside: number) => agreementOfField(Array.from({ length: 10 }, (_, i) => check(i < inside ? 0.8 : 0.5)), 0.95, 0.05);
    expect(tenWith(8).tail).toBeCloseTo(0.0861383554, 9);
    expect(tenWith(3).tail / 8.198398438e-8).toBeCloseTo(1, 9);
    expect(tenWith(10).tail).toBe(1);
  });

  test('one check tells too little; two of two outside tell enough', () => {
    expect(agreementOfField([check(0.81)], 0.95, 0.05)).toMatchObject({ verdict: 'too few', sd: null, biasLow: null });
    expect(agreementOfField([check(0.5), check(0.5)], 0.95, 0.05).verdict).toBe('does not cover');
  });

  // Student's t, 2 degrees of freedom: t(0.975) = 4.302653 (any table).
  test('a mean difference is told by its own interval and by the margin', () => {
    const off = agreementOfField([check(0.69), check(0.7), check(0.71)], 0.95, 0.05);
    expect(off).toMatchObject({ count: 3, inside: 3, verdict: 'off' });
    expect(off.bias).toBeCloseTo(-0.1, 12);
    expect(off.biasHigh! - off.bias).toBeCloseTo((4.302653 * 0.01) / Math.sqrt(3), 7);
    expect(agreementOfField([check(0.69), check(0.7), check(0.71)], 0.95, 0.15).verdict).toBe('holds');
    expect(agreementOfField([check(0.6), check(0.7), check(0.95)], 0.95, 0.05).verdict).toBe('holds');
  });

  test('intervals that cover as stated are rarely doubted, those of half the width nearly always: 400 fields of 25 checks', () => {
    const stream = createStream('field agreement', 1);
    const field = (half: number): RealisedTrip[] => Array.from({ length: 25 }, () => check(0.8 + 0.1 * stream.normal(), 0.8, half));
    const doubted = (half: number): number => Array.from({ length: 400 }, () => agreementOfField(field(half), 0.95, 0.2)).filter(({ verdict }) => verdict === 'does not cover').length;
    expect(doubted(0.196)).toBeLessThan(20); // 2.5 % at most by construction; 20 of 400 would be 3.2 SD above
    expect(doubted(0.098)).toBeGreaterThan(380);
  });

  test.each<[string, readonly RealisedTrip[], number, number]>([
    ['NO_CHECK', [], 0.95, 0.05], ['OUT_OF_RANGE', [check(0.8)], 1, 0.05], ['OUT_OF_RANGE', [check(0.8)], 0.95, 0], ['NOT_FINITE', [check(Number.NaN)], 0.95, 0.05],
    ['INTERVAL', [{ predictedRwc: 0.8, low: 0.9, high: 0.7, realisedRwc: 0.8 }], 0.95, 0.05],
  ])('%s is refused', (code, checks, coverage, margin) => {
    expect(() => agreementOfField(checks, coverage, margin)).toThrow(expect.objectContaining({ code }));
  });
});
