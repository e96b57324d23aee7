import { controlOf } from '../src/features/instruments/parts/control.js';
import { lampChart, type LampReading } from '../src/features/instruments/parts/lamp.js';

const check = (shown: string, n: number) => ({ id: `c${n}`, observedAt: `2026-06-${String(n + 1).padStart(2, '0')}T08:00:00Z`, nominal: '100', shown, tolerance: '0.1', passed: true, note: null, recordedBy: { id: 'p', displayName: 'P' } });

it('judges the newest check by those before it: passed by tolerance, yet outside the balance’s own habit', () => {
  // Deviations ±0.01 in turn: mean 0, mean moving range 0.02, limits ±3 × 0.02 / 1.1284 = ±0.0532 (d₂ of two, ISO 7870-2).
  const habit = Array.from({ length: 10 }, (_, n) => check(n % 2 ? '100.01' : '99.99', n));
  const within = controlOf([...habit, check('100.05', 10)].reverse());
  expect(within?.high).toBeCloseTo(0.05317, 4);
  expect(within?.newestOutside).toBe(false);
  expect(controlOf([...habit, check('100.06', 10)].reverse())?.newestOutside).toBe(true);
  expect(controlOf(habit.slice(0, 8))).toBeNull();
});

it('draws a lamp by the mean of each run in order of time, and names a run outside its limits', () => {
  const reading = (run: number, powerNw: number, lightPath: 'REFERENCE' | 'DARK' = 'REFERENCE'): LampReading => ({ lightPath, powerNw: String(powerNw), observedAt: `2026-06-${10 + run}T0${lightPath === 'DARK' ? 7 : 8}:00:00Z`, dryingRun: { id: `r${run}`, label: `R-${run}` } });
  const steady = [0, 1, 2, 3, 4, 5, 6, 7].flatMap((run) => [reading(run, 1000 + (run % 2)), reading(run, 1002 + (run % 2)), reading(run, 1, 'DARK')]);
  const { points, limits } = lampChart([...steady, reading(8, 950)].reverse(), 'REFERENCE');
  expect(points.map(({ label }) => label)).toEqual(['R-0', 'R-1', 'R-2', 'R-3', 'R-4', 'R-5', 'R-6', 'R-7', 'R-8']);
  expect(points[0]!.value).toBe(1001);
  expect(limits).not.toBeNull();
  expect(points.filter(({ outside }) => outside).map(({ label }) => label)).toEqual(['R-8']);
  expect(lampChart([reading(0, 1), reading(1, 1)], 'REFERENCE').limits).toBeNull();
});
