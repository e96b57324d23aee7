import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { createStream, studentTQuantile } from '#libs/numeric';
import { compareLines, type ComparisonRequest, type EquivalenceVerdict, type GroupedReading } from '#libs/regression';

interface FTest {
  F: number;
  df1: number;
  df2: number;
  p: number;
}
interface ChiSquareTest {
  chisq: number;
  df: number;
  p: number;
}
const reference = JSON.parse(readFileSync(join(import.meta.dirname, '../fixtures/pooling/pooling.json'), 'utf8')) as {
  iris: { x: number[]; y: number[]; group: string[]; slope: FTest; line: FTest; slopeLR: number; lineLR: number };
  orthodont: { x: number[]; y: number[]; group: string[]; leaf: string[]; mixed: Record<'intercept' | 'slope', { slope: ChiSquareTest; line: ChiSquareTest }> };
};

const relative = (got: number, expected: number) => Math.abs(got / expected - 1);
const { iris, orthodont } = reference;
const plain: ComparisonRequest = { leafEffect: 'none', responseScale: 'transmittance', marginPoints: 3, rwcRange: { from: 1.5, to: 6 } };

describe('tests of a common slope and a common line', () => {
  // Reference: R 4.2.2 anova(lm) on iris (Anderson 1935), petal width against length, three species.
  test('extra sum of squares and likelihood ratio of independent points', () => {
    const readings = iris.x.map((rwc, i) => ({ group: iris.group[i]!, leafId: String(i), rwc, transmittance: iris.y[i]! }));
    const { commonSlope, commonLine, notes } = compareLines(readings, plain);
    for (const [got, expected, ratio] of [[commonSlope, iris.slope, iris.slopeLR], [commonLine, iris.line, iris.lineLR]] as const) {
      const { statistic, numeratorDf, denominatorDf, pValue } = got.extraSumOfSquares;
      expect([numeratorDf, denominatorDf]).toEqual([expected.df1, expected.df2]);
      expect(relative(statistic, expected.F)).toBeLessThan(1e-9);
      expect(relative(pValue, expected.p)).toBeLessThan(1e-8);
      expect(relative(got.likelihoodRatio.statistic, ratio)).toBeLessThan(1e-9);
    }
    expect(notes.join()).toContain('extrapolates');
  });

  // Reference: lme4 1.1-31, ML, on Orthodont (Potthoff & Roy 1964): boys' and girls' growth, the child as the leaf.
  test.each([
    ['intercept', 'intercept'],
    ['slope', 'intercept-and-slope'],
  ] as const)('likelihood ratio with random %s', (name, leafEffect) => {
    const readings = orthodont.x.map((rwc, i) => ({ group: orthodont.group[i]!, leafId: orthodont.leaf[i]!, rwc, transmittance: orthodont.y[i]! }));
    const result = compareLines(readings, { ...plain, leafEffect, rwcRange: { from: 8, to: 14 } });
    for (const which of ['slope', 'line'] as const) {
      const got = (which === 'slope' ? result.commonSlope : result.commonLine).likelihoodRatio;
      const expected = orthodont.mixed[name][which];
      expect(got.numeratorDf).toBe(expected.df);
      expect(relative(got.statistic, expected.chisq)).toBeLessThan(1e-8);
      expect(relative(got.pValue, expected.p)).toBeLessThan(1e-7);
    }
    expect(result.notes.join()).toContain('too optimistic');
  });
});

interface TwoCrops {
  readonly leaves: number;
  /** How much more RWC the second crop has at the same transmittance, as a fraction. */
  readonly shift: number;
  readonly betweenSd: number;
  readonly stream: number;
}

function twoCrops({ leaves, shift, betweenSd, stream: number }: TwoCrops): GroupedReading[] {
  const stream = createStream(4242n, number);
  return ['bean', 'maize'].flatMap((group) =>
    Array.from({ length: leaves }, (_, leaf) => {
      const offset = betweenSd * stream.normal();
      return Array.from({ length: 6 }, (__, k): GroupedReading => {
        const rwc = 1 - 0.1 * k;
        const truth = -0.9 - (rwc - (group === 'maize' ? shift : 0)) + offset + 0.02 * stream.normal();
        return { group, leafId: `L${leaf}`, rwc, transmittance: Math.exp(truth) };
      });
    }).flat(),
  );
}

const mixed: ComparisonRequest = { leafEffect: 'intercept', responseScale: 'ln-transmittance', marginPoints: 5, rwcRange: { from: 0.55, to: 0.95 } };

describe('the verdict', () => {
  const verdictOf = (crops: TwoCrops, request = mixed) => compareLines(twoCrops(crops), request);

  test('equivalent: many leaves, no difference', () => {
    const { verdict, sentence, pairs } = verdictOf({ leaves: 60, shift: 0, betweenSd: 0.05, stream: 1 });
    expect(verdict).toBe('equivalent');
    expect(sentence).toContain('may share one line');
    expect(pairs[0]!.lowerPoints).toBeGreaterThan(-5);
    expect(pairs[0]!.upperPoints).toBeLessThan(5);
  });

  test('equivalent though detectable: a difference that is real and too small to matter', () => {
    const { verdict, sentence, commonLine } = verdictOf({ leaves: 60, shift: 0.02, betweenSd: 0.01, stream: 2 });
    expect(commonLine.likelihoodRatio.pValue).toBeLessThan(0.05);
    expect(verdict).toBe('equivalent');
    expect(sentence).toContain('detectable');
    expect(sentence).toContain('too small to matter');
  });

  test('different: twenty points apart', () => {
    const { verdict, pairs, sentence } = verdictOf({ leaves: 20, shift: 0.2, betweenSd: 0.05, stream: 3 });
    expect(verdict).toBe('different');
    // At the same transmittance maize holds 20 points more than bean.
    expect(pairs[0]!.largestPoints).toBeLessThan(-15);
    expect(sentence).toContain('may not share one line');
  });

  test('undecided: few leaves; not significant is not the same', () => {
    const { verdict, sentence, commonLine, pairs } = verdictOf({ leaves: 4, shift: 0, betweenSd: 0.08, stream: 4 });
    expect(commonLine.likelihoodRatio.pValue).toBeGreaterThan(0.05);
    expect(verdict).toBe('undecided');
    expect(sentence).toContain('not proof');
    expect(pairs[0]!.sentence).toContain('measure more leaves');
  });

  test('three crops: one pair apart is enough to refuse', () => {
    const third = twoCrops({ leaves: 20, shift: 0.2, betweenSd: 0.02, stream: 6 }).filter((r) => r.group === 'maize').map((r) => ({ ...r, group: 'vine' }));
    const result = compareLines([...twoCrops({ leaves: 20, shift: 0, betweenSd: 0.02, stream: 5 }), ...third], mixed);
    expect(result.pairs.map((pair) => [pair.first, pair.second, pair.verdict])).toEqual([
      ['bean', 'maize', 'equivalent'],
      ['bean', 'vine', 'different'],
      ['maize', 'vine', 'different'],
    ]);
    expect(result.verdict).toBe('different');
    expect(result.groups.map((group) => group.leafCount)).toEqual([20, 20, 20]);
  });
});

test('the difference and its standard error are those of a comparison of means, where they can be', () => {
  // One slope in truth and balanced designs: at the mean RWC δ is the difference of the mean responses over the slope, and its variance
  // that of two samples of leaf means with pooled variance (two-sample t), to first order in the slopes.
  const readings = twoCrops({ leaves: 12, shift: 0.04, betweenSd: 0.05, stream: 9 });
  const meanOf = (group: string, leaf: number) => {
    const own = readings.filter((r) => r.group === group && r.leafId === `L${leaf}`).map((r) => Math.log(r.transmittance));
    return own.reduce((sum, y) => sum + y, 0) / own.length;
  };
  const means = ['bean', 'maize'].map((group) => Array.from({ length: 12 }, (_, leaf) => meanOf(group, leaf)));
  const centre = means.map((values) => values.reduce((sum, y) => sum + y, 0) / 12);
  const pooled = means.reduce((sum, values, g) => sum + values.reduce((inner, y) => inner + (y - centre[g]!) ** 2, 0), 0) / 22;
  const result = compareLines(readings, { ...mixed, rwcRange: { from: 0.7, to: 0.8 } });
  const middle = result.pairs[0]!.curve[20]!;
  expect(middle.rwc).toBeCloseTo(0.75, 12);
  const slope = (result.groups[0]!.slope + result.groups[1]!.slope) / 2;
  expect(middle.points).toBeCloseTo((100 * (centre[1]! - centre[0]!)) / slope, 0);
  expect(relative(middle.standardErrorPoints, (100 * Math.sqrt(pooled / 6)) / Math.abs(slope))).toBeLessThan(0.02);
  expect(middle.degreesOfFreedom).toBeGreaterThan(21);
  expect(middle.degreesOfFreedom).toBeLessThan(23);
  expect(result.pairs[0]!.upperPoints).toBeGreaterThanOrEqual(middle.points + studentTQuantile(0.95, 22) * middle.standardErrorPoints - 0.01);
});

test('crops that differ by exactly the margin are called equivalent in no more than 5 % of trials', () => {
  // 200 trials at the edge: expected 5 % at most; 10.5 % is 3.5 standard errors above.
  const trials = 200;
  const counts: Record<EquivalenceVerdict, number> = { equivalent: 0, different: 0, undecided: 0 };
  for (let trial = 0; trial < trials; trial += 1) {
    counts[compareLines(twoCrops({ leaves: 8, shift: 0.05, betweenSd: 0.02, stream: 1000 + trial }), mixed).verdict] += 1;
  }
  expect(counts.equivalent / trials).toBeLessThan(0.105);
  expect(counts.different / trials).toBeLessThan(0.105);
});

test('the same leaf label in two crops is two leaves, and the order of readings does not matter', () => {
  const readings = twoCrops({ leaves: 6, shift: 0.03, betweenSd: 0.05, stream: 12 });
  const renamed = readings.map((reading) => ({ ...reading, leafId: `${reading.group}-${reading.leafId}` }));
  const plainResult = compareLines(readings, mixed);
  for (const other of [compareLines(renamed, mixed), compareLines([...readings].reverse(), mixed)]) {
    expect(other.commonLine.likelihoodRatio.statistic).toBeCloseTo(plainResult.commonLine.likelihoodRatio.statistic, 6);
    expect(Math.abs(other.pairs[0]!.largestPoints)).toBeCloseTo(Math.abs(plainResult.pairs[0]!.largestPoints), 6);
    expect(other.verdict).toBe(plainResult.verdict);
  }
});

test('bad requests are refused by name', () => {
  const readings = twoCrops({ leaves: 6, shift: 0, betweenSd: 0.05, stream: 13 });
  expect(() => compareLines(readings.filter((r) => r.group === 'bean'), mixed)).toThrow('at least two groups');
  expect(() => compareLines(readings, { ...mixed, marginPoints: 0 })).toThrow('marginPoints');
  expect(() => compareLines(readings, { ...mixed, rwcRange: { from: 0.9, to: 0.6 } })).toThrow('rwcRange');
  expect(() => compareLines(readings, { ...mixed, alpha: 0.6 })).toThrow('alpha');
  expect(() => compareLines(readings.map((r, i) => (i === 2 ? { ...r, rwc: NaN } : r)), mixed)).toThrow('readings[2].rwc');
  const oneRwc = readings.map((r) => (r.group === 'maize' ? { ...r, rwc: 0.8 } : r));
  expect(() => compareLines(oneRwc, mixed)).toThrow('maize: all readings of this group are at one RWC');
});

test('one leaf a group decides nothing: leaf and group are then one', () => {
  const readings = twoCrops({ leaves: 1, shift: 0, betweenSd: 0.05, stream: 14 });
  expect(() => compareLines(readings, mixed)).toThrow('every group has one leaf');
  const planted = twoCrops({ leaves: 4, shift: 0, betweenSd: 0.05, stream: 15 }).map((r) => ({ ...r, plantId: 'p' }));
  expect(() => compareLines(planted, mixed)).toThrow('every group has one plant');
  // More leaves in one group tell what leaves differ by.
  expect(compareLines([...readings.filter((r) => r.group === 'bean'), ...twoCrops({ leaves: 6, shift: 0, betweenSd: 0.05, stream: 16 }).filter((r) => r.group === 'maize')], mixed).verdict).toBe('undecided');
});

test('as many readings as the lines have parameters are refused as that', () => {
  const readings = twoCrops({ leaves: 1, shift: 0, betweenSd: 0, stream: 17 }).filter((r) => r.rwc > 0.85);
  expect(() => compareLines(readings, { ...mixed, leafEffect: 'none' })).toThrow('4 readings for 2 lines');
});

test('lines that run against each other are different, though they agree where they cross', () => {
  const rising = twoCrops({ leaves: 8, shift: 0, betweenSd: 0.01, stream: 18 }).map((r) => (r.group === 'bean' ? r : { ...r, transmittance: Math.exp(-1.8) / r.transmittance }));
  const { verdict, pairs } = compareLines(rising, mixed);
  expect([verdict, pairs[0]!.verdict]).toEqual(['different', 'different']);
  expect(pairs[0]!.sentence).toContain('run against each other');
  // Slopes of either sign that may both be none show nothing.
  const flat = twoCrops({ leaves: 4, shift: 0, betweenSd: 0.05, stream: 19 }).map((r, i) => ({ ...r, transmittance: 0.2 * Math.exp(0.03 * Math.sin(7 * i) + (r.group === 'bean' ? 0.01 : -0.01) * r.rwc) }));
  expect(compareLines(flat, mixed).verdict).toBe('undecided');
});
