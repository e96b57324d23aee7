import { createStream } from '#libs/numeric';
import {
  adviseMeasurement, families, fitLeafCurve, fitLeafLine, intervalsAtRwc, invertedLeafInterval, leafIntervalAt, leaveOneLeafOut, refitLeaves, responseAt, rwcAtTransmittance,
  type CurveFamily, type LeafReading,
} from '#libs/regression';

const REML = { method: 'REML', leafEffect: 'intercept' } as const;
const RWC = [0.98, 0.91, 0.84, 0.77, 0.7, 0.63, 0.56, 0.49];
const TRUTH = { exponential: [0.05, 0.9, -2.4], power: [-1.9, -0.9], logistic: [0.08, 0.3, 9, 0.75] } as const satisfies Record<CurveFamily, readonly number[]>;
/** SD of leaves and of readings on the scale of the family. */
const SPREAD = { exponential: [0.012, 0.003], power: [0.08, 0.02], logistic: [0.012, 0.003] } as const;

type Stream = ReturnType<typeof createStream>;

function draw(family: CurveFamily, leaves: number, stream: Stream): LeafReading[] {
  const [between, within] = SPREAD[family];
  return Array.from({ length: leaves }, (_, leaf) => leaf).flatMap((leaf) => {
    const height = between * stream.normal();
    return RWC.map((rwc) => ({ leafId: `L${leaf}`, rwc, transmittance: newReading(family, rwc, height + within * stream.normal()) }));
  });
}

function newReading(family: CurveFamily, rwc: number, off: number): number {
  const mean = families[family].predict(TRUTH[family], rwc);
  return family === 'power' ? mean * Math.exp(off) : mean + off;
}

test.each(['exponential', 'logistic'] as const)('%s: an interval turned round ends where the transmittance leaves the band', (family) => {
  const curve = fitLeafCurve(family, draw(family, 9, createStream(5n, 1)), REML);
  const transmittance = families[family].predict(curve.parameters, 0.72);
  const read = rwcAtTransmittance(curve, transmittance);
  expect(read.rwc).toBeCloseTo(0.72, 10);
  for (const name of ['confidence', 'prediction', 'tolerance'] as const) {
    const { accepted, halfWidthPoints, g } = read[name];
    if (accepted.kind !== 'interval') throw new Error(`${name} is ${accepted.kind}`);
    expect(leafIntervalAt(curve, name, accepted.lower).transmittance.lower).toBeCloseTo(transmittance, 9);
    expect(leafIntervalAt(curve, name, accepted.upper).transmittance.upper).toBeCloseTo(transmittance, 9);
    // Where the curve is nearly straight the two directions say nearly the same.
    expect(halfWidthPoints! / intervalsAtRwc(curve, 0.72)[name].halfWidthPoints).toBeGreaterThan(0.75);
    expect(halfWidthPoints! / intervalsAtRwc(curve, 0.72)[name].halfWidthPoints).toBeLessThan(1.4);
    expect(g).toBeLessThan(0.2);
  }
  expect(read.confidence.halfWidthPoints!).toBeLessThan(read.prediction.halfWidthPoints!);
  expect(read.prediction.halfWidthPoints!).toBeLessThan(read.tolerance.halfWidthPoints!);
});

test('a power curve has the intervals of the line through ln RWC, turned round by Fieller', () => {
  const readings = draw('power', 9, createStream(5n, 2));
  const curve = fitLeafCurve('power', readings, REML);
  const line = fitLeafLine(readings.map((reading) => ({ ...reading, rwc: Math.log(reading.rwc) })), { ...REML, responseScale: 'ln-transmittance' });
  for (const name of ['confidence', 'prediction', 'tolerance'] as const) {
    const [here, there] = [leafIntervalAt(curve, name, 0.8), leafIntervalAt(line, name, Math.log(0.8))];
    expect(here.response.lower).toBeCloseTo(there.response.lower, 12);
    expect(here.halfWidthPoints).toBeCloseTo(0.8 * there.halfWidthPoints, 9);
    const [turned, straight] = [invertedLeafInterval(curve, name, 0.2).accepted, invertedLeafInterval(line, name, 0.2).accepted];
    if (turned.kind !== 'interval' || straight.kind !== 'interval') throw new Error('open');
    expect(turned.lower).toBeCloseTo(Math.exp(straight.lower), 10);
    expect(turned.upper).toBeCloseTo(Math.exp(straight.upper), 10);
  }
  expect(() => leafIntervalAt(curve, 'confidence', 0)).toThrow(expect.objectContaining({ code: 'NOT_POSITIVE' }));
});

test('below the floor nothing is read; near it the interval is open to the wet side', () => {
  const curve = fitLeafCurve('exponential', draw('exponential', 9, createStream(5n, 3)), REML);
  const [floor] = curve.parameters as [number];
  expect(rwcAtTransmittance(curve, floor - 0.2)).toMatchObject({ rwc: null, extrapolated: true, prediction: { accepted: { kind: 'none' }, halfWidthPoints: null } });
  const { accepted } = invertedLeafInterval(curve, 'tolerance', floor + 0.01);
  expect(accepted.kind).toBe('at-least');
});

test('advice speaks of the interval that stands, in points at the RWC asked about', () => {
  for (const family of ['exponential', 'power', 'logistic'] as const) {
    const curve = fitLeafCurve(family, draw(family, 9, createStream(5n, 4)), REML);
    const advice = adviseMeasurement(curve, { rwc: 0.8, goal: 'new-leaf' });
    expect(advice.presentHalfWidthPoints).toBeCloseTo(leafIntervalAt(curve, 'prediction', 0.8).halfWidthPoints, 8);
    expect(advice.shares.betweenLeaves + advice.shares.reading + advice.shares.meanLine).toBeCloseTo(1, 12);
    expect(advice.moreLeaves[3]!.halfWidthPoints).toBeLessThan(advice.moreReadings[3]!.halfWidthPoints);
  }
});

test('each leaf left out is read off the curve of the others', () => {
  const readings = draw('exponential', 6, createStream(5n, 5));
  const whole = fitLeafCurve('exponential', readings, REML);
  const left = leaveOneLeafOut(readings, (rest) => refitLeaves(whole, rest));
  expect(left.leaves).toHaveLength(6);
  expect(left.readingsWithoutAnswer).toBe(0);
  const others = fitLeafCurve('exponential', readings.filter(({ leafId }) => leafId !== 'L2'), REML);
  const errors = readings.filter(({ leafId }) => leafId === 'L2').map(({ rwc, transmittance }) => 100 * (families.exponential.inverse(others.parameters, transmittance)! - rwc));
  expect(left.leaves[2]!.biasPoints).toBeCloseTo(errors.reduce((sum, error) => sum + error, 0) / errors.length, 7);
});

/**
 * 500 trials: a coverage of 95 % has a standard error of 1 %, so that 91.6–98.4 % is 3.5 of them. The streams are seeded: the same trials
 * every time. The parameters enter to first order only: what that costs is in these figures.
 */
const TRIALS = 500;

describe.each([['exponential', 8], ['exponential', 5], ['logistic', 8], ['power', 8]] as const)('%s, %i leaves', (family, leaves) => {
  const [between, within] = SPREAD[family];
  const AT = 0.75;
  const tally = { prediction: 0, inverted: 0, confidence: 0 };
  let fitted = 0;
  for (let trial = 0; trial < TRIALS; trial += 1) {
    const stream = createStream(20261127n, 64 * trial + leaves);
    const curve = fitLeafCurve(family, draw(family, leaves, stream), REML);
    fitted += Number(curve.fit.convergence.converged);
    const fresh = newReading(family, AT, Math.hypot(between, within) * stream.normal());
    const inside = ({ lower, upper }: { lower: number; upper: number }, value: number): number => Number(lower <= value && value <= upper);
    tally.prediction += inside(leafIntervalAt(curve, 'prediction', AT).transmittance, fresh);
    tally.confidence += inside(leafIntervalAt(curve, 'confidence', AT).transmittance, families[family].predict(TRUTH[family], AT));
    const { accepted } = invertedLeafInterval(curve, 'prediction', fresh);
    tally.inverted += Number((!('lower' in accepted) || accepted.lower <= AT) && (!('upper' in accepted) || AT <= accepted.upper) && accepted.kind !== 'none');
    // The mean is where the band is centred.
    if (trial === 0) expect(responseAt(curve, AT)).toBeCloseTo((leafIntervalAt(curve, 'prediction', AT).response.lower + leafIntervalAt(curve, 'prediction', AT).response.upper) / 2, 12);
  }

  test('every set is fitted', () => expect(fitted).toBe(TRIALS));

  test.each(Object.entries(tally))('95 % %s holds about 95 times in 100', (_name, count) => {
    expect(count / TRIALS).toBeGreaterThan(0.916);
    expect(count / TRIALS).toBeLessThan(0.984);
  });
});
