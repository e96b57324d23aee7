import { createStream, normalCdf, studentTQuantile } from '#libs/numeric';
import { fitLeafLine, invertedLeafInterval, leafIntervalAt, type LeafEffect, type LeafLineOptions, type LeafReading } from '#libs/regression';
import { simulateLeaves, TRUE_INTERCEPT, TRUE_SLOPE, type LeafSetSpec } from './leaf-sets.js';

/**
 * 1000 trials: a coverage of 95 % has a standard error of 0.69 %, so the band 92.6–97.4 % is 3.5 of them and tells 95 % from 90 % or 99.5 %
 * almost surely. The streams are seeded: the same trials every time.
 */
const TRIALS = 1000;
const BAND = { least: 0.926, most: 0.974 };
const RWC = 0.8;
const MEAN = TRUE_INTERCEPT + TRUE_SLOPE * RWC;
const options: LeafLineOptions = { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' };

interface Tally {
  prediction: number;
  inverted: number;
  confidence: number;
  tolerance: number;
  naiveNewLeaf: number;
  naiveMean: number;
}

function runTrials(spec: LeafSetSpec, trials: number, withTolerance: boolean, leafEffect: LeafEffect = 'intercept'): Tally {
  const tally: Tally = { prediction: 0, inverted: 0, confidence: 0, tolerance: 0, naiveNewLeaf: 0, naiveMean: 0 };
  const newSd = Math.sqrt(spec.betweenSd ** 2 + (spec.slopeSd * RWC) ** 2 + spec.withinSd ** 2);
  for (let trial = 0; trial < trials; trial += 1) {
    const stream = createStream(20261125n, trial * 64 + spec.leaves);
    const readings = simulateLeaves(spec, stream);
    const line = fitLeafLine(readings, { ...options, leafEffect });
    const inside = (interval: { lower: number; upper: number }, value: number) => Number(interval.lower <= value && value <= interval.upper);
    const fresh = MEAN + newSd * stream.normal();
    tally.prediction += inside(leafIntervalAt(line, 'prediction', RWC).response, fresh);
    tally.confidence += inside(leafIntervalAt(line, 'confidence', RWC).response, MEAN);
    const { accepted } = invertedLeafInterval(line, 'prediction', Math.exp(fresh));
    tally.inverted += accepted.kind === 'interval' ? inside(accepted, RWC) : 1;
    const naive = pointwiseInterval(readings);
    tally.naiveNewLeaf += inside(naive, fresh);
    tally.naiveMean += inside(naive, MEAN);
    if (withTolerance) {
      const { response } = leafIntervalAt(line, 'tolerance', RWC);
      tally.tolerance += Number(normalCdf((response.upper - MEAN) / newSd) - normalCdf((response.lower - MEAN) / newSd) >= 0.95);
    }
  }
  return Object.fromEntries(Object.entries(tally).map(([name, count]) => [name, count / trials])) as unknown as Tally;
}

/** What a fit that takes every reading for an independent point gives: the t interval of the line, n − 2 degrees of freedom. */
function pointwiseInterval(readings: readonly LeafReading[]): { lower: number; upper: number } {
  const n = readings.length;
  const x = readings.map((reading) => reading.rwc);
  const y = readings.map((reading) => Math.log(reading.transmittance));
  const meanX = x.reduce((sum, value) => sum + value, 0) / n;
  const meanY = y.reduce((sum, value) => sum + value, 0) / n;
  const sxx = x.reduce((sum, value) => sum + (value - meanX) ** 2, 0);
  const slope = x.reduce((sum, value, i) => sum + (value - meanX) * y[i]!, 0) / sxx;
  const squares = y.reduce((sum, value, i) => sum + (value - meanY - slope * (x[i]! - meanX)) ** 2, 0);
  const half = studentTQuantile(0.975, n - 2) * Math.sqrt((squares / (n - 2)) * (1 / n + (RWC - meanX) ** 2 / sxx));
  const at = meanY + slope * (RWC - meanX);
  return { lower: at - half, upper: at + half };
}

describe.each([5, 8, 15])('%i leaves that differ by 8 points, readings by 2', (leaves) => {
  const tally = runTrials({ leaves, readings: 6, betweenSd: 0.08, slopeSd: 0, withinSd: 0.02 }, TRIALS, false);

  test('95 % prediction holds one new leaf 95 times in 100, at an RWC and turned round', () => {
    for (const share of [tally.prediction, tally.inverted]) {
      expect(share).toBeGreaterThan(BAND.least);
      expect(share).toBeLessThan(BAND.most);
    }
  });

  test('95 % confidence holds the mean line 95 times in 100', () => {
    expect(tally.confidence).toBeGreaterThan(BAND.least);
    expect(tally.confidence).toBeLessThan(BAND.most);
  });

  test('the interval that takes readings for independent is far too narrow', () => {
    expect(tally.naiveNewLeaf).toBeLessThan(0.4);
    expect(tally.naiveMean).toBeLessThan(0.75);
  });
});

test('95 % tolerance holds 95 % of leaves in 95 of 100 trials', () => {
  const { tolerance } = runTrials({ leaves: 8, readings: 6, betweenSd: 0.08, slopeSd: 0, withinSd: 0.02 }, 400, true);
  expect(tolerance).toBeGreaterThan(0.92);
  expect(tolerance).toBeLessThan(0.985);
});

test('where leaves hardly differ, the prediction errs to the safe side', () => {
  const { prediction } = runTrials({ leaves: 8, readings: 6, betweenSd: 0.008, slopeSd: 0, withinSd: 0.02 }, 400, false);
  expect(prediction).toBeGreaterThan(0.94);
});

test('leaves that differ in slope too: the prediction still holds one new leaf 95 times in 100', () => {
  // 400 trials: standard error 1.1 %.
  const { prediction, inverted } = runTrials({ leaves: 8, readings: 6, betweenSd: 0.08, slopeSd: 0.06, withinSd: 0.02 }, 400, false, 'intercept-and-slope');
  for (const share of [prediction, inverted]) {
    expect(share).toBeGreaterThan(0.92);
    expect(share).toBeLessThan(0.98);
  }
});
