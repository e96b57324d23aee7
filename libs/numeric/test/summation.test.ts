import fc from 'fast-check';
import { compensatedSum, mean, median, pairwiseSum, quantile, standardDeviation, twoProduct, twoSum, variance } from '#libs/numeric';

describe('NIST StRD univariate problems that break naive sums (https://www.itl.nist.gov/div898/strd/)', () => {
  test('NumAcc2, NumAcc3 and NumAcc4: mean and standard deviation', () => {
    // As defined there: one value, then 500 pairs of it plus and minus 0.1; certified SD 0.1 (NumAcc4 from memory of the page).
    for (const [centre, enough] of [[1.2, 14], [1000000.2, 9], [10000000.2, 8]] as const) {
      const pair = [centre - 0.1, centre + 0.1].map((value) => Number(value.toFixed(1)));
      const data = [centre, ...Array.from({ length: 500 }, () => pair).flat()];
      expect(mean(data)).toBe(centre);
      expect(-Math.log10(Math.abs(standardDeviation(data) / 0.1 - 1) + 1e-16)).toBeGreaterThan(enough);
    }
  });

  test('Mavro: mean 2.00185600000000, standard deviation 0.000429123454003053', () => {
    const data = [
      2.00180, 2.00170, 2.00180, 2.00190, 2.00180, 2.00170, 2.00150, 2.00140, 2.00150, 2.00150, 2.00170, 2.00180, 2.00180, 2.00190, 2.00190, 2.00210, 2.00200,
      2.00160, 2.00140, 2.00130, 2.00130, 2.00150, 2.00150, 2.00160, 2.00150, 2.00140, 2.00130, 2.00140, 2.00150, 2.00140, 2.00150, 2.00160, 2.00150, 2.00160,
      2.00190, 2.00200, 2.00200, 2.00210, 2.00220, 2.00230, 2.00240, 2.00250, 2.00270, 2.00260, 2.00260, 2.00260, 2.00270, 2.00260, 2.00250, 2.00240,
    ];
    expect(mean(data)).toBeCloseTo(2.001856, 14);
    expect(standardDeviation(data) / 0.000429123454003053).toBeCloseTo(1, 12);
  });
});

test('compensated and pairwise sums', () => {
  expect(compensatedSum([1, 1e100, 1, -1e100])).toBe(2);
  const tenths = Array.from({ length: 1_000_000 }, () => 0.1);
  expect(compensatedSum(tenths)).toBe(100000);
  expect(Math.abs(pairwiseSum(tenths) - 100000)).toBeLessThan(1e-9);
  expect(pairwiseSum([])).toBe(0);
});

test('exact sum and product: the error term makes up the difference, checked in integers', () => {
  fc.assert(
    fc.property(fc.maxSafeInteger(), fc.maxSafeInteger(), (a, b) => {
      const [sum, sumError] = twoSum(a, b);
      expect(BigInt(sum) + BigInt(sumError)).toBe(BigInt(a) + BigInt(b));
      const [product, productError] = twoProduct(a, b);
      expect(BigInt(product) + BigInt(productError)).toBe(BigInt(a) * BigInt(b));
    }),
  );
});

test('quantile is definition 7 of Hyndman and Fan: R, quantile(c(10, 20, 30, 40, 55), c(.1, .25, .5, .9))', () => {
  expect([0.1, 0.25, 0.5, 0.9].map((p) => quantile([40, 10, 55, 20, 30], p))).toEqual([14, 20, 30, 49]);
  expect(median([4, 1, 3, 2])).toBe(2.5);
});

test.each([
  ['values', () => variance([1])],
  ['values', () => mean([])],
  ['values[1]', () => mean([1, NaN])],
  ['p', () => quantile([1], 2)],
])('bad %s is refused', (field, compute) => {
  expect(compute).toThrow(expect.objectContaining({ name: 'InputError', field }));
});
