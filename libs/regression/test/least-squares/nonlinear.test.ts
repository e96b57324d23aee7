import fc from 'fast-check';
import { Dual, fitNonlinear, modelFromFormula } from '#libs/regression';
import { fitStrd, strdProblems } from '../digits/strd.js';
import { codeOf, relativeErrors } from '../support.js';

// NIST StRD Misra1a: y = b1(1 − exp(−b2·x)).
const misra = strdProblems.find((problem) => problem.name === 'Misra1a')!;
const x = misra.x as readonly number[];
const model = (unitX = 1) => modelFromFormula(2, ([b1, b2], i) => b1!.times(b2!.times(-x[i]! * unitX).exp().negated().plus(1)));

describe('automatic derivatives', () => {
  test('agree with central differences', () => {
    const formula = ([a, b]: readonly Dual[]) =>
      a!.times(b!).plus(a!.over(b!)).minus(b!.power(3)).plus(a!.exp()).plus(b!.log()).plus(a!.sin().times(b!.cos())).plus(a!.atan()).negated();
    const composite = modelFromFormula(2, formula);
    fc.assert(
      fc.property(fc.double({ min: 0.2, max: 2, noNaN: true }), fc.double({ min: 0.2, max: 2, noNaN: true }), (a, b) => {
        const gradient = new Float64Array(2);
        composite.evaluate(Float64Array.of(a, b), 0, gradient);
        const h = 1e-5;
        const along = (da: number, db: number) => composite.evaluate(Float64Array.of(a + da, b + db), 0, null);
        expect(gradient[0]).toBeCloseTo((along(h, 0) - along(-h, 0)) / (2 * h), 6);
        expect(gradient[1]).toBeCloseTo((along(0, h) - along(0, -h)) / (2 * h), 6);
      }),
    );
  });
});

describe('the search', () => {
  test('does not depend on the units of the parameters', () => {
    const plain = fitStrd(misra, misra.starts![0]!);
    for (const [unitX, unitY] of [[1e-9, 1], [1, 1e12], [1e7, 1e-7]] as const) {
      const scaled = fitNonlinear(model(unitX), misra.y.map((y) => y * unitY), { start: [500 * unitY, 0.0001 / unitX] });
      expect(relativeErrors([scaled.parameters[0]! / unitY, scaled.parameters[1]! * unitX], plain.parameters)).toBeLessThan(1e-11);
      expect(relativeErrors([scaled.standardErrors[0]! / unitY, scaled.standardErrors[1]! * unitX], plain.standardErrors)).toBeLessThan(1e-10);
    }
  });

  test('is the same for a model asked point by point and one asked for all points at once', () => {
    const single = model();
    const weights = x.map((_, i) => 1 + (i % 3));
    const atOnce = {
      ...single,
      evaluateAll(parameters: Float64Array, values: Float64Array, derivatives: Float64Array) {
        const gradient = new Float64Array(2);
        for (let i = 0; i < x.length; i++) {
          values[i] = single.evaluate(parameters, i, gradient);
          derivatives[i] = gradient[0]!;
          derivatives[x.length + i] = gradient[1]!;
        }
      },
    };
    for (const start of misra.starts!) expect(fitNonlinear(atOnce, misra.y, { start, weights })).toEqual(fitNonlinear(single, misra.y, { start, weights }));
  });

  test('is the same whatever was fitted before it, and for a model that fits another curve of as many points on its way', () => {
    const single = model();
    const [other, start] = misra.starts!;
    const alone = fitNonlinear(single, misra.y, { start: start! });
    const around = {
      ...single,
      evaluate(parameters: Float64Array, i: number, gradient: Float64Array | null) {
        if (i === 3) fitNonlinear(single, misra.y.map((y) => 2 * y), { start: other! });
        return single.evaluate(parameters, i, gradient);
      },
    };
    expect(fitNonlinear(around, misra.y, { start: start! })).toEqual(alone);
    fitNonlinear(single, misra.y.slice(1), { start: other! });
    expect(fitNonlinear(single, misra.y, { start: start! })).toEqual(alone);
  });

  test('does not depend on the order of the points', () => {
    const order = x.map((_, i) => (i * 5) % x.length);
    const shuffled = modelFromFormula(2, ([b1, b2], i) => b1!.times(b2!.times(-x[order[i]!]!).exp().negated().plus(1)));
    const fit = fitNonlinear(shuffled, order.map((i) => misra.y[i]!), { start: misra.starts![1]! });
    expect(relativeErrors(fit.parameters, fitStrd(misra, misra.starts![1]!).parameters)).toBeLessThan(1e-11);
  });

  test('steps back from where the model has no value', () => {
    const x = [1, 2, 3, 4, 5];
    const root = modelFromFormula(2, ([a, b], i) => b!.plus(x[i]!).log().times(a!));
    const fit = fitNonlinear(root, x.map((value) => 3 * Math.log(value + 0.5)), { start: [0.1, 50] });
    expect(fit.parameters[0]).toBeCloseTo(3, 9);
    expect(fit.parameters[1]).toBeCloseTo(0.5, 9);
  });

  test('says so when it runs out of steps, and gives no answer as converged', () => {
    const far = strdProblems.find((problem) => problem.name === 'MGH10')!;
    const xs = far.x as readonly number[];
    const curve = modelFromFormula(3, ([b1, b2, b3], i) => b1!.times(b2!.over(b3!.plus(xs[i]!)).exp()));
    const fit = fitNonlinear(curve, far.y, { start: far.starts![0]!, maxIterations: 5 });
    expect(fit.convergence).toMatchObject({ converged: false, reason: 'iteration-limit' });
  });

  test('holds a parameter at its bound, says which, and keeps the others free', () => {
    // Unbounded, the curve wants b1 = 238.9.
    const fit = fitNonlinear(model(), misra.y, { start: [150, 0.0005], upper: [200, Infinity] });
    expect(fit.parameters[0]).toBe(200);
    expect(fit.parametersAtBound).toEqual([0]);
    expect(fit.standardErrors[0]).toBe(0);
    expect(fit.degreesOfFreedom).toBe(13);
    const alone = fitNonlinear(modelFromFormula(1, ([b2], i) => b2!.times(-x[i]!).exp().negated().plus(1).times(200)), misra.y, { start: [0.0005] });
    expect(fit.parameters[1]! / alone.parameters[0]!).toBeCloseTo(1, 11);
    expect(fit.standardErrors[1]! / alone.standardErrors[0]!).toBeCloseTo(1, 9);
  });
});

describe('bad input', () => {
  test.each([
    ['START_OUT_OF_BOUNDS', () => fitNonlinear(model(), misra.y, { start: [500, 0.0001], upper: [400, 1] })],
    ['START_OUT_OF_DOMAIN', () => fitNonlinear(modelFromFormula(2, ([a, b]) => a!.log().plus(b!)), misra.y, { start: [-1, 1] })],
    ['SHAPE', () => fitNonlinear(model(), misra.y, { start: [500] })],
    ['SHAPE', () => fitNonlinear(model(), misra.y, { start: [500, 0.0001], lower: [0] })],
    ['NOT_FINITE', () => fitNonlinear(model(), misra.y, { start: [NaN, 1] })],
    ['NOT_FINITE', () => fitNonlinear(model(), [NaN, ...misra.y.slice(1)], { start: [500, 0.0001] })],
    ['TOO_FEW_POINTS', () => fitNonlinear(model(), misra.y.slice(0, 2), { start: [500, 0.0001] })],
    ['SINGULAR_DESIGN', () => fitNonlinear(modelFromFormula(2, ([a, b], i) => a!.times(b!).times(x[i]!)), misra.y, { start: [1, 1] })],
  ])('%s', (code, work) => {
    expect(codeOf(work)).toBe(code);
  });
});

describe('searches that cannot be', () => {
  const at = [1, 2, 3, 4, 5, 6];
  const saturation = modelFromFormula(2, ([top, rate], i) => rate!.times(-at[i]!).exp().negated().plus(1).times(top!));
  const response = at.map((xi) => 5 * (1 - Math.exp(-0.5 * xi)) + 0.01 * (xi % 2));
  const withStart = (start: readonly number[], more = {}) => fitNonlinear(saturation, response, { start, ...more });

  test.each([
    ['TOLERANCE', { tolerance: NaN }], ['TOLERANCE', { tolerance: -1 }], ['TOLERANCE', { tolerance: 1 }], ['NOT_A_COUNT', { maxIterations: 0 }], ['NOT_A_COUNT', { maxIterations: 1.5 }],
    ['BOUNDS_REVERSED', { lower: [5, 0], upper: [4, 10] }], ['START_OUT_OF_BOUNDS', { lower: [4.5, 0] }],
  ])('%s: %j', (code, more) => expect(codeOf(() => withStart([4, 1], more))).toBe(code));

  test('a start from which nothing can be seen is told as one, with the remedy to start elsewhere', () => {
    // exp(−1000·x) is zero to float64 at every point: the rate has no effect there.
    expect(() => withStart([1e6, 1e3])).toThrow('β1: cannot be told apart from the other parameters with these points. Start nearer to the data');
  });

  test('a valley without end is reported as not converged, never as an answer', () => {
    const { converged } = withStart([-1e3, -5]).convergence;
    expect(converged).toBe(false);
  });

  test('sizes: an answer, or a refusal that names the response', () => {
    const sized = (size: number) => fitNonlinear(saturation, response.map((y) => y * size), { start: [4 * size, 1] });
    for (const size of [1e-130, 1e130]) expect(sized(size).parameters[1]! / sized(1).parameters[1]!).toBeCloseTo(1, 10);
    expect(codeOf(() => sized(1e-200))).toBe('SCALE');
    expect(codeOf(() => sized(1e200))).toBe('SCALE');
  });
});
