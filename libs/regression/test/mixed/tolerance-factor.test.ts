import { oneSidedToleranceFactor, twoSidedToleranceFactor } from '#libs/regression';

const sample = (n: number, share = 0.95, confidence = 0.95) => ({ effectiveCount: n, share, confidence, degreesOfFreedom: n - 1 });

describe('one-sided factors', () => {
  // ISO 16269-6, one-sided, mean and deviation unknown, share 95 %, confidence 95 %, as the lab's trade notes quote them.
  test.each([
    [5, '4.20'],
    [8, '3.19'],
    [10, '2.91'],
    [20, '2.40'],
    [30, '2.22'],
  ])('n = %i', (n, k) => expect(oneSidedToleranceFactor(sample(n)).toFixed(2)).toBe(k));

  // NIST/SEMATECH e-Handbook 7.2.6.3: n = 43, share 90 %, confidence 99 %, by the noncentral t: 1.8740 (from memory).
  test('the NIST handbook example', () => expect(oneSidedToleranceFactor(sample(43, 0.9, 0.99)).toFixed(4)).toBe('1.8740'));
});

describe('two-sided factors', () => {
  // The same integral by SciPy 1.10 (quad and brentq) for share and confidence 95 %.
  test.each([
    [2, 36.519214612060885],
    [5, 5.076874532059478],
    [10, 3.3934294787125987],
    [20, 2.7603461784457153],
    [30, 2.554892813277697],
  ])('n = %i', (n, k) => expect(Math.abs(twoSidedToleranceFactor(sample(n)) / k - 1)).toBeLessThan(1e-11));

  // NIST/SEMATECH e-Handbook 7.2.6.3 gives Howe's approximation 2.217; Howe is known to run slightly low here.
  test('the NIST handbook example', () => expect(Math.abs(twoSidedToleranceFactor(sample(43, 0.9, 0.99)) / 2.217 - 1)).toBeLessThan(0.005));

  test('with the deviation known, the mean alone is uncertain', () => {
    const known = { effectiveCount: Infinity, share: 0.95, confidence: 0.95, degreesOfFreedom: Infinity };
    expect(twoSidedToleranceFactor(known)).toBeCloseTo(1.959963984540054, 12);
    expect(twoSidedToleranceFactor({ ...known, degreesOfFreedom: 1e7, effectiveCount: 1e7 })).toBeCloseTo(1.96, 2);
  });
});

test('bad questions are refused by name', () => {
  expect(() => oneSidedToleranceFactor(sample(10, 95))).toThrow('share: expected a number between 0 and 1');
  expect(() => twoSidedToleranceFactor(sample(10, 0.95, 1))).toThrow('confidence');
  expect(() => twoSidedToleranceFactor({ ...sample(10), effectiveCount: 0 })).toThrow('effectiveCount');
  expect(() => oneSidedToleranceFactor({ ...sample(10), degreesOfFreedom: 0 })).toThrow('degreesOfFreedom');
});
