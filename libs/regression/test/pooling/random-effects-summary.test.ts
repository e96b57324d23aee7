import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { createStream } from '#libs/numeric';
import { summariseGroups, type GroupEstimate, type TauMethod } from '#libs/regression';

interface ReferenceSummary {
  method: TauMethod;
  test: 'z' | 'knha' | 'adhoc';
  mu: number;
  se: number;
  lower: number;
  upper: number;
  tau2: number;
  I2: number;
  Q: number;
  Qp: number;
}
interface Meta {
  data: { yi: number[]; vi: number[] };
  fits: ReferenceSummary[];
}
const meta = (JSON.parse(readFileSync(join(import.meta.dirname, '../fixtures/pooling/pooling.json'), 'utf8')) as { meta: Record<string, Meta> & { bcgHiggins: { lower: number; upper: number } } }).meta;

const groupsOf = ({ data }: Meta): GroupEstimate[] => data.yi.map((estimate, i) => ({ label: `g${i}`, estimate, standardError: Math.sqrt(data.vi[i]!) }));
const relative = (got: number, expected: number) => Math.abs(got - expected) / Math.max(Math.abs(expected), 1e-3);

// Reference: metafor 3.8-1 (fixtures/pooling/make-fixtures.R), on dat.bcg and two small sets.
describe.each(['bcg', 'small', 'homog'])('%s as metafor has it', (set) => {
  const { fits } = meta[set]!;
  test.each(fits.filter((fit) => fit.test === 'adhoc').map((fit) => [fit.method, fit] as const))('%s', (tauMethod, fit) => {
    const got = summariseGroups(groupsOf(meta[set]!), { tauMethod });
    expect(relative(got.tauSquared, fit.tau2)).toBeLessThan(1e-8);
    expect(relative(got.mean, fit.mu)).toBeLessThan(1e-9);
    expect(relative(got.standardError, fit.se)).toBeLessThan(1e-8);
    expect(relative(got.interval.lower, fit.lower)).toBeLessThan(1e-8);
    expect(relative(got.interval.upper, fit.upper)).toBeLessThan(1e-8);
    expect(relative(100 * got.iSquared, fit.I2)).toBeLessThan(1e-8);
    expect(relative(got.q, fit.Q)).toBeLessThan(1e-10);
    expect(Math.abs(got.qPValue / fit.Qp - 1)).toBeLessThan(1e-8);
    const plain = fits.find((other) => other.method === tauMethod && other.test === 'z')!;
    expect(relative(got.plainStandardError, plain.se)).toBeLessThan(1e-8);
    const unmodified = fits.find((other) => other.method === tauMethod && other.test === 'knha')!;
    expect(relative(got.plainStandardError * Math.sqrt(got.knappHartungFactor), unmodified.se)).toBeLessThan(1e-8);
  });
});

test('the printed results for the 13 BCG trials', () => {
  // W. Viechtbauer, J. Stat. Softw. 36 (2010) 3, section 4: tau² 0.3132, I² 92.22 %, Q 152.233, mean −0.7145 (SE 0.1798).
  const got = summariseGroups(groupsOf(meta['bcg']!), { tauMethod: 'REML' });
  expect([got.tauSquared.toFixed(4), (100 * got.iSquared).toFixed(2), got.q.toFixed(3), got.mean.toFixed(4), got.plainStandardError.toFixed(4)]).toEqual([
    '0.3132',
    '92.22',
    '152.233',
    '-0.7145',
    '0.1798',
  ]);
});

test('the prediction interval is that of Higgins, Thompson and Spiegelhalter', () => {
  const got = summariseGroups(groupsOf(meta['bcg']!), { tauMethod: 'DL' }).predictionInterval!;
  expect(relative(got.lower, meta.bcgHiggins.lower)).toBeLessThan(1e-9);
  expect(relative(got.upper, meta.bcgHiggins.upper)).toBeLessThan(1e-9);
});

test('two groups have no prediction interval, and the sentence says why', () => {
  const got = summariseGroups([{ label: 'a', estimate: 1, standardError: 0.1 }, { label: 'b', estimate: 1.4, standardError: 0.1 }], { tauMethod: 'REML' });
  expect(got.predictionInterval).toBeNull();
  expect(got.sentence).toContain('Two groups are too few');
});

test('units and order change nothing but units', () => {
  const group = fc.record({ label: fc.string(), estimate: fc.double({ min: -2, max: 2, noNaN: true }), standardError: fc.double({ min: 0.05, max: 1, noNaN: true }) });
  fc.assert(
    fc.property(fc.array(group, { minLength: 3, maxLength: 9 }), fc.constantFrom<TauMethod>('DL', 'PM'), (groups, tauMethod) => {
      const plain = summariseGroups(groups, { tauMethod });
      const percent = summariseGroups([...groups].reverse().map((g) => ({ ...g, estimate: 100 * g.estimate, standardError: 100 * g.standardError })), { tauMethod });
      expect(Math.abs(percent.mean / 100 - plain.mean)).toBeLessThan(1e-8);
      expect(Math.abs(percent.tau / 100 - plain.tau)).toBeLessThan(1e-6);
      expect(Math.abs(percent.iSquared - plain.iSquared)).toBeLessThan(1e-6);
    }),
    { numRuns: 100, seed: 1 },
  );
});

test('the 95 % interval of the mean covers 95 % with six groups', () => {
  // 2000 trials: standard error 0.49 %; the band is ±4 of them below and open to the safe side, where the modification errs.
  const trials = 2000;
  let inside = 0;
  for (let trial = 0; trial < trials; trial += 1) {
    const stream = createStream(77n, trial);
    const groups = Array.from({ length: 6 }, (_, i) => {
      const standardError = 0.03 + 0.01 * i;
      return { label: String(i), estimate: 1 + 0.08 * stream.normal() + standardError * stream.normal(), standardError };
    });
    const { interval } = summariseGroups(groups, { tauMethod: 'PM' });
    inside += Number(interval.lower <= 1 && 1 <= interval.upper);
  }
  expect(inside / trials).toBeGreaterThan(0.93);
  expect(inside / trials).toBeLessThan(0.975);
});

test('bad estimates are refused by name', () => {
  const good = groupsOf(meta['small']!);
  expect(() => summariseGroups(good.slice(0, 1), { tauMethod: 'DL' })).toThrow('groups');
  expect(() => summariseGroups([...good, { label: 'x', estimate: 1, standardError: 0 }], { tauMethod: 'DL' })).toThrow('groups[5].standardError');
  expect(() => summariseGroups([...good, { label: 'x', estimate: NaN, standardError: 1 }], { tauMethod: 'DL' })).toThrow('groups[5].estimate');
  expect(() => summariseGroups(good, { tauMethod: 'DL', level: 95 })).toThrow('level');
  expect(() => summariseGroups(good, { tauMethod: 'ML' as TauMethod })).toThrow('tauMethod');
});
