import fc from 'fast-check';
import { createStream } from '#libs/numeric';
import { ContactJump, SweepPoint, findContactJumps, summariseSweeps } from '../src/index.js';

const settings = { currentResolutionA: 1e-13, minDecades: 2 };

interface Truth { pullInV: number; releaseV: number; stepV: number; topV: number; noise: number; leakage: number }
const truth: Truth = { pullInV: 12.03, releaseV: 7.46, stepV: 0.1, topV: 15, noise: 0.2, leakage: 0 };

/** Up and down through one polarity: open current 2 pA (with leakage e-fold per volt), closed 1 µA limited by the source. */
function sweep(t: Truth, sign: 1 | -1, draw: () => number): SweepPoint[] {
  const n = Math.round(t.topV / t.stepV);
  const bias = [...Array.from({ length: n + 1 }, (_, k) => k * t.stepV), ...Array.from({ length: n }, (_, k) => (n - 1 - k) * t.stepV)];
  let closed = false;
  return bias.map((v, k) => {
    const falling = k > n;
    if (!falling && v >= t.pullInV) closed = true;
    if (falling && v <= t.releaseV) closed = false;
    const current = closed ? Math.min(v / 1e6, 1e-6) : 2e-12 * Math.exp(t.leakage * v);
    return { biasV: sign * v, currentA: sign * current * Math.exp(t.noise * draw()) };
  });
}

const quiet = (): number => 0;
const jumpsOf = (points: readonly SweepPoint[]): ContactJump[] => findContactJumps(points, settings).filter((j): j is ContactJump => j.kind !== 'none');

describe('findContactJumps', () => {
  it('finds pull-in and release of either polarity inside their step', () => {
    const both = [...sweep(truth, 1, quiet), ...sweep(truth, -1, quiet)];
    const found = jumpsOf(both);
    expect(found.map((j) => [j.kind, j.polarity])).toEqual([['pull-in', 'positive'], ['release', 'positive'], ['pull-in', 'negative'], ['release', 'negative']]);
    for (const jump of found) {
      const expected = jump.kind === 'pull-in' ? truth.pullInV : truth.releaseV;
      expect(jump.betweenV[0]).toBeLessThanOrEqual(expected);
      expect(jump.betweenV[1]).toBeGreaterThanOrEqual(expected);
      expect(jump.stepSdV).toBeCloseTo(0.1 / Math.sqrt(12), 9);
      expect(jump.decades).toBeCloseTo(Math.log10(1e-6 / 2e-12), 1);
      expect(jump.openCurrentA).toBeCloseTo(2e-12, 14);
    }
  });

  it('places pull-in right under noise, leakage, strays and bounce (400 simulated sweeps)', () => {
    const stream = createStream('sweeps', 0);
    let right = 0;
    for (let trial = 0; trial < 400; trial += 1) {
      const t = { ...truth, pullInV: 9 + 4 * stream.uniform(), noise: 0.4, leakage: 0.25 };
      const points = sweep(t, 1, () => stream.normal());
      const stray = Math.floor(10 + 60 * stream.uniform());
      points[stray] = { ...points[stray]!, currentA: 1e-6 };
      const closedAt = points.findIndex((p) => p.biasV >= t.pullInV);
      points[closedAt + 2] = { ...points[closedAt + 2]!, currentA: 2e-12 };
      const [jump] = jumpsOf(points);
      if (jump!.betweenV[0] <= t.pullInV + 1e-9 && t.pullInV <= jump!.betweenV[1] + 1e-9) right += 1;
    }
    // A stray that falls on the very step before contact cannot be told from contact: about one sweep in fifty.
    expect(right).toBeGreaterThan(385);
  });

  it('does not take a stray two points before contact for contact', () => {
    const points = sweep(truth, 1, quiet);
    const closedAt = points.findIndex((p) => p.biasV >= truth.pullInV);
    points[closedAt - 2] = { ...points[closedAt - 2]!, currentA: 1e-6 };
    expect(jumpsOf(points)[0]!.betweenV[1]).toBeCloseTo(points[closedAt]!.biasV, 9);
  });

  it('takes a slow leak for what it is', () => {
    const leak = Array.from({ length: 151 }, (_, k) => ({ biasV: k / 10, currentA: 1e-12 * 10 ** (k / 25) }));
    expect(findContactJumps(leak, settings)).toEqual([expect.objectContaining({ kind: 'none', reason: 'no-jump', direction: 'up' })]);
  });

  it('does not trust a leg of a few points, and says so', () => {
    expect(findContactJumps(sweep(truth, 1, quiet).slice(0, 8), settings)).toEqual([expect.objectContaining({ kind: 'none', reason: 'too-few-points', largestDecades: null })]);
  });

  it('reads currents at and below the resolution of the meter as half of it', () => {
    const points = sweep(truth, 1, quiet).map((p) => ({ ...p, currentA: Math.abs(p.currentA) < 1e-11 ? 0 : p.currentA }));
    expect(jumpsOf(points)[0]!.decades).toBeCloseTo(Math.log10(1e-6 / 0.5e-13), 1);
  });

  it('does not depend on the scale of current or voltage', () => {
    fc.assert(fc.property(fc.double({ min: 1e-3, max: 1e3, noNaN: true }), fc.double({ min: 1e-3, max: 1e3, noNaN: true }), (ks, kv) => {
      const points = sweep(truth, 1, quiet);
      const scaled = findContactJumps(points.map((p) => ({ biasV: kv * p.biasV, currentA: ks * p.currentA })), { ...settings, currentResolutionA: ks * 1e-13 });
      expect((scaled[0] as ContactJump).voltageV / kv).toBeCloseTo(jumpsOf(points)[0]!.voltageV, 7);
    }));
  });

  it.each([[[], 'EMPTY_SWEEP'], [[{ biasV: NaN, currentA: 1 }], 'NOT_FINITE']])('refuses %j', (points, code) => {
    expect(() => findContactJumps(points, settings)).toThrow(expect.objectContaining({ code }));
  });
});

describe('summariseSweeps', () => {
  it('gives pull-in by polarity, hysteresis, charging and their uncertainty', () => {
    const many = [12.03, 12.13, 12.23].flatMap((pullInV) => [...sweep({ ...truth, pullInV }, 1, quiet), ...sweep({ ...truth, pullInV: pullInV - 0.5 }, -1, quiet)]);
    const summary = summariseSweeps(findContactJumps(many, settings));
    const [plus, minus] = summary.pullIn;
    expect([plus!.polarity, plus!.sweeps, minus!.polarity, minus!.sweeps]).toEqual(['positive', 3, 'negative', 3]);
    expect(plus!.meanV).toBeCloseTo(12.15, 6);
    expect(plus!.betweenSweepsSdV).toBeCloseTo(0.1, 6);
    expect(plus!.trendVPerSweep).toBeCloseTo(0.1, 6);
    expect(plus!.standardUncertaintyV).toBeCloseTo(Math.sqrt(0.01 / 3 + 0.01 / 12), 6);
    expect(summary.polarityDifference!.differenceV).toBeCloseTo(0.5, 6);
    expect(summary.hysteresisV).toBeCloseTo((12.15 + 11.65) / 2 - 7.45, 6);
  });

  it('keeps the step of the source when every sweep gives the same, and refuses where nothing closed', () => {
    const one = summariseSweeps(findContactJumps(sweep(truth, 1, quiet), settings));
    expect(one.pullIn[0]).toEqual(expect.objectContaining({ betweenSweepsSdV: null, trendVPerSweep: null }));
    expect(one.pullIn[0]!.standardUncertaintyV).toBeCloseTo(0.1 / Math.sqrt(12), 9);
    expect(one.polarityDifference).toBeNull();
    expect(() => summariseSweeps([])).toThrow(expect.objectContaining({ code: 'NO_PULL_IN' }));
  });
});
