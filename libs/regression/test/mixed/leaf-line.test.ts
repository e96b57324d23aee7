import {
  estimateVariance,
  fitLeafLine,
  fitMixedModel,
  intervalsAtRwc,
  invertedLeafInterval,
  leafIntervalAt,
  leafLineModel,
  leaveOneLeafOut,
  oneSidedToleranceFactor,
  rwcAtTransmittance,
  type AcceptedSet,
  type LeafLineOptions,
  type LeafReading,
} from '#libs/regression';
import { createStream, studentTQuantile } from '#libs/numeric';
import { labels, modelOf, numbers } from './fixture.js';
import { simulateLeaves } from './leaf-sets.js';

const options: LeafLineOptions = { method: 'REML', leafEffect: 'intercept-and-slope', responseScale: 'ln-transmittance' };
const fixtureLeaves: LeafReading[] = labels('leaves', 'leaf').map((leafId, i) => ({
  leafId,
  rwc: numbers('leaves', 'rwc')[i]!,
  transmittance: Math.exp(numbers('leaves', 'lnT')[i]!),
}));
const line = fitLeafLine(fixtureLeaves, options);

describe('a line with leaf effects', () => {
  test('is the mixed model of ln T on RWC', () => {
    const reference = fitMixedModel({ ...modelOf('leaves'), method: 'REML' });
    expect(line.slope).toBeCloseTo(reference.fixed[1]!.estimate, 12);
    expect(line.intercept).toBeCloseTo(reference.fixed[0]!.estimate, 12);
    expect(line.leafCount).toBe(30);
    expect(line.fit.deviance).toBeCloseTo(reference.deviance, 9);
  });

  test('does not depend on where the intercept is meant, when effects may correlate', () => {
    const moved = fitLeafLine(fixtureLeaves, { ...options, originRwc: 0.7 });
    expect(moved.fit.deviance).toBeCloseTo(line.fit.deviance, 8);
    const [here, there] = [intervalsAtRwc(line, 0.8), intervalsAtRwc(moved, 0.8)];
    for (const name of ['confidence', 'prediction', 'tolerance'] as const) expect(there[name].halfWidth).toBeCloseTo(here[name].halfWidth, 7);
    expect(rwcAtTransmittance(moved, 0.2).rwc).toBeCloseTo(rwcAtTransmittance(line, 0.2).rwc!, 10);
  });

  test('takes plants and discs from the readings', () => {
    const names = ['plant', 'leaf', 'disc'].map((column) => labels('nested', column));
    const readings = numbers('nested', 'rwc').map((rwc, i) => ({
      plantId: names[0]![i]!,
      leafId: names[1]![i]!,
      discId: names[2]![i]!,
      rwc,
      transmittance: Math.exp(numbers('nested', 'lnT')[i]!),
    }));
    const nested = fitLeafLine(readings, { ...options, leafEffect: 'intercept' });
    expect(nested.fit.levels.map((level) => level.name)).toEqual(['plant', 'leaf', 'disc']);
    expect(nested.fit.logLikelihood).toBeCloseTo(fitMixedModel({ ...modelOf('nested'), method: 'REML' }).logLikelihood, 8);
    const partly = readings.map((reading, i) => (i === 3 ? { ...reading, discId: undefined } : reading));
    expect(() => fitLeafLine(partly, options)).toThrow('readings[3].discId: the disc is given for some readings but not for this one');
  });
});

describe('the three intervals', () => {
  // With each leaf a single random intercept and a balanced design, the leaf means are a simple sample: the intervals at the mean RWC
  // then follow from textbook formulas for n normal observations.
  const readings = simulateLeaves({ leaves: 8, readings: 12, betweenSd: 0.08, slopeSd: 0, withinSd: 0.02 }, createStream(11n, 0));
  const balanced = fitLeafLine(readings, { ...options, leafEffect: 'intercept' });
  const meanRwc = readings.reduce((sum, reading) => sum + reading.rwc, 0) / readings.length;
  const leafMeans = Array.from({ length: 8 }, (_, leaf) => {
    const own = readings.filter((reading) => reading.leafId === `L${leaf + 1}`);
    return own.reduce((sum, reading) => sum + Math.log(reading.transmittance), 0) / own.length;
  });
  const mean = leafMeans.reduce((sum, value) => sum + value, 0) / 8;
  const sd = Math.sqrt(leafMeans.reduce((sum, value) => sum + (value - mean) ** 2, 0) / 7);

  test('confidence is the t interval of the leaf means', () => {
    const { confidence } = intervalsAtRwc(balanced, meanRwc);
    expect(confidence.degreesOfFreedom).toBeCloseTo(7, 6);
    expect(confidence.halfWidth).toBeCloseTo((studentTQuantile(0.975, 7) * sd) / Math.sqrt(8), 9);
  });

  test('prediction of the mean of as many readings is the t interval of one more leaf mean', () => {
    const { prediction } = intervalsAtRwc(balanced, meanRwc, { readingsPerNewLeaf: 12 });
    expect(prediction.halfWidth).toBeCloseTo(studentTQuantile(0.975, 7) * sd * Math.sqrt(1 + 1 / 8), 9);
  });

  test('tolerance of such means has the factor of ISO 16269-6 for n = 8', () => {
    const { tolerance } = intervalsAtRwc(balanced, meanRwc, { readingsPerNewLeaf: 12, toleranceSides: 'lower' });
    expect(tolerance.factor).toBeCloseTo(oneSidedToleranceFactor({ effectiveCount: 8, share: 0.95, confidence: 0.95, degreesOfFreedom: 7 }), 6);
    expect(tolerance.factor.toFixed(2)).toBe('3.19');
    expect(tolerance.response.upper).toBe(Infinity);
    expect(tolerance.halfWidth).toBeCloseTo(tolerance.factor * sd, 8);
  });

  test('are ordered, say in words what they hold, and mark extrapolation', () => {
    const at = intervalsAtRwc(line, 0.8);
    expect(at.confidence.halfWidth).toBeLessThan(at.prediction.halfWidth);
    expect(at.prediction.halfWidth).toBeLessThan(at.tolerance.halfWidth);
    expect(at.confidence.transmittance.lower).toBeCloseTo(Math.exp(at.confidence.response.lower), 14);
    expect(at.prediction.sentence).toContain('one new leaf');
    expect(at.tolerance.sentence).toContain('at least 95 % of leaves');
    expect([at.extrapolated, intervalsAtRwc(line, 0.2).extrapolated]).toEqual([false, true]);
  });

  test('a variance combination agrees with adding its parts by hand', () => {
    const x = 0.8;
    const [level] = line.fit.levels;
    const z = [1, x];
    const byHand = z.reduce((sum, zi, i) => sum + z.reduce((inner, zj, j) => inner + zi * zj * (level!.covariance[i]![j]! + line.fit.fixedCovariance[i]![j]!), 0), 0);
    expect(estimateVariance(line.fit, { fixed: z, levels: [z], residualWeight: 1 }).variance).toBeCloseTo(byHand + line.fit.residualSd ** 2, 14);
  });
});

describe('turned round to RWC', () => {
  test.each(['confidence', 'prediction', 'tolerance'] as const)('each end of the %s interval has its own interval ending at the transmittance', (name) => {
    const transmittance = 0.18;
    const { accepted, halfWidthPoints } = rwcAtTransmittance(line, transmittance)[name];
    if (accepted.kind !== 'interval') throw new Error('expected an interval');
    expect(halfWidthPoints).toBeCloseTo(50 * (accepted.upper - accepted.lower), 12);
    // T falls as RWC rises: at the lower end, T is the lower limit there.
    expect(leafIntervalAt(line, name, accepted.lower).transmittance.lower).toBeCloseTo(transmittance, 8);
    expect(leafIntervalAt(line, name, accepted.upper).transmittance.upper).toBeCloseTo(transmittance, 8);
  });

  test('the estimate comes back', () => {
    const { transmittance } = intervalsAtRwc(line, 0.73);
    expect(rwcAtTransmittance(line, transmittance).rwc).toBeCloseTo(0.73, 12);
  });

  test('a slope that says nothing gives no interval, and says so', () => {
    const stream = createStream(5n, 0);
    const flat = Array.from({ length: 4 }, (_, leaf) =>
      Array.from({ length: 4 }, (__, k) => ({ leafId: `L${leaf}`, rwc: 0.7 + 0.02 * k, transmittance: Math.exp(-1.6 + 0.1 * stream.normal()) })),
    ).flat();
    const result = rwcAtTransmittance(fitLeafLine(flat, { ...options, leafEffect: 'intercept' }), 0.2);
    expect(result.prediction.g).toBeGreaterThan(1);
    expect(result.prediction.accepted.kind).not.toBe('interval');
    expect(result.prediction.halfWidthPoints).toBeNull();
    expect(result.prediction.sentence).toContain('more leaves over a wider range');
  });

  test('one-sided tolerance keeps the end asked for', () => {
    const lower = rwcAtTransmittance(line, 0.18, { toleranceSides: 'lower' }).tolerance.accepted;
    expect(lower.kind).toBe('at-least');
  });
});

describe('leave one leaf out', () => {
  test('is the miss of a line fitted without the leaf, in points', () => {
    const result = leaveOneLeafOut(fixtureLeaves, (rest) => fitLeafLine(rest, options));
    expect(result.leaves).toHaveLength(30);
    const left = 'L07';
    const without = fitLeafLine(fixtureLeaves.filter((reading) => reading.leafId !== left), options);
    const errors = fixtureLeaves.filter((r) => r.leafId === left).map((r) => 100 * ((Math.log(r.transmittance) - without.intercept) / without.slope - r.rwc));
    const own = result.leaves.find((leaf) => leaf.leafId === left)!;
    expect(own.rmsPoints).toBeCloseTo(Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length), 9);
    expect(own.biasPoints).toBeCloseTo(errors.reduce((sum, e) => sum + e, 0) / errors.length, 9);
    expect(result.worst.rmsPoints).toBe(Math.max(...result.leaves.map((leaf) => leaf.rmsPoints)));
    // Leaves that differ by 8 points in height and 6 % in slope: their own readings scatter by 2 points only.
    expect(result.rmsPoints).toBeGreaterThan(5);
    expect(result.betweenLeavesPoints).toBeGreaterThan(5);
  });

  test('two leaves are too few', () => {
    const two = fixtureLeaves.filter((reading) => ['L01', 'L02'].includes(reading.leafId));
    expect(() => leaveOneLeafOut(two, (rest) => fitLeafLine(rest, options))).toThrow('at least three leaves');
  });
});

test('bad readings are refused by name', () => {
  const broken = (change: Partial<LeafReading>) => fixtureLeaves.map((reading, i) => (i === 5 ? { ...reading, ...change } : reading));
  expect(() => fitLeafLine(broken({ rwc: NaN }), options)).toThrow('readings[5].rwc');
  expect(() => fitLeafLine(broken({ transmittance: 0 }), options)).toThrow('readings[5].transmittance: expected a number above zero');
  expect(() => fitLeafLine(broken({ transmittance: Infinity }), options)).toThrow('readings[5].transmittance');
  expect(() => intervalsAtRwc(line, NaN)).toThrow('rwc');
  expect(() => intervalsAtRwc(line, 0.8, { level: 95 })).toThrow('level');
  expect(() => intervalsAtRwc(line, 0.8, { readingsPerNewLeaf: 0 })).toThrow('readingsPerNewLeaf');
  expect(() => rwcAtTransmittance(line, -0.1)).toThrow('transmittance');
  expect(() => fitLeafLine([], options)).toThrow('readings: there is none');
  expect(leafLineModel(fixtureLeaves, options).fixed).toHaveLength(2);
});

test('the set of water contents is what the intervals themselves say, for slopes from sharp to none', () => {
  const stream = createStream('sets', 0);
  const kinds = new Set<string>();
  for (let trial = 0; trial < 8; trial += 1) {
    const slope = [1, 0.1, 0.03, 0][trial % 4]!;
    const readings = Array.from({ length: 3 + (trial % 3) }, (_, leaf) => {
      const [height, tilt] = [0.05 * stream.normal(), 0.03 * stream.normal()];
      return Array.from({ length: 6 }, (__, k) => ({ leafId: `L${leaf}`, rwc: 1 - 0.1 * k, transmittance: Math.exp(-0.9 + height - (slope + tilt) * (1 - 0.1 * k) + 0.03 * stream.normal()) }));
    }).flat();
    const uncertain = fitLeafLine(readings, { ...options, leafEffect: trial % 2 === 0 ? 'intercept' : 'intercept-and-slope' });
    for (const name of ['confidence', 'prediction', 'tolerance'] as const) {
      const { accepted } = invertedLeafInterval(uncertain, name, 0.2);
      kinds.add(accepted.kind);
      const gapBelow = (rwc: number) => {
        const { lower, upper } = leafIntervalAt(uncertain, name, rwc).response;
        return Math.min(Math.log(0.2) - lower, upper - Math.log(0.2));
      };
      // At each end the interval just reaches the transmittance.
      const ends = [...('lower' in accepted ? [accepted.lower] : []), ...('upper' in accepted ? [accepted.upper] : [])];
      ends.forEach((end) => expect(Math.abs(gapBelow(end)) / leafIntervalAt(uncertain, name, end).halfWidth).toBeLessThan(1e-6));
      // Nothing that could be is left out, within what a leaf can have.
      for (let rwc = 0; rwc <= 1.2; rwc += 0.2) if (gapBelow(rwc) > 0) expect(holds(accepted, rwc)).toBe(true);
    }
  }
  expect(kinds.size).toBeGreaterThanOrEqual(3);
});

function holds(set: AcceptedSet | { readonly kind: 'none' }, rwc: number): boolean {
  switch (set.kind) {
    case 'interval': return rwc >= set.lower && rwc <= set.upper;
    case 'two-rays': return rwc <= set.lower || rwc >= set.upper;
    case 'at-least': return rwc >= set.lower;
    case 'at-most': return rwc <= set.upper;
    case 'whole-line': return true;
    case 'none': return false;
  }
}
