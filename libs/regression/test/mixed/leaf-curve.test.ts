import { families, fitFamily, fitLeafCurve, fitLeafLine, fitLeaves, type CurveFamily, type LeafCurve, type LeafReading } from '#libs/regression';
import { CURVE_SETS, curveOf, curveReadings, curveReference } from './curve-fixture.js';
import { digits } from './fixture.js';

const worst = (pairs: readonly (readonly [number, number])[]): number => Math.min(...pairs.map(([got, expected]) => digits(got, expected)));

// Reference: nlme 3.1-162 (fixtures/mixed/make-curves.R). ML by nlme itself: both maximise one likelihood. REML by lme on the tangent, drawn
// anew until it rests, since what nlme calls REML keeps the ratio of the spreads of ML. Their searches end where a step changes little,
// so that the last digits are not to be had.
describe.each(CURVE_SETS.flatMap((set) => (['ML', 'REML'] as const).map((method) => [set, method] as const)))('%s by %s, as nlme has it', (set, method) => {
  const reference = curveReference(set, method);
  const curve = curveOf(set, method);
  const { fit } = curve;

  test('parameters and their covariance', () => {
    expect(fit.convergence).toMatchObject({ converged: true });
    expect(worst(fit.fixed.map(({ estimate }, i) => [estimate, reference.beta[i]!]))).toBeGreaterThan(5.5);
    expect(worst(fit.fixed.map(({ standardError }, i) => [standardError, Math.sqrt(reference.covariance[i]![i]!)]))).toBeGreaterThan(5);
    expect(worst(curve.parameters.map((value, i) => [value, fit.fixed[i]!.estimate]))).toBeGreaterThan(9);
  });

  test('spread of leaves and readings, likelihood', () => {
    const leafSd = [reference.leafSd].flat();
    expect(worst(fit.levels[0]!.sd.map((sd, i) => [sd, leafSd[i]!]))).toBeGreaterThan(5);
    expect(digits(fit.residualSd, reference.sigma)).toBeGreaterThan(6);
    expect(digits(fit.logLikelihood, reference.logLik)).toBeGreaterThan(8);
  });

  test('what each leaf adds', () => {
    const scale = Math.max(...reference.effects.flat().map(Math.abs));
    reference.leaves.forEach((leaf, i) => {
      const own = fit.levels[0]!.groups.find(({ path }) => path[0] === leaf)!;
      own.effects.forEach((effect, t) => expect(Math.abs(effect - reference.effects[i]![t]!)).toBeLessThan(2e-5 * scale));
    });
  });
});

const LEAVES = 8;
/** Leaves that differ by `heights`, on the scale of T (exponential, logistic) or ln T (power). */
function leavesOf(family: CurveFamily, parameters: readonly number[], heights: readonly number[], noise: (i: number) => number): LeafReading[] {
  const rwc = [0.97, 0.9, 0.83, 0.76, 0.69, 0.62, 0.55];
  return heights.flatMap((height, leaf) => rwc.map((at, k) => {
    const mean = families[family].predict(parameters, at);
    const off = height + noise(leaf * rwc.length + k);
    return { leafId: `L${leaf}`, rwc: at, transmittance: family === 'power' ? mean * Math.exp(off) : mean + off };
  }));
}
const TRUTH: Readonly<Record<CurveFamily, readonly number[]>> = { exponential: [0.05, 0.9, -2.4], power: [-1.9, -0.9], logistic: [0.08, 0.3, 9, 0.75] };
const FAMILIES = Object.keys(TRUTH) as CurveFamily[];
const wave = (i: number): number => 0.002 * Math.sin(37 * i * i + i);
const heights = Array.from({ length: LEAVES }, (_, i) => 0.012 * Math.cos(5 * i + 1));
const REML = { method: 'REML', leafEffect: 'intercept' } as const;

test.each(FAMILIES)('%s: leaves that do not differ have a spread of exactly zero, and the fit is the plain one', (family) => {
  const readings = leavesOf(family, TRUTH[family], heights.map(() => 0), wave);
  const curve = fitLeafCurve(family, readings, REML);
  expect(curve.fit.levels[0]!.sd).toEqual([0]);
  expect(curve.fit.levels[0]!.groups.every(({ effects }) => effects[0] === 0)).toBe(true);
  expect(curve.fit.notes[0]).toContain('exactly 0');
  const plain = fitFamily(family, readings);
  expect(worst(curve.parameters.map((value, k) => [value, plain.parameters[k]!]))).toBeGreaterThan(9);
  expect(digits(curve.fit.residualSd, plain.residualSd)).toBeGreaterThan(9);
});

test('a power curve is the line through ln RWC', () => {
  const readings = leavesOf('power', TRUTH.power, heights, wave);
  for (const leafEffect of ['intercept', 'intercept-and-slope'] as const) {
    const curve = fitLeafCurve('power', readings, { method: 'REML', leafEffect });
    const line = fitLeafLine(readings.map((reading) => ({ ...reading, rwc: Math.log(reading.rwc) })), { method: 'REML', leafEffect, responseScale: 'ln-transmittance' });
    expect(curve.parameters).toEqual([line.intercept, line.slope]);
    expect(curve.fit.deviance).toBe(line.fit.deviance);
  }
});

test('readings beside tell shape and spread, not height', () => {
  const own = leavesOf('exponential', TRUTH.exponential, heights, wave);
  const beside = own.map((reading) => ({ ...reading, leafId: `${reading.leafId} there`, transmittance: reading.transmittance + 0.07, besideId: 'there' }));
  const both = fitLeafCurve('exponential', [...own, ...beside], REML);
  const alone = fitLeafCurve('exponential', own, REML);
  both.parameters.forEach((value, k) => expect(value).toBeCloseTo(alone.parameters[k]!, 8));
  expect(both.fit.fixed[3]).toMatchObject({ name: 'height of there', estimate: expect.closeTo(0.07, 8) });
  expect(both.leafCount).toBe(2 * LEAVES);
});

test('refuses what it cannot take, naming the field', () => {
  const readings = leavesOf('exponential', TRUTH.exponential, heights, wave);
  const refused = (act: () => unknown): unknown => { try { act(); } catch (error) { return error; } return null; };
  expect(refused(() => fitLeafCurve('exponential', readings, { method: 'REML', leafEffect: 'intercept-and-slope' }))).toMatchObject({ code: 'LEAF_EFFECT', field: 'leafEffect' });
  expect(refused(() => fitLeafCurve('exponential', readings.map((reading) => ({ ...reading, plantId: 'P' })), REML))).toMatchObject({ code: 'NESTED_CURVE', field: 'readings[0].plantId' });
  expect(refused(() => fitLeafCurve('power', readings.map((reading) => ({ ...reading, rwc: reading.rwc - 0.6 })), REML))).toMatchObject({ code: 'NOT_POSITIVE', field: 'readings[6].rwc' });
});

test('a curve with more parameters than the readings tell comes to no rest, and says so', () => {
  // A power curve bends more than any exponential, which is where a logistic curve goes without an upper bend.
  const readings = leavesOf('power', [-2.3, -2], heights, wave);
  expect(fitLeafCurve('exponential', readings, REML).fit.convergence.converged).toBe(true);
  const { fit } = fitLeafCurve('logistic', readings, REML);
  expect(fit.convergence.converged).toBe(false);
  expect(fit.notes.at(-1)).toContain('did not converge');
});

test('a floor below zero is said', () => {
  expect(fitLeafCurve('exponential', curveReadings('noFloor'), REML).fit.notes).toContainEqual(expect.stringContaining('floor is estimated below zero'));
  expect(fitLeafCurve('exponential', curveReadings('floor'), REML).fit.notes).toEqual([]);
});

test('the same readings in another order, leaves renamed, give the same curve', () => {
  const readings = leavesOf('logistic', TRUTH.logistic, heights, wave);
  const told = ({ parameters, fit }: LeafCurve): number[] => [...parameters, fit.residualSd, fit.levels[0]!.sd[0]!, fit.deviance];
  const one = told(fitLeaves('logistic', readings, REML) as LeafCurve);
  const other = told(fitLeaves('logistic', [...readings].reverse().map((reading) => ({ ...reading, leafId: `x${reading.leafId}` })), REML) as LeafCurve);
  expect(worst(one.map((value, i) => [value, other[i]!]))).toBeGreaterThan(8);
});
