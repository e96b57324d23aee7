import fc from 'fast-check';
import { createStream, mean, normalQuantile, standardDeviation } from '#libs/numeric';
import {
  constant, expand, mergeBlocks, monteCarloBlock, normalSource, partialDerivative, propagate, propagateJointly, rectangular, secondDerivative, secondOrderUncertainty, typeA,
  typeAFromSummary, typeATogether, type UncertaintySource,
} from '#libs/uncertainty';

/** Relative water content from fresh, turgid and dry mass. */
const rwc = ([fresh, turgid, dry]: readonly number[]) => (fresh! - dry!) / (turgid! - dry!);

const masses = fc.record({
  dry: fc.double({ min: 5, max: 20, noNaN: true }),
  water: fc.double({ min: 30, max: 90, noNaN: true }),
  part: fc.double({ min: 0.3, max: 0.95, noNaN: true }),
  u: fc.tuple(...Array.from({ length: 3 }, () => fc.double({ min: 0.01, max: 0.5, noNaN: true }))),
  df: fc.tuple(...Array.from({ length: 3 }, () => fc.integer({ min: 2, max: 60 }))),
  // Zero would untie the pair, and tied sources count their degrees of freedom together.
  r: fc.double({ min: 0.01, max: 0.45, noNaN: true }).chain((r) => fc.constantFrom(r, -r)),
});

function sourcesOf(m: { dry: number; water: number; part: number; u: number[]; df: number[] }, unit = 1): UncertaintySource[] {
  const values = [m.dry + m.part * m.water, m.dry + m.water, m.dry];
  return ['fresh', 'turgid', 'dry'].map((name, i) => typeAFromSummary(name, values[i]! * unit, m.u[i]! * unit, m.df[i]!));
}

const close = (a: number, b: number, relative: number) => expect(Math.abs(a - b)).toBeLessThanOrEqual(relative * Math.max(Math.abs(a), Math.abs(b)));

describe('properties', () => {
  test('the unit of the masses changes nothing but sensitivities', () => {
    fc.assert(
      fc.property(masses, fc.constantFrom(1e-6, 1e-3, 1e3, 28349.523125), (m, unit) => {
        const correlations = [{ first: 'fresh', second: 'dry', coefficient: m.r }];
        const before = propagate({ sources: sourcesOf(m), model: rwc, correlations });
        const after = propagate({ sources: sourcesOf(m, unit), model: rwc, correlations });
        close(after.value, before.value, 1e-12);
        close(after.standardUncertainty, before.standardUncertainty, 1e-9);
        close(after.degreesOfFreedom, before.degreesOfFreedom, 1e-8);
        after.lines.forEach((line, i) => {
          close(line.share, before.lines[i]!.share, 1e-8);
          close(line.sensitivity * unit, before.lines[i]!.sensitivity, 1e-8);
        });
      }),
    );
  });

  test('the order of the sources changes nothing', () => {
    fc.assert(
      fc.property(masses, (m) => {
        const correlations = [{ first: 'fresh', second: 'dry', coefficient: m.r }];
        const sources = sourcesOf(m);
        const before = propagate({ sources, model: rwc, correlations });
        const after = propagate({ sources: [sources[2]!, sources[0]!, sources[1]!], model: ([d, f, t]) => rwc([f!, t!, d!]), correlations: [{ first: 'dry', second: 'fresh', coefficient: m.r }] });
        close(after.standardUncertainty, before.standardUncertainty, 1e-12);
        close(after.degreesOfFreedom, before.degreesOfFreedom, 1e-10);
        for (const line of after.lines) {
          const same = before.lines.find((other) => other.name === line.name)!;
          close(line.share, same.share, 1e-9);
          close(line.shareWithCorrelations, same.shareWithCorrelations, 1e-8);
        }
      }),
    );
  });

  test('the law of propagation in closed form for RWC: c = 1/(T−D), −R/(T−D), (R−1)/(T−D); shares sum to 1', () => {
    fc.assert(
      fc.property(masses, (m) => {
        const budget = propagate({ sources: sourcesOf(m), model: rwc });
        const slopes = [1, -m.part, m.part - 1].map((c) => c / m.water);
        budget.lines.forEach((line, i) => close(line.sensitivity, slopes[i]!, 1e-8));
        close(budget.standardUncertainty, Math.hypot(...slopes.map((c, i) => c * m.u[i]!)), 1e-9);
        close(budget.lines.reduce((sum, line) => sum + line.share, 0), 1, 1e-12);
        const welch = budget.standardUncertainty ** 4 / slopes.reduce((sum, c, i) => sum + (c * m.u[i]!) ** 4 / m.df[i]!, 0);
        close(budget.degreesOfFreedom, welch, 1e-8);
      }),
    );
  });

  test('sensitivities given by the caller are used as they are', () => {
    const sources = [normalSource('a', 1, 0.1), normalSource('b', 2, 0.2)];
    expect(propagate({ sources, model: ([a, b]) => a! * b!, sensitivities: [3, 4] }).standardUncertainty).toBeCloseTo(Math.hypot(0.3, 0.8), 14);
  });

  test('a source that two results share: their difference loses it, and its budget shows why', () => {
    const shared = [normalSource('balance', 0, 0.3), normalSource('a', 10, 0.1), normalSource('b', 8, 0.1)];
    const joint = propagateJointly({ sources: shared }, [([s, a]) => s! + a!, ([s, , b]) => s! + b!]);
    const [first, second] = joint.budgets.map((budget, i) => normalSource(`result ${i}`, budget.value, budget.standardUncertainty));
    const difference = propagate({ sources: [first!, second!], model: ([x, y]) => x! - y!, covariance: joint.covariance });
    expect(difference.standardUncertainty).toBeCloseTo(Math.hypot(0.1, 0.1), 10);
    expect(difference.correlations[0]!.share).toBeCloseTo((-2 * 0.09) / 0.02, 8);
  });

  test('an exact input stays in the budget with no share', () => {
    const budget = propagate({ sources: [normalSource('a', 2, 0.1), constant('b', 3)], model: ([a, b]) => a! * b! });
    expect(budget.lines[1]).toMatchObject({ name: 'b', standardUncertainty: 0, contribution: 0, share: 0 });
    expect(budget.lines[1]!.sensitivity).toBeCloseTo(2, 9);
  });
});

describe('derivatives against closed forms', () => {
  test.each([
    ['exp(x)', ([x]: readonly number[]) => Math.exp(x!), [1], Math.E, Math.E],
    ['1/x', ([x]: readonly number[]) => 1 / x!, [0.5], -4, 16],
    ['ln x', ([x]: readonly number[]) => Math.log(x!), [3], 1 / 3, -1 / 9],
    ['sin 5x', ([x]: readonly number[]) => Math.sin(5 * x!), [0.4], 5 * Math.cos(2), -25 * Math.sin(2)],
  ])('%s', (_, model, at, slope, curvature) => {
    for (const step of [0.3, 0.05, 0.003]) {
      const first = partialDerivative(model, at, 0, step);
      expect(Math.abs(first.value / slope - 1)).toBeLessThan(3e-9);
      expect(Math.abs(first.value - slope)).toBeLessThan(100 * first.error + 1e-12);
      expect(Math.abs(secondDerivative(model, at, 0, 0, step, step).value / curvature - 1)).toBeLessThan(3e-5);
    }
  });

  test('a step that leaves the domain of the model is shrunk', () => {
    expect(partialDerivative(([x]) => Math.log(x!), [0.1], 0, 0.5).value).toBeCloseTo(10, 8);
    expect(() => partialDerivative(([x]) => Math.sqrt(x! - 1), [0.5], 0, 0.1)).toThrow(expect.objectContaining({ code: 'MODEL_NOT_FINITE' }));
  });

  test('mixed', () => {
    expect(secondDerivative(([x, y]) => x! ** 2 * Math.exp(y!), [3, 0], 0, 1, 0.2, 0.1).value).toBeCloseTo(6, 6);
  });
});

test('second-order terms in closed form: x³ at 1 with u = 0.1 has 9u² + (6²/2 + 3·6)u⁴, and its mean shifts by 3u²', () => {
  const second = secondOrderUncertainty([normalSource('x', 1, 0.1)], ([x]) => x! ** 3);
  expect(second.firstOrder).toBeCloseTo(0.3, 9);
  expect(second.standardUncertainty).toBeCloseTo(Math.sqrt(0.09 + 36e-4), 8);
  expect(second.meanShift).toBeCloseTo(0.03, 8);
});

describe('coverage by simulation: 95 % means 95 %', () => {
  const trials = 20_000;
  // Two thirds of a per cent: 4 standard errors of a true 95 % with 20 000 trials. A normal k in place of t misses by 5 to 8 per cent.
  const band = 4 * Math.sqrt((0.95 * 0.05) / trials);

  test('mean of four readings', () => {
    const stream = createStream('coverage', 1);
    let held = 0;
    let heldByNormal = 0;
    for (let k = 0; k < trials; k += 1) {
      const source = typeA('x', Array.from({ length: 4 }, () => 10 + stream.normal()));
      const { low, high } = expand(source, 0.95);
      held += low <= 10 && 10 <= high ? 1 : 0;
      heldByNormal += Math.abs(source.value - 10) <= normalQuantile(0.975) * source.standardUncertainty ? 1 : 0;
    }
    expect(Math.abs(held / trials - 0.95)).toBeLessThan(band);
    expect(heldByNormal / trials).toBeLessThan(0.95 - 5 * band);
  });

  test('difference of two means with unequal scatter and numbers of readings (Welch-Satterthwaite)', () => {
    const stream = createStream('coverage', 2);
    let held = 0;
    for (let k = 0; k < trials; k += 1) {
      const a = typeA('a', Array.from({ length: 6 }, () => 50 + 2 * stream.normal()));
      const b = typeA('b', Array.from({ length: 8 }, () => 20 + stream.normal()));
      const { low, high } = expand(propagate({ sources: [a, b], model: ([x, y]) => x! - y!, sensitivities: [1, -1] }), 0.95);
      held += low <= 30 && 30 <= high ? 1 : 0;
    }
    // Welch-Satterthwaite is an approximation: half a per cent is allowed on top of the scatter of the simulation.
    expect(Math.abs(held / trials - 0.95)).toBeLessThan(band + 0.005);
  });

  test('sum of two quantities read together five times, correlated 0.8: the group counts 4 degrees of freedom', () => {
    const stream = createStream('coverage', 3);
    let held = 0;
    for (let k = 0; k < trials; k += 1) {
      const common = Array.from({ length: 5 }, () => stream.normal());
      const read = (centre: number) => common.map((c) => centre + Math.sqrt(0.8) * c + Math.sqrt(0.2) * stream.normal());
      const { sources, covariance } = typeATogether(['a', 'b'], [read(3), read(4)]);
      const { low, high } = expand(propagate({ sources, covariance, model: ([x, y]) => x! + y!, sensitivities: [1, 1] }), 0.95);
      held += low <= 7 && 7 <= high ? 1 : 0;
    }
    expect(Math.abs(held / trials - 0.95)).toBeLessThan(band);
  });

  test('Monte Carlo intervals hold 95 % of a fresh sample of the output', () => {
    const problem = { sources: [rectangular('a', 1, 0.5), normalSource('b', 0, 0.4)], model: ([a, b]: readonly number[]) => Math.exp(a!) + b! };
    const { symmetric, shortest } = mergeBlocks([0, 1, 2, 3].map((i) => monteCarloBlock(problem, 'fit', i, 50_000)), 0.95);
    const fresh = monteCarloBlock(problem, 'check', 0, 100_000).values;
    for (const { low, high } of [symmetric, shortest]) {
      const share = fresh.reduce((count, y) => count + (low <= y && y <= high ? 1 : 0), 0) / fresh.length;
      expect(Math.abs(share - 0.95)).toBeLessThan(4 * Math.sqrt(0.95 * 0.05 * (1 / 100_000 + 1 / 200_000)));
    }
    expect(shortest.high - shortest.low).toBeLessThan(symmetric.high - symmetric.low);
  });

  test('the standard deviation of correlated draws and their correlation are those asked for', () => {
    const sources = [normalSource('a', 0, 2), normalSource('b', 0, 3)];
    const correlations = [{ first: 'a', second: 'b', coefficient: 0.6 }];
    const draw = (model: (x: readonly number[]) => number) => mergeBlocks([monteCarloBlock({ sources, correlations, model }, 'r', 0, 100_000)], 0.95);
    expect(Math.abs(draw(([a]) => a!).standardUncertainty / 2 - 1)).toBeLessThan(0.01);
    expect(Math.abs(draw(([, b]) => b!).standardUncertainty / 3 - 1)).toBeLessThan(0.01);
    expect(Math.abs(draw(([a, b]) => a! * b!).value / 3.6 - 1)).toBeLessThan(0.04);
  });
});

describe('input that makes no budget', () => {
  const a = normalSource('a', 1, 0.1);
  const b = normalSource('b', 2, 0.1);
  const sum = ([x, y]: readonly number[]) => x! + (y ?? 0);
  const square = (...data: number[]) => ({ rows: 2, cols: 2, data: Float64Array.from(data) });
  test.each([
    ['NO_SOURCES', () => propagate({ sources: [], model: () => 1 })],
    ['REPEATED_NAME', () => propagate({ sources: [a, a], model: sum })],
    ['MODEL_NOT_FINITE', () => propagate({ sources: [a], model: () => NaN })],
    ['NO_UNCERTAINTY', () => propagate({ sources: [constant('c', 1)], model: sum })],
    ['NO_UNCERTAINTY', () => propagate({ sources: [a, b], model: ([x, y]) => x! - y!, correlations: [{ first: 'a', second: 'b', coefficient: 1 }] })],
    ['SHAPE', () => propagate({ sources: [a, b], model: sum, sensitivities: [1] })],
    ['NOT_FINITE', () => propagate({ sources: [a], model: sum, sensitivities: [NaN] })],
    ['UNKNOWN_SOURCE', () => propagate({ sources: [a, b], model: sum, correlations: [{ first: 'a', second: 'c', coefficient: 0.5 }] })],
    ['CORRELATION', () => propagate({ sources: [a, b], model: sum, correlations: [{ first: 'a', second: 'b', coefficient: 1.5 }] })],
    ['CORRELATION', () => propagate({ sources: [a, b], model: sum, correlations: [{ first: 'a', second: 'a', coefficient: 0.5 }] })],
    ['NOT_SYMMETRIC', () => propagate({ sources: [a, b], model: sum, covariance: square(0.01, 0.001, 0.002, 0.01) })],
    ['COVARIANCE_MISMATCH', () => propagate({ sources: [a, b], model: sum, covariance: square(0.02, 0, 0, 0.01) })],
    ['COVARIANCE_NOT_POSSIBLE', () => propagate({ sources: [a, b], model: sum, covariance: square(0.01, 0.02, 0.02, 0.01) })],
    ['COVARIANCE_NOT_POSSIBLE', () => {
      const pairs = [['a', 'b', 0.9], ['b', 'c', 0.9], ['a', 'c', -0.9]] as const;
      return propagate({ sources: [a, b, normalSource('c', 0, 1)], model: sum, correlations: pairs.map(([first, second, coefficient]) => ({ first, second, coefficient })) });
    }],
    ['SHAPE', () => propagate({ sources: [a, b], model: sum, covariance: square(0.01, 0, 0, 0.01), correlations: [] })],
    ['NO_MODEL', () => propagateJointly({ sources: [a] }, [])],
    ['LEVEL', () => expand(a, 95)],
    ['DEGREES_OF_FREEDOM', () => expand({ ...a, degreesOfFreedom: 0.7 }, 0.95, 'truncate')],
    ['TOO_FEW_VALUES', () => typeA('x', [1])],
    ['ZERO_SPREAD', () => typeA('x', [1, 1, 1])],
    ['NOT_FINITE', () => typeA('x', [1, NaN])],
    ['NOT_POSITIVE', () => rectangular('x', 1, -0.1)],
    ['NOT_POSITIVE', () => normalSource('x', 1, 0)],
    ['DEGREES_OF_FREEDOM', () => typeAFromSummary('x', 1, 1, 0)],
    ['SHAPE', () => typeATogether(['x', 'y'], [[1, 2, 3], [1, 2]])],
  ])('%s', (code, compute) => {
    expect(compute).toThrow(expect.objectContaining({ name: 'InputError', code }));
  });

  test('perfect correlation that adds is no error', () => {
    const budget = propagate({ sources: [a, b], model: sum, correlations: [{ first: 'a', second: 'b', coefficient: 1 }] });
    expect(budget.standardUncertainty).toBeCloseTo(0.2, 12);
  });
});

test('typeA is mean and standard deviation of the mean', () => {
  const readings = [71.2, 71.4, 71.3, 71.3];
  expect(typeA('m', readings)).toMatchObject({ value: mean(readings), standardUncertainty: standardDeviation(readings) / 2, degreesOfFreedom: 3 });
});
