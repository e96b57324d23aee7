import { clopperPearson, compareLines, fitLeafLine, sharedLineOf, studyTransfer, type LeafReading, type SharedLine, type TransferVerdict } from '#libs/regression';
import { createStream, studentTQuantile } from '#libs/numeric';

const RWC = [1, 0.9, 0.8, 0.7, 0.6, 0.5];
const lineOptions = { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' } as const;

interface Crop {
  readonly leaves: number;
  /** How much more RWC the leaves have at the same transmittance than the shared line says, as a fraction. */
  readonly shift?: number;
  /** Their slope over the shared one; lines meet at RWC 0.75. */
  readonly slopeRatio?: number;
  readonly betweenSd: number;
}

function crop({ leaves, shift = 0, slopeRatio = 1, betweenSd }: Crop, stream: ReturnType<typeof createStream>): LeafReading[] {
  return Array.from({ length: leaves }, (_, leaf) => {
    const height = betweenSd * stream.normal();
    return RWC.map((rwc) => ({ leafId: `L${leaf}`, rwc, transmittance: Math.exp(-0.9 - 0.75 - slopeRatio * (rwc - 0.75) + shift + height + 0.01 * stream.normal()) }));
  }).flat();
}

const sharedFrom = (leaves: number, stream: ReturnType<typeof createStream>): SharedLine => sharedLineOf(fitLeafLine(crop({ leaves, betweenSd: 0.05 }, stream), lineOptions));
const shared = sharedFrom(40, createStream('shared', 0));
const study = (own: Crop, name: string, more = {}) => studyTransfer(shared, crop(own, createStream(name, 0)), { marginPoints: 5, ...more });

describe('the verdict', () => {
  test('holds: leaves like those it came from, enough of them', () => {
    const { verdict, comparison, moreLeaves, sentence } = study({ leaves: 20, betweenSd: 0.03 }, 'holds');
    expect([verdict, moreLeaves]).toEqual(['holds', null]);
    expect(comparison!.worstPoints).toBeLessThan(5);
    expect(sentence).toContain('inside the margin of ±5');
  });

  test('holds with offset: another rig reads ten points off, everywhere alike', () => {
    const { verdict, comparison, sentence } = study({ leaves: 20, shift: 0.1, betweenSd: 0.03 }, 'offset');
    expect(verdict).toBe('holds with offset');
    // Brighter leaves are read as drier ones: the shared line reads too little.
    expect(Math.abs(comparison!.offsetPoints + 10)).toBeLessThan(4);
    expect(sentence).toContain('points too little');
  });

  test('does not hold: light answers water half as strongly', () => {
    const { verdict, comparison } = study({ leaves: 20, slopeRatio: 0.5, betweenSd: 0.02 }, 'slope');
    expect(verdict).toBe('does not hold');
    expect(comparison!.slopeRatio).toBeCloseTo(0.5, 1);
    expect(comparison!.slopeRatioInterval.upper).toBeLessThan(1);
    expect(comparison!.commonLine.pValue).toBeLessThan(0.001);
  });

  test('not enough data: few leaves, with how many more; and fewer than three tell nothing of their spread', () => {
    const few = study({ leaves: 4, betweenSd: 0.08 }, 'few');
    expect(few.verdict).toBe('not enough data');
    expect(few.moreLeaves).toBeGreaterThan(3);
    expect(few.sentence).toContain(`About ${few.moreLeaves} more own leaves`);
    for (const leaves of [1, 2]) expect(study({ leaves, betweenSd: 0.05 }, 'two')).toMatchObject({ verdict: 'not enough data', comparison: null, moreLeaves: 3 - leaves });
  });

  test('the number of leaves it asks for is about the number that settles it', () => {
    const stream = createStream('enough', 0);
    let [asked, settled] = [0, 0];
    for (let trial = 0; trial < 40; trial += 1) {
      const own = crop({ leaves: 5, betweenSd: 0.06 }, stream);
      const first = studyTransfer(shared, own, { marginPoints: 6 });
      if (first.moreLeaves === null) continue;
      asked += 1;
      const more = crop({ leaves: Math.ceil(1.5 * first.moreLeaves), betweenSd: 0.06 }, stream).map((r) => ({ ...r, leafId: `more ${r.leafId}` }));
      if (studyTransfer(shared, [...own, ...more], { marginPoints: 6 }).verdict.startsWith('holds')) settled += 1;
    }
    expect(asked).toBeGreaterThan(8);
    expect(settled / asked).toBeGreaterThan(0.6);
  });

  test('a shared line that is known too badly is not mended by own leaves', () => {
    const poor = { ...shared, covariance: [[0.01, 0], [0, 0.01]], leafCount: 4 };
    const { verdict, moreLeaves, sentence } = studyTransfer(poor, crop({ leaves: 10, betweenSd: 0.03 }, createStream('poor', 0)), { marginPoints: 5 });
    expect([verdict, moreLeaves]).toEqual(['not enough data', null]);
    expect(sentence).toContain('No number of leaves');
  });
});

test('at the margin it is called to hold in no more than 5 % of trials', () => {
  const stream = createStream('margin', 0);
  const counts: Record<TransferVerdict, number> = { holds: 0, 'holds with offset': 0, 'does not hold': 0, 'not enough data': 0 };
  for (let trial = 0; trial < 200; trial += 1) {
    counts[studyTransfer(sharedFrom(20, stream), crop({ leaves: 8, shift: 0.05, betweenSd: 0.02 }, stream), { marginPoints: 5 }).verdict] += 1;
  }
  // Expected 5 % at most; 10.5 % is 3.5 standard errors above.
  expect(counts.holds / 200).toBeLessThan(0.105);
  expect(counts['does not hold'] / 200).toBeLessThan(0.105);
});

test('an exactly known shared line makes it the t test of one sample of leaf means', () => {
  // Balanced leaves: at the mean RWC, δ is the mean over leaves of what the line reads off, and its variance that of their mean (textbook).
  const known: SharedLine = { ...shared, intercept: -0.9, slope: -1, covariance: [[0, 0], [0, 0]] };
  const own = crop({ leaves: 7, betweenSd: 0.05 }, createStream('exact', 0));
  const { comparison, performance } = studyTransfer(known, own, { marginPoints: 5, rwcRange: { from: 0.5, to: 1 } });
  const off = Array.from({ length: 7 }, (_, leaf) => {
    const readings = own.filter((r) => r.leafId === `L${leaf}`);
    return (100 * readings.reduce((sum, r) => sum + (-0.9 - Math.log(r.transmittance)) - r.rwc, 0)) / readings.length;
  });
  const mean = off.reduce((sum, d) => sum + d, 0) / 7;
  const sd = Math.sqrt(off.reduce((sum, d) => sum + (d - mean) ** 2, 0) / 6);
  const middle = comparison!.curve[10]!;
  expect([middle.rwc, middle.degreesOfFreedom]).toEqual([0.75, 6]);
  expect(middle.points).toBeCloseTo(mean, 9);
  expect(middle.standardErrorPoints).toBeCloseTo(sd / Math.sqrt(7), 6);
  expect(performance.biasPoints).toBeCloseTo(mean, 9);
  expect(performance.biasInterval!.upper - mean).toBeCloseTo((studentTQuantile(0.975, 6) * sd) / Math.sqrt(7), 9);
});

test('agrees with a comparison of both groups, where both are given as readings', () => {
  const stream = createStream('both', 0);
  const [theirs, own] = [crop({ leaves: 15, betweenSd: 0.05 }, stream), crop({ leaves: 15, shift: 0.04, betweenSd: 0.05 }, stream)];
  const { comparison } = studyTransfer(sharedLineOf(fitLeafLine(theirs, lineOptions)), own, { marginPoints: 5, rwcRange: { from: 0.6, to: 0.9 } });
  const both = compareLines([...theirs.map((r) => ({ ...r, group: 'theirs' })), ...own.map((r) => ({ ...r, group: 'own' }))], { ...lineOptions, marginPoints: 5, rwcRange: { from: 0.6, to: 0.9 } });
  const [ours, pair] = [comparison!.curve[10]!, both.pairs[0]!.curve[20]!];
  expect(Math.abs(ours.points - pair.points)).toBeLessThan(0.15);
  expect(ours.standardErrorPoints / pair.standardErrorPoints).toBeCloseTo(1, 1);
});

describe('what it did on own leaves', () => {
  test('promises for a new leaf are kept 95 times of 100 (60 shared lines of 10 leaves, 10 own leaves each)', () => {
    const stream = createStream('promise', 0);
    let inside = 0;
    for (let trial = 0; trial < 60; trial += 1) inside += studyTransfer(sharedFrom(10, stream), crop({ leaves: 10, betweenSd: 0.05 }, stream), { marginPoints: 5 }).performance.coverage.inside;
    // Leaves of one trial share its line: 600 leaves tell about as much as 60 lines, an SD of 1.3 points at most.
    expect(Math.abs(inside / 600 - 0.95)).toBeLessThan(0.035);
  });

  test('counts leaves, tells how sure the share is, and how unlikely so few would be', () => {
    const { coverage, leaves } = study({ leaves: 10, shift: 0.3, betweenSd: 0.05 }, 'far').performance;
    expect(leaves).toHaveLength(10);
    expect(coverage.inside).toBeLessThan(3);
    expect(coverage.pValue).toBeLessThan(1e-6);
    expect(leaves.every(({ biasPoints }) => biasPoints < 0)).toBe(true);
  });

  // R 4.2.2, binom.test(k, n)$conf.int
  test.each([[0, 10, 0, 0.3084971], [7, 10, 0.3475471, 0.9332605], [10, 10, 0.6915029, 1], [3, 100, 0.006229972, 0.08517605]])('Clopper-Pearson of %p in %p', (k, n, lower, upper) => {
    expect(clopperPearson(k, n).lower).toBeCloseTo(lower, 6);
    expect(clopperPearson(k, n).upper).toBeCloseTo(upper, 6);
  });
});

test('neither the order of readings nor where the intercept is meant matters', () => {
  const stream = createStream('order', 0);
  const [theirs, own] = [crop({ leaves: 12, betweenSd: 0.05 }, stream), crop({ leaves: 6, shift: 0.03, betweenSd: 0.05 }, stream)];
  const of = (originRwc: number, readings: readonly LeafReading[]) => studyTransfer(sharedLineOf(fitLeafLine(theirs, { ...lineOptions, originRwc })), readings, { marginPoints: 5 });
  const plain = of(0, own);
  for (const other of [of(0.7, own), of(0, [...own].reverse())]) {
    expect(other.comparison!.offsetPoints).toBeCloseTo(plain.comparison!.offsetPoints, 6);
    expect(other.comparison!.worstPoints).toBeCloseTo(plain.comparison!.worstPoints, 5);
    expect(other.comparison!.commonLine.statistic / plain.comparison!.commonLine.statistic).toBeCloseTo(1, 5);
    expect(other.performance.rmsPoints).toBeCloseTo(plain.performance.rmsPoints, 8);
  }
});

test.each<[string, () => unknown, string]>([
  ['no readings', () => studyTransfer(shared, [], { marginPoints: 5 }), 'readings'],
  ['a margin of none', () => study({ leaves: 4, betweenSd: 0.05 }, 'x', { marginPoints: 0 }), 'marginPoints'],
  ['alpha in per cent', () => study({ leaves: 4, betweenSd: 0.05 }, 'x', { alpha: 5 }), 'alpha'],
  ['level in per cent', () => study({ leaves: 4, betweenSd: 0.05 }, 'x', { level: 95 }), 'level'],
  ['a range upside down', () => study({ leaves: 4, betweenSd: 0.05 }, 'x', { rwcRange: { from: 1, to: 0.5 } }), 'rwcRange'],
  ['a flat shared line', () => studyTransfer({ ...shared, slope: 0 }, crop({ leaves: 4, betweenSd: 0.05 }, createStream('x', 0)), { marginPoints: 5 }), 'shared.slope'],
  ['a covariance of another shape', () => studyTransfer({ ...shared, covariance: [[1]] }, crop({ leaves: 4, betweenSd: 0.05 }, createStream('x', 0)), { marginPoints: 5 }), 'shared.covariance'],
  ['a missing number', () => studyTransfer({ ...shared, intercept: NaN }, crop({ leaves: 4, betweenSd: 0.05 }, createStream('x', 0)), { marginPoints: 5 }), 'shared.intercept'],
  ['leaves of another range', () => studyTransfer(shared, crop({ leaves: 4, betweenSd: 0.05 }, createStream('x', 0)).map((r) => ({ ...r, rwc: r.rwc - 0.6 })), { marginPoints: 5 }), 'readings'],
  ['a dark reading', () => studyTransfer(shared, crop({ leaves: 4, betweenSd: 0.05 }, createStream('x', 0)).map((r, i) => (i === 3 ? { ...r, transmittance: 0 } : r)), { marginPoints: 5 }), 'readings[3].transmittance'],
])('refuses %s', (_, work, field) => {
  expect(work).toThrow(expect.objectContaining({ field }));
});
