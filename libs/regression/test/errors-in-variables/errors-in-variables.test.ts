import { fitErrorsInVariables, invertAt, polynomialModel, predictFrom } from '#libs/regression';
import { matchingDigits } from '../digits/digits.js';
import { compareEiv, eivCases, fitEiv, modelOf } from '../digits/other-sources.js';
import { codeOf, roundingOf } from '../support.js';

describe('errors in both variables against published examples', () => {
  test.each(eivCases.map((item) => [item.name, item] as const))('%s', (name, item) => {
    const { fit, predicted } = fitEiv(item);
    expect(fit.convergence.converged).toBe(true);
    for (const { name: value, source, ours } of compareEiv(item.recomputed, fit, predicted)) {
      expect({ value, digits: matchingDigits(ours, source, 15) >= 10 }).toEqual({ value, digits: true });
    }
    // ISO 6143 example 1 prints results that had not fully converged: four digits agree.
    const slack = name.startsWith('ISO 6143') ? 5e-4 : 0;
    for (const { name: value, source, ours } of compareEiv(item.printed, fit, predicted)) {
      const off = Math.abs(ours - source);
      expect({ value, source, ours, agrees: off <= roundingOf(source) || off <= slack * Math.abs(source) }).toMatchObject({ agrees: true });
    }
  });

  test('chi-squared refuses what ISO 6143 example 3 shows not to be a straight line', () => {
    const bent = fitEiv(eivCases.find((item) => item.name === 'ISO 6143 example 3, linear')!).fit;
    expect(bent.consistent).toBe(false);
    expect(bent.pValue).toBeLessThan(1e-10);
    const curve = fitEiv(eivCases.find((item) => item.name === 'ISO 6143 example 3, exponential')!).fit;
    expect(curve.consistent).toBe(true);
  });
});

const line = polynomialModel(1);
const gdr = eivCases.find((item) => item.name.startsWith('ISO/TS 28037 7.4'))!;
const wls = eivCases.find((item) => item.name.startsWith('ISO/TS 28037 6.3, equal'))!;

describe('prediction', () => {
  test('forward and back, as ISO/TS 28037:2010 clause 11 and its examples print it', () => {
    const fit = fitErrorsInVariables(line, wls);
    const forward = predictFrom(line, fit, [{ value: 3.5, u: 0.2 }, { value: 4.5, u: 0.4 }]);
    [8.017, 9.774].forEach((y, i) => expect(Math.abs(forward.values[i]! - y)).toBeLessThanOrEqual(0.0005));
    [0.406, 0.742].forEach((u, i) => expect(Math.abs(forward.standardUncertainties[i]! - u)).toBeLessThanOrEqual(0.0005));
    // 15 digits as the MSL uncertainty calculator's documentation gives them for this example.
    const back = invertAt(line, fit, [{ value: 10.5, u: 0.5 }]);
    expect(back.values[0]).toBeCloseTo(4.91327913279133, 12);
    expect(back.standardUncertainties[0]).toBeCloseTo(0.32203556012891, 12);
    // Its figures for the example with errors in both rest on the other convention; ISO prints 8.138 and 0.484.
    const both = predictFrom(line, fitErrorsInVariables(line, gdr), [{ value: 3.5, u: 0.2 }, { value: 4.5, u: 0.4 }]);
    [8.138, 10.297].forEach((y, i) => expect(Math.abs(both.values[i]! - y)).toBeLessThanOrEqual(0.0005));
    [0.484, 0.909].forEach((u, i) => expect(Math.abs(both.standardUncertainties[i]! - u)).toBeLessThanOrEqual(0.001));
  });

  test('several values from one fit are correlated', () => {
    const { covariance } = predictFrom(line, fitErrorsInVariables(line, gdr), [{ value: 5, u: 0 }, { value: 6, u: 0 }]);
    expect(covariance[0]![1]!).toBeGreaterThan(0.9 * Math.sqrt(covariance[0]![0]! * covariance[1]![1]!));
  });

  test('gives the parameters in the unit of the data, whatever it is', () => {
    const plain = fitErrorsInVariables(line, gdr);
    const kilo = fitErrorsInVariables(line, { x: gdr.x.map((v) => v * 1e6), uX: gdr.uX!.map((v) => v * 1e6), y: gdr.y.map((v) => v / 1e3), uY: gdr.uY!.map((v) => v / 1e3) });
    expect(kilo.parameters[1]! * 1e9).toBeCloseTo(plain.parameters[1]!, 10);
    expect(kilo.standardErrors[0]! * 1e3).toBeCloseTo(plain.standardErrors[0]!, 10);
    expect(kilo.chiSquared).toBeCloseTo(plain.chiSquared, 10);
  });

  test('does not depend on the order of the points, correlated or not', () => {
    const full = eivCases.find((item) => item.name.startsWith('ISO/TS 28037 10'))!;
    const order = [3, 0, 6, 2, 5, 1, 4];
    const pick = <T>(list: readonly T[]) => order.map((i) => list[i]!);
    const forward = fitErrorsInVariables(line, full);
    const mixed = fitErrorsInVariables(line, { x: pick(full.x), y: pick(full.y), covarianceX: pick(full.covarianceX!).map(pick), covarianceY: pick(full.covarianceY!).map(pick) });
    mixed.parameters.forEach((value, k) => expect(value).toBeCloseTo(forward.parameters[k]!, 10));
    mixed.standardErrors.forEach((value, k) => expect(value).toBeCloseTo(forward.standardErrors[k]!, 10));
  });

  test('exact y with uncertain x is the same line with its roles exchanged', () => {
    const n = gdr.x.length;
    const zero = Array.from({ length: n }, () => 0);
    const exactY = fitErrorsInVariables(line, { x: gdr.x, uX: gdr.uX!, y: gdr.y, uY: zero });
    const exchanged = fitErrorsInVariables(line, { x: gdr.y, uX: zero, y: gdr.x, uY: gdr.uX! });
    expect(exactY.parameters[1]! * exchanged.parameters[1]!).toBeCloseTo(1, 10);
    expect(exactY.chiSquared).toBeCloseTo(exchanged.chiSquared, 10);
  });

  test('covariance between x and y of a point takes part', () => {
    // Where errors of x and y are alike and fully shared along the line's own direction, they do not move the line.
    const cross = gdr.x.map((_, i) => gdr.x.map((__, j) => (i === j ? 0.9 * gdr.uX![i]! * gdr.uY![i]! : 0)));
    const correlated = fitErrorsInVariables(line, { ...gdr, covarianceXy: cross });
    const plain = fitErrorsInVariables(line, gdr);
    expect(correlated.standardErrors[1]!).toBeLessThan(0.8 * plain.standardErrors[1]!);
    expect(correlated.chiSquared).toBeGreaterThan(plain.chiSquared);
  });

  test.each(eivCases.map((item) => [item.name, item] as const))('the adjusted points lie on the curve: %s', (_, item) => {
    const { fit } = fitEiv(item);
    fit.adjustedX.forEach((x, i) => {
      const off = fit.adjustedY[i]! - modelOf(item).value(fit.parameters, x);
      expect(Math.abs(off)).toBeLessThan(1e-8 * Math.max(Math.abs(fit.adjustedY[i]!), 1));
    });
  });
});

describe('bad input', () => {
  const { x, y, uX, uY } = gdr;
  test.each([
    ['SHAPE', () => fitErrorsInVariables(line, { x, y, uY: uY! })],
    ['SHAPE', () => fitErrorsInVariables(line, { x, y, uX: [0.1], uY: uY! })],
    ['SHAPE', () => fitErrorsInVariables(line, { x, y: [1], uX: uX!, uY: uY! })],
    ['NEGATIVE', () => fitErrorsInVariables(line, { x, y, uX: [-1, 0.2, 0.2, 0.2, 0.2, 0.2], uY: uY! })],
    ['NOT_POSITIVE', () => fitErrorsInVariables(line, { x, y, uX: uX!.map(() => 0), uY: uY!.map(() => 0) })],
    ['NOT_FINITE', () => fitErrorsInVariables(line, { x: [NaN, ...x.slice(1)], y, uX: uX!, uY: uY! })],
    ['NOT_SYMMETRIC', () => fitErrorsInVariables(line, { x, y, covarianceX: x.map((_, i) => x.map((__, j) => (i === j ? 1 : i < j ? 0.1 : 0))), uY: uY! })],
    ['NOT_POSITIVE_DEFINITE', () => fitErrorsInVariables(line, { x, y, uX: x.map(() => 0), covarianceY: x.map((_, i) => x.map((__, j) => (i === j ? 1 : 2))) })],
    ['TOO_FEW_POINTS', () => fitErrorsInVariables(line, { x: [1, 2], y: [1, 2], uX: [0.1, 0.1], uY: [0.1, 0.1] })],
    ['SINGULAR_DESIGN', () => fitErrorsInVariables(line, { x: [1, 1, 1], y: [1, 2, 3], uX: [0, 0, 0], uY: [1, 1, 1] })],
    ['DEGREE', () => polynomialModel(0)],
  ])('%s', (code, work) => {
    expect(codeOf(work)).toBe(code);
  });
});

test('covariances that no errors can have are refused, whichever matrix they stand in', () => {
  const [x, y] = [[1, 2, 3, 4], [1, 2.1, 2.9, 4]];
  const matrix = (diagonal: number, beside: number) => x.map((_, i) => x.map((__, j) => (i === j ? diagonal : beside)));
  const fit = (data: object) => fitErrorsInVariables(polynomialModel(1), { x, y, ...data } as Parameters<typeof fitErrorsInVariables>[1]);
  const independent = { uX: [0.2, 0.2, 0.2, 0.2], uY: [0.2, 0.2, 0.2, 0.2] };
  expect(codeOf(() => fit({ covarianceX: matrix(0.04, 0.05), uY: independent.uY }))).toBe('NOT_POSITIVE_DEFINITE');
  // Three errors cannot all run against each other this strongly, though each pair could.
  expect(codeOf(() => fit({ covarianceX: matrix(0.04, -0.02), uY: [1, 1, 1, 1] }))).toBe('NOT_POSITIVE_DEFINITE');
  for (const beyond of [0.05, -0.05]) expect(codeOf(() => fit({ ...independent, covarianceXy: matrix(beyond, 0) }))).toBe('NOT_POSITIVE_DEFINITE');
  // Perfect correlation is possible: four x that share one error.
  expect(fit({ covarianceX: matrix(0.04, 0.04), uY: independent.uY }).convergence.converged).toBe(true);
  expect(fit({ ...independent, covarianceXy: matrix(0.04 * (1 - 1e-6), 0) }).convergence.converged).toBe(true);
});
