import { createStream } from '#libs/numeric';
import {
  families, fitLeafCurve, fitOwnLeaves, promisedAt, sharedFitOf, studyTransfer,
  type CurveFamily, type LeafReading, type SharedCurve, type SharedLine, type TransferVerdict,
} from '#libs/regression';

/** A shared calibration that is a curve, held against own leaves. */
const RWC = [0.98, 0.9, 0.82, 0.74, 0.66, 0.58, 0.5];
const TRUTH = { exponential: [0.05, 0.9, -2.4], power: [-1.9, -0.9], logistic: [0.08, 0.3, 9, 0.75] } as const satisfies Record<CurveFamily, readonly number[]>;
const READING_SD = 0.003;

interface Crop {
  readonly leaves: number;
  /** How many RWC points the given curve reads these leaves too dry, as a fraction. */
  readonly shift?: number;
  readonly slopeRatio?: number;
  readonly betweenSd: number;
}
type Stream = ReturnType<typeof createStream>;

function crop(family: CurveFamily, { leaves, shift = 0, slopeRatio = 1, betweenSd }: Crop, stream: Stream): LeafReading[] {
  const mean = (rwc: number): number => families[family].predict(TRUTH[family], rwc);
  // A power curve scatters in ln T.
  const unit = family === 'power' ? (rwc: number) => mean(rwc) : () => 1;
  return Array.from({ length: leaves }, (_, leaf) => {
    const height = betweenSd * stream.normal();
    return RWC.map((rwc) => ({ leafId: `L${leaf}`, rwc, transmittance: mean(0.74) + slopeRatio * (mean(rwc - shift) - mean(0.74)) + (height + READING_SD * stream.normal()) * unit(rwc) }));
  }).flat();
}

const sharedFrom = (family: CurveFamily, leaves: number, stream: Stream): SharedCurve =>
  sharedFitOf(fitLeafCurve(family, crop(family, { leaves, betweenSd: 0.008 }, stream), { method: 'REML', leafEffect: 'intercept' })) as SharedCurve;

describe.each(['exponential', 'power', 'logistic'] as const)('%s', (family) => {
  const shared = sharedFrom(family, 40, createStream(`curve ${family}`, 0));
  const range = { from: 0.55, to: 0.9 };
  const study = (own: Crop, name: string) => studyTransfer(shared, crop(family, own, createStream(name, 0)), { marginPoints: 5, rwcRange: range });

  test('tells leaves like its own, a rig beside, and a crop that answers water half as strongly', () => {
    expect(study({ leaves: 25, betweenSd: 0.005 }, 'alike').verdict).toBe('holds');
    const beside = study({ leaves: 25, shift: 0.09, betweenSd: 0.005 }, 'beside');
    expect(['holds with offset', 'not enough data', 'does not hold']).toContain(beside.verdict);
    expect(Math.abs(beside.comparison!.offsetPoints + 9)).toBeLessThan(3);
    const half = study({ leaves: 25, slopeRatio: 0.5, betweenSd: 0.005 }, 'half');
    expect(half.verdict).toBe('does not hold');
    expect(half.comparison!.slopeRatio).toBeCloseTo(0.5, 1);
    expect(half.comparison!.slopeRatioInterval.upper).toBeLessThan(0.8);
    expect(half.comparison!.commonLine.pValue).toBeLessThan(1e-3);
    expect(study({ leaves: 4, betweenSd: 0.03 }, 'few').verdict).toBe('not enough data');
  });

  test('what it reads off is the RWC read at the own mean less the true one', () => {
    const readings = crop(family, { leaves: 9, shift: 0.03, slopeRatio: 0.9, betweenSd: 0.008 }, createStream('off', 0));
    const { comparison, performance } = studyTransfer(shared, readings, { marginPoints: 5, rwcRange: range });
    const own = fitOwnLeaves(shared, readings, 'intercept');
    const scale = (t: number): number => (family === 'power' ? Math.log(t) : t);
    const back = (response: number): number => (family === 'power' ? Math.exp(response) : response);
    for (const { rwc, points } of comparison!.curve) {
      const ownMean = own.intercept + own.slope * scale(families[family].predict(shared.parameters, rwc));
      expect(points).toBeCloseTo(100 * (families[family].inverse(shared.parameters, back(ownMean))! - rwc), 9);
    }
    expect(comparison!.slopeRatio).toBe(own.slope);
    const read = readings.map(({ rwc, transmittance }) => families[family].inverse(shared.parameters, transmittance)! - rwc);
    expect(performance.biasPoints).toBeCloseTo((100 * read.reduce((sum, off) => sum + off, 0)) / read.length, 9);
  });

  test('standard errors are those of a simulation: shared curve and own leaves drawn anew', () => {
    const stream = createStream(`errors ${family}`, 0);
    const at = Array.from({ length: 200 }, () => {
      const { comparison } = studyTransfer(sharedFrom(family, 12, stream), crop(family, { leaves: 9, betweenSd: 0.008 }, stream), { marginPoints: 5, rwcRange: range });
      return { off: comparison!.curve[10]!.points, stated: comparison!.curve[10]!.standardErrorPoints, ratio: comparison!.slopeRatio, p: comparison!.commonLine.pValue };
    });
    const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
    const seen = Math.sqrt(mean(at.map(({ off }) => off ** 2)));
    // 200 draws tell an SD to 5 %.
    expect(seen / Math.sqrt(mean(at.map(({ stated }) => stated ** 2)))).toBeGreaterThan(0.8);
    expect(seen / Math.sqrt(mean(at.map(({ stated }) => stated ** 2)))).toBeLessThan(1.2);
    expect(mean(at.map(({ ratio }) => ratio))).toBeCloseTo(1, 1);
    // Where both are one, no more are told apart at 5 % than 5 % and 3.5 standard errors.
    expect(mean(at.map(({ p }) => Number(p < 0.05)))).toBeLessThan(0.105);
  });
});

test('a curve that hardly bends is studied as the line it nearly is', () => {
  // T = f + a·exp(r·x) with r towards 0 is the line (f + a) + a·r·x.
  const line: SharedLine = { responseScale: 'transmittance', originRwc: 0, intercept: 0.4, slope: -0.25, covariance: [[2e-5, -1e-5], [-1e-5, 2e-5]], leafCovariance: [[6e-5]], residualSd: 0.003, leafCount: 12, rwcRange: { from: 0.5, to: 1 } };
  const rate = -1e-5;
  const amplitude = line.slope / rate;
  const curve: SharedCurve = {
    family: 'exponential', parameters: [line.intercept - amplitude, amplitude, rate], leafCovariance: line.leafCovariance, residualSd: line.residualSd, leafCount: 12, rwcRange: line.rwcRange,
    // From (f, rate) alone: f moves the height, rate·a the slope.
    covariance: [[2e-5, 0, -1e-5 / amplitude], [0, 0, 0], [-1e-5 / amplitude, 0, 2e-5 / amplitude ** 2]],
  };
  const stream = createStream('straight', 0);
  const own = Array.from({ length: 8 }, (_, leaf) => leaf).flatMap((leaf) => {
    const height = 0.006 * stream.normal();
    return RWC.map((rwc) => ({ leafId: `L${leaf}`, rwc, transmittance: 0.405 - 0.26 * rwc + height + READING_SD * stream.normal() }));
  });
  for (const leafEffect of ['intercept', 'intercept-and-slope'] as const) {
    const [bent, straight] = [curve, line].map((shared) => studyTransfer(shared, own, { marginPoints: 5, leafEffect }));
    expect(bent!.verdict).toBe(straight!.verdict);
    const near = (a: number, b: number): void => expect(Math.abs(a / b - 1)).toBeLessThan(2e-3);
    near(bent!.comparison!.worstPoints, straight!.comparison!.worstPoints);
    near(bent!.comparison!.offsetPoints, straight!.comparison!.offsetPoints);
    near(bent!.comparison!.slopeRatio, straight!.comparison!.slopeRatio);
    near(bent!.comparison!.slopeRatioInterval.upper, straight!.comparison!.slopeRatioInterval.upper);
    near(bent!.comparison!.commonLine.statistic, straight!.comparison!.commonLine.statistic);
    near(bent!.performance.rmsPoints, straight!.performance.rmsPoints);
    expect(bent!.performance.coverage).toEqual(straight!.performance.coverage);
  }
});

test('at the margin it is called to hold in no more than 5 % of trials', () => {
  const stream = createStream('margin of a curve', 0);
  const counts: Record<TransferVerdict, number> = { holds: 0, 'holds with offset': 0, 'does not hold': 0, 'not enough data': 0 };
  for (let trial = 0; trial < 200; trial += 1) {
    const verdict = studyTransfer(sharedFrom('exponential', 15, stream), crop('exponential', { leaves: 8, shift: 0.05, betweenSd: 0.004 }, stream), { marginPoints: 5, rwcRange: { from: 0.55, to: 0.9 } }).verdict;
    counts[verdict] += 1;
  }
  // Expected 5 % at most; 10.5 % is 3.5 standard errors above.
  expect(counts.holds / 200).toBeLessThan(0.105);
});

test('promises for a new leaf are kept 95 times of 100', () => {
  const stream = createStream('promise of a curve', 0);
  let inside = 0;
  for (let trial = 0; trial < 60; trial += 1) {
    inside += studyTransfer(sharedFrom('logistic', 10, stream), crop('logistic', { leaves: 10, betweenSd: 0.008 }, stream), { marginPoints: 5 }).performance.coverage.inside;
  }
  // As for lines: 600 leaves tell about as much as 60 curves.
  expect(Math.abs(inside / 600 - 0.95)).toBeLessThan(0.035);
});

test('a reading that the curve never takes is told, and read along its tangent', () => {
  const shared = sharedFrom('exponential', 20, createStream('never', 0));
  const readings = crop('exponential', { leaves: 5, betweenSd: 0.005 }, createStream('never', 1)).map((reading, i) => (i === 0 ? { ...reading, transmittance: 0.01 } : reading));
  const { notes, performance } = studyTransfer(shared, readings, { marginPoints: 5 });
  expect(notes).toContainEqual(expect.stringContaining('1 own reading has a transmittance that the shared curve never takes'));
  expect(Number.isFinite(performance.rmsPoints)).toBe(true);
});

test('promises as the fit does', () => {
  const shared = sharedFrom('exponential', 12, createStream('promised', 0));
  const { transmittance, lower, upper } = promisedAt(shared, 0.8, 0.95);
  expect(transmittance).toBe(families.exponential.predict(shared.parameters, 0.8));
  expect(upper - transmittance).toBeCloseTo(transmittance - lower, 12);
});

test.each<[string, (shared: SharedCurve) => SharedCurve, string]>([
  ['a parameter missing', (shared) => ({ ...shared, parameters: [0.1, 0.2] }), 'shared.parameters'],
  ['a covariance of another shape', (shared) => ({ ...shared, covariance: [[1, 0], [0, 1]] }), 'shared.covariance'],
  ['leaves that differ in a slope no exponential has', (shared) => ({ ...shared, leafCovariance: [[1, 0], [0, 1]] }), 'shared.leafCovariance'],
  ['one leaf', (shared) => ({ ...shared, leafCount: 1 }), 'shared.leafCount'],
  ['a missing number', (shared) => ({ ...shared, parameters: [0.1, NaN, -2] }), 'shared.parameters[1]'],
])('refuses %s', (_, spoil, field) => {
  const shared = sharedFrom('exponential', 6, createStream('refuses', 0));
  expect(() => studyTransfer(spoil(shared), crop('exponential', { leaves: 4, betweenSd: 0.01 }, createStream('x', 0)), { marginPoints: 5 })).toThrow(expect.objectContaining({ field }));
});
