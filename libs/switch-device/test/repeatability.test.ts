import fc from 'fast-check';
import { createStream } from '#libs/numeric';
import { repeatabilityByAnova } from '../src/index.js';

/** Digits that agree, as NIST counts them. */
const digits = (got: number, certified: number): number => (got === certified ? 15 : -Math.log10(Math.abs(got - certified) / Math.abs(certified)));

/** NIST StRD one-way ANOVA, SiRstv.dat; https://www.itl.nist.gov/div898/strd/anova/SiRstv.html */
const siRstv = [
  [196.3052, 196.124, 196.189, 196.2569, 196.3403],
  [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
  [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
  [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
  [196.2119, 196.1051, 196.185, 196.0052, 196.209],
];

/** NIST StRD SmLs01 to SmLs09: nine groups, a centre value and then ten (or hundred…) pairs of centre ∓ 0.1, behind a common offset. */
function smLs(wholePart: string, size: number): number[][] {
  const tenths = (t: number): number => Number(`${wholePart}.${t}`);
  return [4, 3, 5, 3, 5, 3, 5, 3, 5].map((centre) => Array.from({ length: size }, (_, i) => tenths(i === 0 ? centre : i % 2 === 1 ? centre - 1 : centre + 1)));
}

describe('repeatabilityByAnova', () => {
  it('meets the certified values of SiRstv (lower difficulty)', () => {
    const a = repeatabilityByAnova(siRstv);
    expect([a.degreesOfFreedomBetween, a.degreesOfFreedomWithin]).toEqual([4, 20]);
    expect(digits(a.sumOfSquaresBetween, 0.0511462616)).toBeGreaterThan(12);
    expect(digits(a.sumOfSquaresWithin, 0.21663656)).toBeGreaterThan(12);
    expect(digits(a.f!, 1.18046237440255)).toBeGreaterThan(12);
    expect(digits(a.repeatabilitySd, 0.104076068334656)).toBeGreaterThan(12);
    // (MS_between − MS_within)/5 from the certified mean squares.
    expect(a.betweenUnitVariance).toBeCloseTo((0.0127865654 - 0.010831828) / 5, 12);
  });

  // Least digits reached, measured; behind 10¹² the data themselves are rounded to 1e-4 by the number format.
  it.each([
    ['SmLs01', '1', 21, 1.68, 1.8, 21, 14.8], ['SmLs02', '1', 201, 16.08, 18, 201, 14.8], ['SmLs04', '1000000', 21, 1.68, 1.8, 21, 10],
    ['SmLs05', '1000000', 201, 16.08, 18, 201, 9.8], ['SmLs07', '1000000000000', 21, 1.68, 1.8, 21, 3.9], ['SmLs08', '1000000000000', 201, 16.08, 18, 201, 3.8],
  ] as const)('meets the certified values of %s behind an offset of %s', (_, whole, size, between, within, f, least) => {
    const a = repeatabilityByAnova(smLs(whole, size));
    const reached = [digits(a.sumOfSquaresBetween, between), digits(a.sumOfSquaresWithin, within), digits(a.f!, f), digits(a.repeatabilitySd, 0.1)];
    expect(Math.min(...reached)).toBeGreaterThan(least);
  });

  it('says zero between units where they differ less than repeats do, and keeps the raw value', () => {
    const a = repeatabilityByAnova([[1, 3], [2, 2.1], [1.9, 2.2]]);
    expect(a.betweenUnitVariance).toBeLessThan(0);
    expect([a.betweenUnitSd, a.intraclassCorrelation]).toEqual([0, 0]);
  });

  it('takes units apart that differ while repeats do not, and knows when nothing differs', () => {
    expect(repeatabilityByAnova([[1, 1], [2, 2]]).pValue).toBe(0);
    const same = repeatabilityByAnova([[1, 1], [1, 1]]);
    expect([same.f, same.pValue, same.intraclassCorrelation, same.repeatabilitySd]).toEqual([null, null, null, 0]);
  });

  it('does not mind the order of units and repeats, nor a change of unit', () => {
    fc.assert(fc.property(fc.array(fc.array(fc.double({ min: -100, max: 100, noNaN: true }), { minLength: 2, maxLength: 6 }), { minLength: 2, maxLength: 6 }), (groups) => {
      const a = repeatabilityByAnova(groups);
      fc.pre(a.repeatabilitySd > 1e-6);
      const b = repeatabilityByAnova([...groups].reverse().map((g) => [...g].reverse().map((v) => 1000 * v)));
      expect(b.repeatabilitySd / a.repeatabilitySd / 1000).toBeCloseTo(1, 9);
      expect(Math.abs(b.f! - a.f!)).toBeLessThan(1e-7 * (1 + a.f!));
    }));
  });

  it('covers the true repeatability 95 times of 100 (2000 simulated batches)', () => {
    const stream = createStream('anova coverage', 0);
    let hits = 0;
    for (let trial = 0; trial < 2000; trial += 1) {
      const groups = [3, 5, 4, 6].map((size) => {
        const unit = 3 * stream.normal();
        return Array.from({ length: size }, () => unit + 2 * stream.normal());
      });
      const { low, high } = repeatabilityByAnova(groups).repeatabilityInterval95;
      if (low <= 2 && 2 <= high) hits += 1;
    }
    expect(Math.abs(hits / 2000 - 0.95)).toBeLessThan(0.0125);
  });

  it.each([[[[1, 2]], 'TOO_FEW_UNITS'], [[[1], [2]], 'NO_REPEATS'], [[[1, 2], []], 'EMPTY_UNIT'], [[[1, NaN], [2]], 'NOT_FINITE']])('refuses %j with %s', (groups, code) => {
    expect(() => repeatabilityByAnova(groups)).toThrow(expect.objectContaining({ code }));
  });
});
