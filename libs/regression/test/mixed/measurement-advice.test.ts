import { adviseMeasurement, fitLeafLine, intervalsAtRwc, type LeafLine, type LeafReading } from '#libs/regression';
import { studentTQuantile } from '#libs/numeric';
import { createStream } from '#libs/numeric';
import { simulateLeaves } from './leaf-sets.js';

/**
 * A balanced set whose fitted variances are exactly the wished ones: leaf offsets and residuals are standardised. Leaf SD 0.08, reading
 * SD 0.02, ten readings, slope −1.
 */
function exactLine(leaves: number): LeafLine {
  const readings = 10;
  const offsets = Array.from({ length: leaves }, (_, i) => i - (leaves - 1) / 2);
  const rwc = Array.from({ length: readings }, (_, k) => 1 - 0.06 * k);
  const meanRwc = rwc.reduce((sum, x) => sum + x, 0) / readings;
  // Residuals orthogonal to 1 and x within each leaf.
  const wave = Array.from({ length: readings }, (_, k) => ((k * 7) % 10) - 4.5);
  const along = rwc.map((x) => x - meanRwc);
  const share = wave.reduce((sum, w, k) => sum + w * along[k]!, 0) / along.reduce((sum, x) => sum + x * x, 0);
  const noise = wave.map((w, k) => w - share * along[k]!);
  const noiseSize = Math.sqrt((0.02 ** 2 * (leaves * readings - leaves - 1)) / (leaves * noise.reduce((sum, w) => sum + w * w, 0)));
  // Mean square between leaf means must be σ_leaf² + σ²/m.
  const offsetSize = Math.sqrt(((0.08 ** 2 + 0.02 ** 2 / readings) * (leaves - 1)) / offsets.reduce((sum, a) => sum + a * a, 0));
  const set: LeafReading[] = offsets.flatMap((offset, leaf) =>
    rwc.map((x, k) => ({ leafId: `L${leaf}`, rwc: x, transmittance: Math.exp(-0.9 + offset * offsetSize - x + noise[k]! * noiseSize) })),
  );
  return fitLeafLine(set, { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' });
}

describe('the half-widths of the design notes', () => {
  // Derived there for leaf SD 0.08, reading SD 0.02, slope 1, ten readings a leaf: mean line ±10, 6.7, 4.4, 3.0; new leaf ±25, 21, 18, 17.
  test.each([
    [5, 10, 25],
    [8, 6.7, 21],
    [15, 4.4, 18],
    [30, 3.0, 17],
  ])('%i leaves', (leaves, mean, newLeaf) => {
    const line = exactLine(leaves);
    const at = intervalsAtRwc(line, 0.73);
    expect(line.fit.levels[0]!.sd[0]).toBeCloseTo(0.08, 9);
    expect(line.fit.residualSd).toBeCloseTo(0.02, 9);
    expect(Number(at.confidence.halfWidthPoints.toPrecision(2))).toBeCloseTo(mean, 10);
    expect(Math.round(at.prediction.halfWidthPoints)).toBe(newLeaf);
  });
});

describe('what to measure next', () => {
  const line = exactLine(8);
  const request = { rwc: 0.73, goal: 'new-leaf' } as const;

  test('what it expects of seven more leaves is what fifteen leaves give', () => {
    const later = intervalsAtRwc(exactLine(15), 0.73);
    const advice = adviseMeasurement(line, { ...request, wantedHalfWidthPoints: later.prediction.halfWidthPoints + 1e-6 });
    expect(advice.plan!.byLeaves!.extraLeaves).toBe(7);
    expect(advice.plan!.byLeaves!.halfWidthPoints).toBeCloseTo(later.prediction.halfWidthPoints, 6);
    const mean = adviseMeasurement(line, { ...request, goal: 'mean-line', wantedHalfWidthPoints: later.confidence.halfWidthPoints + 1e-6 });
    expect(mean.plan!.byLeaves!.extraLeaves).toBe(7);
  });

  test('it starts from the present interval, and its shares add up', () => {
    const advice = adviseMeasurement(line, request);
    expect(advice.presentHalfWidthPoints).toBeCloseTo(intervalsAtRwc(line, 0.73).prediction.halfWidthPoints, 10);
    const { betweenLeaves, reading, meanLine } = advice.shares;
    expect(betweenLeaves + reading + meanLine).toBeCloseTo(1, 12);
    expect(betweenLeaves).toBeGreaterThan(0.8);
  });

  test('more leaves beat more readings where leaves differ most', () => {
    const advice = adviseMeasurement(line, request);
    expect(advice.moreLeaves[2]!.halfWidthPoints).toBeLessThan(advice.moreReadings[2]!.halfWidthPoints);
    expect(advice.sentence).toContain('more leaves will help more');
    // No number of readings on eight leaves gets below what the leaves themselves leave uncertain.
    const floor = 100 * studentTQuantile(0.975, 7) * Math.sqrt(0.08 ** 2 * (1 + 1 / 8) + 0.02 ** 2);
    expect(advice.moreReadings.every((effort) => effort.halfWidthPoints > floor - 1e-6)).toBe(true);
  });

  test('more readings win where readings scatter most', () => {
    const noisy = fitLeafLine(simulateLeaves({ leaves: 12, readings: 4, betweenSd: 0.02, slopeSd: 0, withinSd: 0.2 }, createStream(3n, 1)), {
      method: 'REML',
      leafEffect: 'intercept',
      responseScale: 'ln-transmittance',
    });
    const advice = adviseMeasurement(noisy, { rwc: 0.73, goal: 'mean-line' });
    expect(advice.moreReadings[2]!.halfWidthPoints).toBeLessThan(advice.moreLeaves[2]!.halfWidthPoints);
  });

  test('a wish below what leaves differ by is refused in words', () => {
    const advice = adviseMeasurement(line, { ...request, wantedHalfWidthPoints: 10 });
    expect(advice.plan!.byLeaves).toBeNull();
    expect(advice.plan!.floorPoints).toBeCloseTo(196 * Math.sqrt(0.08 ** 2 + 0.02 ** 2), 1);
    expect(advice.sentence).toContain('No number of leaves reaches ±10 points');
    expect(adviseMeasurement(line, { ...request, wantedHalfWidthPoints: 40 }).sentence).toContain('already reached');
  });

  test('bad wishes are refused by name', () => {
    expect(() => adviseMeasurement(line, { ...request, wantedHalfWidthPoints: 0 })).toThrow('wantedHalfWidthPoints');
    expect(() => adviseMeasurement(line, { ...request, rwc: NaN })).toThrow('rwc');
  });
});
