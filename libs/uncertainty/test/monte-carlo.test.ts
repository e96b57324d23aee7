import { compensatedSum, normalCdf, studentTCdf, type Matrix } from '#libs/numeric';
import {
  adaptiveBlockSize, adaptiveState, adaptiveStateOf, blockSummary, checkPropagation, constant, drawFrom, expand, mergeBlocks, monteCarlo, monteCarloBlock, normalSource,
  numericalTolerance, propagate, rectangular, secondOrderUncertainty, shortestInterval, standardDeviationOf, symmetricInterval, trapezoidal, triangular,
  typeAFromSummary, uShaped, type Distribution, type MonteCarloProblem,
} from '#libs/uncertainty';
import { createStream } from '#libs/numeric';

const blocksOf = (problem: MonteCarloProblem, seed: string, draws: number) => Array.from({ length: 10 }, (_, i) => monteCarloBlock(problem, seed, i, draws / 10));
const sum = (inputs: readonly number[]) => inputs.reduce((total, x) => total + x, 0);

describe('JCGM 101:2008 clause 9.2, the additive model of four inputs', () => {
  const run = (sources: MonteCarloProblem['sources']) => monteCarlo({ sources, model: sum }, { seed: '9.2', digits: 2, interval: 'symmetric' });
  const names = ['X1', 'X2', 'X3', 'X4'];

  test('9.2.2: four standard normals, u = 2.0, interval ±3.92', () => {
    const result = run(names.map((name) => normalSource(name, 0, 1)));
    expect(Math.abs(result.standardUncertainty - 2)).toBeLessThan(result.tolerance);
    expect(Math.abs(result.symmetric.high - 3.919928)).toBeLessThan(result.tolerance);
    expect(Math.abs(result.symmetric.low + 3.919928)).toBeLessThan(result.tolerance);
  });

  test('9.2.3: four rectangulars of standard deviation 1, interval ±3.88 and not ±3.92', () => {
    const sources = names.map((name) => rectangular(name, 0, Math.sqrt(3)));
    // Exact: 2√3·(2 − (3/5)^¼) = 3.8794 (9.2.3.3, expression from memory).
    const exact = 2 * Math.sqrt(3) * (2 - 0.6 ** 0.25);
    expect(exact).toBeCloseTo(3.8794, 4);
    const fine = mergeBlocks(blocksOf({ sources, model: sum }, '9.2', 1_000_000), 0.95);
    expect(Math.abs(fine.symmetric.high - exact)).toBeLessThan(0.012);
    expect(Math.abs(fine.symmetric.low + exact)).toBeLessThan(0.012);
  });

  test('9.2.4: one dominating rectangular of standard deviation 10: u = 10.15, interval ±17.0 where propagation gives ±19.9', () => {
    const sources = names.map((name, i) => rectangular(name, 0, (i === 3 ? 10 : 1) * Math.sqrt(3)));
    const result = mergeBlocks(blocksOf({ sources, model: sum }, '9.2.4', 500_000), 0.95);
    expect(Math.abs(result.standardUncertainty - 10.14889)).toBeLessThan(0.03);
    expect(Math.abs(result.symmetric.high - 17.0158)).toBeLessThan(0.05);
    expect(Math.abs(result.symmetric.low + 17.0158)).toBeLessThan(0.05);
    const expanded = expand(propagate({ sources, model: sum }), 0.95);
    expect(expanded.high).toBeCloseTo(19.9, 1);
    expect(checkPropagation(expanded, result.symmetric, 2).agrees).toBe(false);
  });
});

describe('JCGM 101:2008 clause 9.3, calibration of a mass (table 6 from memory, confirmed by recomputation)', () => {
  const sources = [
    normalSource('mRc', 100_000, 0.05),
    normalSource('dmRc', 1.234, 0.02),
    rectangular('rhoA', 1.2, 0.1),
    rectangular('rhoW', 8000, 1000),
    rectangular('rhoR', 8000, 50),
  ];
  const model = ([mRc, dmRc, rhoA, rhoW, rhoR]: readonly number[]) => (mRc! + dmRc!) * (1 + (rhoA! - 1.2) * (1 / rhoW! - 1 / rhoR!)) - 100_000;

  test('first order 0.0539, second order 0.0750 mg', () => {
    expect(propagate({ sources, model }).standardUncertainty).toBeCloseTo(0.0539, 4);
    expect(propagate({ sources, model }).value).toBeCloseTo(1.234, 9);
    expect(secondOrderUncertainty(sources, model).standardUncertainty).toBeCloseTo(0.075, 3);
  });

  test('Monte Carlo 0.0754 mg with shortest interval 1.0834 to 1.3825; the first-order interval is refused', () => {
    const result = mergeBlocks(blocksOf({ sources, model }, '9.3', 1_000_000), 0.95);
    expect(Math.abs(result.value - 1.234)).toBeLessThan(3e-4);
    // Analytic standard deviation 0.0754801.
    expect(Math.abs(result.standardUncertainty - 0.07548)).toBeLessThan(2e-4);
    expect(Math.abs(result.shortest.low - 1.0834)).toBeLessThan(2e-3);
    expect(Math.abs(result.shortest.high - 1.3825)).toBeLessThan(2e-3);
    expect(checkPropagation(expand(propagate({ sources, model }), 0.95), result.shortest, 1).agrees).toBe(false);
  });
});

describe('JCGM 101:2008 clause 9.4, a sum of squares at zero (closed form)', () => {
  // With x1 = x2 = 0 and u = 0.005, Y/u² is chi-squared with 2 degrees of freedom: mean and standard deviation 2u², 95 % shortest interval [0, −2u²·ln 0.05].
  const sources = [normalSource('X1', 0, 0.005), normalSource('X2', 0, 0.005)];
  const model = ([x1, x2]: readonly number[]) => x1! * x1! + x2! * x2!;

  test('first order refuses, second order and Monte Carlo agree with the closed form', () => {
    expect(() => propagate({ sources, model })).toThrow(expect.objectContaining({ code: 'NO_UNCERTAINTY' }));
    const second = secondOrderUncertainty(sources, model);
    expect(second.standardUncertainty / 50e-6).toBeCloseTo(1, 6);
    expect(second.meanShift / 50e-6).toBeCloseTo(1, 6);
    const result = mergeBlocks(blocksOf({ sources, model }, '9.4', 500_000), 0.95);
    expect(Math.abs(result.value / 50e-6 - 1)).toBeLessThan(0.006);
    expect(Math.abs(result.standardUncertainty / 50e-6 - 1)).toBeLessThan(0.01);
    expect(result.shortest.low).toBeLessThan(1e-8);
    expect(Math.abs(result.shortest.high / (-50e-6 * Math.log(0.05)) - 1)).toBeLessThan(0.01);
  });

  test('correlated inputs: x1 = 0.050, r = 0.9, u² = 4x1²u² + 2u⁴(1 + r²), closed form for the normal', () => {
    const correlated = [normalSource('X1', 0.05, 0.005), normalSource('X2', 0, 0.005)];
    const correlations = [{ first: 'X1', second: 'X2', coefficient: 0.9 }];
    const result = mergeBlocks(blocksOf({ sources: correlated, model, correlations }, 'r', 500_000), 0.95);
    const exact = Math.sqrt(4 * 0.05 ** 2 * 0.005 ** 2 + 4 * 0.005 ** 4 * (1 + 0.81));
    expect(Math.abs(result.standardUncertainty / exact - 1)).toBeLessThan(0.005);
    expect(Math.abs(result.value / (0.0025 + 50e-6) - 1)).toBeLessThan(0.001);
  });
});

test('NPL report DEM-ES-011, 9.2: y = ln x with x rectangular on 0.1 to 1.1', () => {
  const sources = [rectangular('x', 0.6, 0.5)];
  const model = ([x]: readonly number[]) => Math.log(x!);
  const budget = propagate({ sources, model });
  expect([budget.value, budget.standardUncertainty].map((v) => Number(v.toFixed(3)))).toEqual([-0.511, 0.481]);
  expect(expand(budget, 0.95).high).toBeCloseTo(0.432, 3);
  const result = mergeBlocks(blocksOf({ sources, model }, 'NPL', 1_000_000), 0.95);
  // Closed form: mean -0.664900, u 0.606227, shortest interval [-1.897120, 0.095310]; the report prints -0.665, 0.606, [-1.895, 0.095].
  expect(Math.abs(result.value + 0.6649)).toBeLessThan(0.0025);
  expect(Math.abs(result.standardUncertainty - 0.606227)).toBeLessThan(0.002);
  expect(Math.abs(result.shortest.low + 1.89712)).toBeLessThan(0.006);
  expect(Math.abs(result.shortest.high - 0.09531)).toBeLessThan(1e-4);
});

describe('draws follow their distributions: Kolmogorov distance to the distribution function, 40000 draws', () => {
  const clamp = (p: number) => Math.min(1, Math.max(0, p));
  const cases: readonly [Distribution, (x: number) => number][] = [
    [{ kind: 'normal', centre: 3, standardDeviation: 2 }, (x) => normalCdf((x - 3) / 2)],
    [{ kind: 'student', centre: 3, scale: 2, degreesOfFreedom: 2.5 }, (x) => studentTCdf((x - 3) / 2, 2.5)],
    [{ kind: 'rectangular', centre: 3, halfWidth: 2 }, (x) => clamp((x - 1) / 4)],
    [{ kind: 'triangular', centre: 3, halfWidth: 2 }, (x) => (x < 3 ? (x - 1) ** 2 / 8 : 1 - (5 - x) ** 2 / 8)],
    [{ kind: 'u-shaped', centre: 3, halfWidth: 2 }, (x) => 0.5 + Math.asin(Math.max(-1, Math.min(1, (x - 3) / 2))) / Math.PI],
    // Top half as wide as the base: density rises over 1…2, is 1/3 over 2…4, falls over 4…5.
    [{ kind: 'trapezoidal', centre: 3, halfWidth: 2, topRatio: 0.5 }, (x) => (x < 2 ? (x - 1) ** 2 / 6 : x < 4 ? 1 / 6 + (x - 2) / 3 : 1 - (5 - x) ** 2 / 6)],
  ];

  test.each(cases.map(([distribution, cdf]) => [distribution.kind, distribution, cdf] as const))('%s', (_, distribution, cdf) => {
    const n = 40_000;
    const stream = createStream('draws', 5);
    const draws = Float64Array.from({ length: n }, (__, i) => drawFrom(distribution, stream.at(2 * i), stream.at(2 * i + 1)));
    const deviation = Math.sqrt(compensatedSum(draws.map((x) => (x - 3) ** 2)) / n);
    if (distribution.kind !== 'student') expect(Math.abs(deviation / standardDeviationOf(distribution) - 1)).toBeLessThan(0.02);
    const distance = draws.sort().reduce((most, x, i) => Math.max(most, Math.abs((i + 0.5) / n - cdf(x))), 0);
    // A distance above 1.95/√n has probability 0.001.
    expect(distance * Math.sqrt(n)).toBeLessThan(1.95);
  });

  test('standard deviations of table 1 agree with those of the sources', () => {
    expect(rectangular('a', 0, 3).standardUncertainty).toBeCloseTo(Math.sqrt(3), 14);
    expect(triangular('a', 0, 3).standardUncertainty).toBeCloseTo(Math.sqrt(1.5), 14);
    expect(uShaped('a', 0, 3).standardUncertainty).toBeCloseTo(Math.sqrt(4.5), 14);
    expect(trapezoidal('a', 0, 3, 1).standardUncertainty).toBeCloseTo(Math.sqrt(3), 14);
    expect(trapezoidal('a', 0, 3, 0).standardUncertainty).toBeCloseTo(Math.sqrt(1.5), 14);
    expect(standardDeviationOf({ kind: 'student', centre: 0, scale: 1, degreesOfFreedom: 4 })).toBeCloseTo(Math.SQRT2, 14);
    expect(standardDeviationOf({ kind: 'student', centre: 0, scale: 1, degreesOfFreedom: 2 })).toBeNaN();
  });
});

describe('the same bytes whatever the number of workers', () => {
  const problem: MonteCarloProblem = {
    sources: [normalSource('a', 1, 0.1), typeAFromSummary('b', 2, 0.2, 5), uShaped('c', 0, 0.3), constant('d', 4), normalSource('e', 0, 1)],
    model: ([a, b, c, d, e]) => a! * b! + Math.sin(c!) * d! + 0.01 * e!,
    correlations: [{ first: 'a', second: 'e', coefficient: -1 }],
  };
  const bytes = (value: unknown) => JSON.stringify(value, (_, v: unknown) => (v instanceof Float64Array ? Buffer.from(v.buffer, v.byteOffset, v.byteLength).toString('base64') : v));
  /** Worker w of n takes blocks w, w + n, …; the blocks come home in the order the workers end. */
  const byWorkers = (workers: number, blocks: number) =>
    Array.from({ length: workers }, (_, w) => Array.from({ length: blocks }, (__, i) => i).filter((i) => i % workers === w).map((i) => monteCarloBlock(problem, '2026', i, 500)))
      .reverse()
      .flat();

  test('1, 2, 3 and 8 workers, ending in any order', () => {
    const one = bytes(mergeBlocks(byWorkers(1, 12), 0.95));
    for (const workers of [2, 3, 8]) expect(bytes(mergeBlocks(byWorkers(workers, 12), 0.95))).toBe(one);
    expect(bytes(mergeBlocks(byWorkers(1, 12).map((block) => monteCarloBlock(problem, '2027', block.index, 500)), 0.95))).not.toBe(one);
  });

  test('an adaptive run stops at the same block although workers have run ahead', () => {
    const options = { level: 0.95, digits: 1, interval: 'symmetric' } as const;
    const size = adaptiveBlockSize(0.95);
    expect(size).toBe(10_000);
    const blocks = Array.from({ length: 8 }, (_, i) => monteCarloBlock(problem, 'ahead', 7 - i, size));
    const state = adaptiveState(blocks, options);
    expect(state.stopAfterBlocks).toBeGreaterThan(1);
    expect(state.stopAfterBlocks).toBeLessThan(8);
    const alone = monteCarlo(problem, { seed: 'ahead', ...options });
    expect(alone.blocks).toBe(state.stopAfterBlocks);
    const ahead = mergeBlocks(blocks.filter((block) => block.index < state.stopAfterBlocks!), 0.95);
    expect(bytes(ahead.sorted)).toBe(bytes(alone.sorted));
    expect(bytes(ahead.symmetric)).toBe(bytes(alone.symmetric));
    const summaries = blocks.map((block) => blockSummary(block, options)).sort((a, b) => a.index - b.index);
    expect(bytes(adaptiveStateOf(summaries, options))).toBe(bytes(state));
  });
});

describe('adaptive stop', () => {
  test('what it promises holds: in 40 runs the four results lie within δ of the truth almost always', () => {
    const problem = { sources: [normalSource('x', 10, 1)], model: ([x]: readonly number[]) => x! };
    let within = 0;
    for (let k = 0; k < 40; k += 1) {
      const { value, standardUncertainty, symmetric, tolerance } = monteCarlo(problem, { seed: BigInt(k), digits: 1, level: 0.9 });
      const truth = [10, 1, 10 - 1.6448536, 10 + 1.6448536];
      expect(tolerance).toBe(0.5);
      within += [value, standardUncertainty, symmetric.low, symmetric.high].every((v, i) => Math.abs(v - truth[i]!) < tolerance) ? 1 : 0;
    }
    expect(within).toBe(40);
  });

  test('two digits take more blocks than one, and a run that cannot settle fails', () => {
    const problem = { sources: [normalSource('x', 10, 1), rectangular('y', 0, 1)], model: sum };
    const coarse = monteCarlo(problem, { seed: 'more', digits: 1 });
    const fine = monteCarlo(problem, { seed: 'more', digits: 2 });
    expect(fine.blocks).toBeGreaterThan(coarse.blocks);
    expect(fine.tolerance).toBe(0.05);
    expect(() => monteCarlo(problem, { seed: 'more', digits: 2, mostDraws: 20_000 })).toThrow(expect.objectContaining({ code: 'NOT_SETTLED' }));
  });

  test('δ: the examples of JCGM 101:2008, 7.9.2 (from memory): u = 0.35 g gives 0.05 for one digit, 2 µg in 1.2 µg gives 0.05 µg for two', () => {
    expect(numericalTolerance(0.35, 1)).toBe(0.05);
    expect(numericalTolerance(0.35, 2)).toBe(0.005);
    expect(numericalTolerance(2, 1)).toBe(0.5);
    expect(numericalTolerance(0.0996, 2)).toBe(0.005);
  });

  test('block size is max(100/(1 − p), 10⁴) exactly', () => {
    expect([0.9, 0.95, 0.99, 0.999].map(adaptiveBlockSize)).toEqual([10_000, 10_000, 10_000, 100_000]);
  });
});

describe('coverage intervals of a sorted sample', () => {
  // JCGM 101:2008, 7.7.2: M = 100, p = 0.95: q = 95, (M − q)/2 is not whole, r = whole part of (M − q + 1)/2 = 3.
  const hundred = Float64Array.from({ length: 100 }, (_, i) => i + 1);
  test('symmetric: the 3rd to the 98th of a hundred', () => {
    expect(symmetricInterval(hundred, 0.95)).toEqual({ low: 3, high: 98, level: 0.95, kind: 'symmetric' });
  });

  test('shortest: where the values lie closest', () => {
    const skewed = hundred.map((v) => v * v);
    expect(shortestInterval(skewed, 0.95)).toEqual({ low: 1, high: 9216, level: 0.95, kind: 'shortest' });
    expect(shortestInterval(hundred, 0.9).high - shortestInterval(hundred, 0.9).low).toBe(90);
  });
});

describe('input that cannot be drawn from', () => {
  const one = [normalSource('x', 1, 0.1)];
  const block = (problem: MonteCarloProblem) => monteCarloBlock(problem, 1n, 0, 100);
  const wrongSize: Matrix = { rows: 1, cols: 1, data: Float64Array.of(0.01) };
  test.each([
    ['NO_SOURCES', () => block({ sources: [], model: sum })],
    ['MODEL_NOT_FINITE', () => block({ sources: [rectangular('x', 0, 1)], model: ([x]) => Math.log(x!) })],
    ['REPEATED_NAME', () => block({ sources: [...one, ...one], model: sum })],
    ['CORRELATED_NOT_NORMAL', () => block({ sources: [...one, rectangular('y', 0, 1)], model: sum, correlations: [{ first: 'x', second: 'y', coefficient: 0.5 }] })],
    ['SHAPE', () => block({ sources: [...one, normalSource('y', 0, 1)], model: sum, covariance: wrongSize })],
    ['BLOCKS', () => mergeBlocks([monteCarloBlock({ sources: one, model: sum }, 1n, 1, 100)], 0.95)],
    ['BLOCKS', () => mergeBlocks([0, 0].map((i) => monteCarloBlock({ sources: one, model: sum }, 1n, i, 100)), 0.95)],
    ['LEVEL', () => mergeBlocks([block({ sources: one, model: sum })], 95)],
    ['TOO_FEW_DRAWS', () => symmetricInterval([1, 2, 3], 0.95)],
    ['NO_UNCERTAINTY', () => monteCarlo({ sources: [constant('x', 1)], model: sum }, { seed: 1n })],
  ])('%s', (code, run) => {
    expect(run).toThrow(expect.objectContaining({ name: 'InputError', code }));
  });

  test('the error names the inputs of the draw', () => {
    expect(() => block({ sources: [rectangular('x', -2, 1)], model: ([x]) => Math.sqrt(x!) })).toThrow(/x = -[12]\.\d+/);
  });
});
