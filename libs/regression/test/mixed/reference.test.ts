import { fitMixedModel, interceptTerm, type MixedFit } from '#libs/regression';
import { digits, fixture, MODEL_NAMES, modelOf, vector, type ReferenceFit } from './fixture.js';

/** lme4 writes a nested group as `disc:(leaf:plant)` or `plant:leaf`, by how the model was typed: the words in a fixed order. */
function canonical(group: string): string {
  return group.split(/[:()]+/).filter(Boolean).sort().join(':');
}

/** Standard deviations and correlations of a fit under lme4's names: group, term, second term. */
function componentsOf(fit: MixedFit): Map<string, number> {
  const found = new Map<string, number>([['Residual', fit.residualSd]]);
  const lme4Term = (name: string) => (name === 'intercept' ? '(Intercept)' : name);
  fit.levels.forEach((level, l) => {
    const group = canonical(fit.levels.slice(0, l + 1).map((outer) => outer.name).join(':'));
    const independent = level.sd.length > 1 && level.correlation[0]![1] === 0;
    level.termNames.forEach((name, i) => {
      // Independent terms are two groups to lme4: Subject and Subject.1.
      found.set(`${group}${independent && i > 0 ? `.${i}` : ''}|${lme4Term(name)}`, level.sd[i]!);
      if (i > 0 && !independent) found.set(`${group}|${lme4Term(level.termNames[0]!)}|${lme4Term(name)}`, level.correlation[0]![i]!);
    });
  });
  return found;
}

function worst(pairs: readonly (readonly [number, number])[]): number {
  return Math.min(...pairs.map(([got, expected]) => digits(got, expected)));
}

// Reference: lme4 1.1-31, lmerTest 3.1-3, nlme 3.1-162 (fixtures/mixed/make-fixtures.R). lme4 minimises without derivatives, so that
// about 8 digits of its variances are its own limit; the log-likelihood, flat at the optimum, agrees to twice as many.
describe.each(MODEL_NAMES.flatMap((name) => (['REML', 'ML'] as const).map((method) => [name, method] as const)))('%s by %s', (name, method) => {
  const reference: ReferenceFit = fixture.fits[name]![method];
  const fit = fitMixedModel({ ...modelOf(name), method });

  test('log-likelihood, AIC', () => {
    expect(digits(fit.logLikelihood, reference.logLik)).toBeGreaterThan(11);
    expect(digits(fit.aic, reference.aic)).toBeGreaterThan(11);
    expect(fit.convergence.converged).toBe(true);
  });

  test('fixed effects and standard errors', () => {
    expect(worst(fit.fixed.map((effect, i) => [effect.estimate, vector(reference.beta)[i]!]))).toBeGreaterThan(8.5);
    expect(worst(fit.fixed.map((effect, i) => [effect.standardError, vector(reference.se)[i]!]))).toBeGreaterThan(7);
  });

  test('variance components and correlations', () => {
    const found = componentsOf(fit);
    const { grp, var1, var2, sdcor } = reference.varcomp;
    expect(found.size).toBe(grp.length);
    grp.forEach((group, i) => {
      const key = [canonical(group), var1[i], var2[i]].filter(Boolean).join('|');
      // A correlation near zero has few digits of its own: 1e-6 absolute.
      if (var2[i]) expect(Math.abs(found.get(key)! - sdcor[i]!)).toBeLessThan(1e-6);
      else if (sdcor[i] === 0) expect(found.get(key)).toBe(0);
      else expect(digits(found.get(key)!, sdcor[i]!)).toBeGreaterThan(5.5);
    });
  });

  test('predicted effects and their conditional standard deviations', () => {
    const scale = Math.max(...reference.blup.value.map(Math.abs), 1e-12);
    reference.blup.value.forEach((value, i) => {
      const lme4Level = reference.blup.level[i]!;
      const level = fit.levels[canonical(lme4Level).split(':').length - 1]!;
      const group = level.groups.find((candidate) => canonical(candidate.path.join(':')) === canonical(reference.blup.group[i]!))!;
      const termIndex = reference.blup.term[i] === '(Intercept)' ? 0 : 1;
      expect(Math.abs(group.effects[termIndex]! - value)).toBeLessThan(1e-6 * scale);
      // On a boundary the conditional deviation is a difference of equal numbers in both programs.
      if (!level.atBoundary) expect(digits(group.conditionalSd[termIndex]!, reference.blup.sd[i]!)).toBeGreaterThan(4.5);
    });
  });

  if (reference.satterthwaite !== undefined) {
    test("Satterthwaite's degrees of freedom, as lmerTest has them", () => {
      expect(worst(fit.fixed.map((effect, i) => [effect.degreesOfFreedom, vector(reference.satterthwaite!)[i]!]))).toBeGreaterThan(6);
    });
  }
});

test.each(Object.entries(fixture.nlme))('%s: the restricted log-likelihood of nlme', (name, logLikelihood) => {
  expect(digits(fitMixedModel({ ...modelOf(name), method: 'REML' }).logLikelihood, logLikelihood)).toBeGreaterThan(9);
});

describe('balanced one-way sets against the exact analysis of variance', () => {
  // Between = (MSB − MSW)/n for REML and ((a − 1)/a·MSB − MSW)/n for ML, within = MSW: Searle, Casella & McCulloch, Variance Components
  // (1992) ch. 3 (from memory). Mean squares of Rail (a = 6, n = 3) and Dyestuff (a = 6, n = 5), computed by fractions from the data.
  test.each([
    ['rail', 6, 3, 1862.1, 16.166666666666668],
    ['dyestuff', 6, 5, 11271.5, 2451.25],
  ] as const)('%s', (name, a, n, msb, msw) => {
    const reml = fitMixedModel({ ...modelOf(name), method: 'REML' });
    const ml = fitMixedModel({ ...modelOf(name), method: 'ML' });
    expect(digits(reml.levels[0]!.covariance[0]![0]!, (msb - msw) / n)).toBeGreaterThan(11);
    expect(digits(ml.levels[0]!.covariance[0]![0]!, (((a - 1) / a) * msb - msw) / n)).toBeGreaterThan(11);
    expect(digits(reml.residualSd ** 2, msw)).toBeGreaterThan(12);
    expect(digits(reml.fixed[0]!.standardError, Math.sqrt(msb / (a * n)))).toBeGreaterThan(12);
    expect(digits(reml.fixed[0]!.degreesOfFreedom, a - 1)).toBeGreaterThan(8);
    const between = (msb - msw) / n;
    expect(digits(reml.levels[0]!.share, between / (between + msw))).toBeGreaterThan(11);
  });
});

describe('published figures', () => {
  // Pinheiro & Bates, Mixed-Effects Models in S and S-PLUS (2000), 1.1 and 1.4, as printed.
  test('rails and orthodontic growth', () => {
    const rail = fitMixedModel({ ...modelOf('rail'), method: 'REML' });
    expect(rail.levels[0]!.sd[0]).toBeCloseTo(24.80547, 5);
    expect(rail.residualSd).toBeCloseTo(4.020779, 6);
    expect(rail.logLikelihood).toBeCloseTo(-61.0885, 4);
    const girls = fitMixedModel({ ...modelOf('orthodontFemaleIntercept'), method: 'REML' });
    expect(girls.fixed.map((effect) => effect.standardError.toFixed(5))).toEqual(['0.85874', '0.05259']);
    expect(girls.levels[0]!.sd[0]).toBeCloseTo(2.06847, 5);
  });

  // Bates, Mächler, Bolker & Walker, J. Stat. Softw. 67 (2015) 1, section 1.2: the sleepstudy fit as printed.
  test('sleepstudy', () => {
    const fit = fitMixedModel({ ...modelOf('sleepstudy'), method: 'REML' });
    expect(fit.deviance.toFixed(1)).toBe('1743.6');
    expect(fit.fixed.map((effect) => effect.estimate.toFixed(3))).toEqual(['251.405', '10.467']);
    expect(fit.fixed.map((effect) => effect.standardError.toFixed(3))).toEqual(['6.825', '1.546']);
    expect(fit.levels[0]!.covariance[0]![0]!.toFixed(1)).toBe('612.1');
    expect(fit.levels[0]!.correlation[0]![1]!.toFixed(2)).toBe('0.07');
  });

  // Orange (Draper & Smith 1998): the one random parameter enters linearly, so that at nlme's fitted midpoint and scale (Pinheiro &
  // Bates 2000, 8.2; 722.556 and 344.162) the nonlinear model is this linear one and must give its asymptote, deviations and likelihood.
  test('orange trees', () => {
    const days = [118, 484, 664, 1004, 1231, 1372, 1582];
    const girthMm = [
      [30, 58, 87, 115, 120, 142, 145],
      [33, 69, 111, 156, 172, 203, 203],
      [30, 51, 75, 108, 115, 139, 140],
      [32, 62, 112, 167, 179, 209, 214],
      [30, 49, 81, 125, 142, 174, 177],
    ];
    const shape = { name: 'asymptote', values: girthMm.flatMap(() => days.map((day) => 1 / (1 + Math.exp(-(day - 722.555979889) / 344.162382054)))) };
    const groups = girthMm.flatMap((row, tree) => row.map(() => String(tree)));
    const fit = fitMixedModel({ response: girthMm.flat(), fixed: [shape], levels: [{ name: 'tree', groups, terms: [shape], covariance: 'full' }], method: 'ML' });
    expect(fit.fixed[0]!.estimate).toBeCloseTo(191.049, 3);
    expect(fit.levels[0]!.sd[0]).toBeCloseTo(31.48256, 3);
    expect(fit.residualSd).toBeCloseTo(7.846254, 4);
    expect(fit.logLikelihood).toBeCloseTo(-131.584579, 5);
  });
});

describe('a variance of exactly zero', () => {
  // Box & Tiao, Bayesian Inference in Statistical Analysis (1973), 5.1.2: the between-batch mean square is below the within-batch one.
  test.each(['REML', 'ML'] as const)('Dyestuff2 by %s', (method) => {
    const model = modelOf('dyestuff2');
    const fit = fitMixedModel({ ...model, method });
    const [level] = fit.levels;
    expect(level!.sd[0]).toBe(0);
    expect(level!.atBoundary).toBe(true);
    expect(level!.groups.every((group) => group.effects[0] === 0 && group.conditionalSd[0] === 0)).toBe(true);
    expect(fit.notes.join()).toContain('exactly 0');
    const mean = model.response.reduce((sum, y) => sum + y, 0) / 30;
    const squares = model.response.reduce((sum, y) => sum + (y - mean) ** 2, 0);
    expect(digits(fit.residualSd ** 2, squares / (method === 'REML' ? 29 : 30))).toBeGreaterThan(13);
  });

  test('a correlation at ±1 is named as such', () => {
    const fit = fitMixedModel({ ...modelOf('nestedSlope'), method: 'REML' });
    expect(Math.abs(fit.levels[0]!.correlation[0]![1]!)).toBeCloseTo(1, 12);
    expect(fit.levels[0]!.atBoundary).toBe(true);
    expect(fit.notes.join()).toContain('perfectly correlated');
  });
});

test('leaves that differ a million times more than their readings keep their digits', () => {
  // Balanced one-way set with known mean squares: groups at ±1, readings at ±1e-6.
  const response = [1, 1, -1, -1, 3, 3].map((value, i) => value + (i % 2 === 0 ? 1e-6 : -1e-6));
  const one = interceptTerm(6);
  const fit = fitMixedModel({ response, fixed: [one], levels: [{ name: 'leaf', groups: [...'aabbcc'], terms: [one], covariance: 'full' }], method: 'REML' });
  expect(digits(fit.residualSd ** 2, 2e-12)).toBeGreaterThan(8);
  expect(digits(fit.levels[0]!.covariance[0]![0]!, 4)).toBeGreaterThan(8);
});

test('of two valleys the deeper one is found', () => {
  // Nine simulated readings. lme4 1.1-31 by REML ends at log-likelihood 11.15400 from start (1, 1, 0, 1) and at 10.67188 from (2, 0.01, 0,
  // 0.01), its parameters in the order leaf, plant.
  const response = [-1.7636, -1.9102, -1.3991, -1.7121, -1.7707, -1.8362, -1.5313, -1.3929, -1.9435];
  const one = interceptTerm(9);
  const rwc = { name: 'rwc', values: [0.8016, 0.9818, 0.42, 0.6465, 0.8033, 0.7421, 0.5372, 0.4213, 0.9546] };
  const fit = fitMixedModel({
    response,
    fixed: [one, rwc],
    levels: [
      { name: 'plant', groups: [...'aaaabbccc'], terms: [one, rwc], covariance: 'full' },
      { name: 'leaf', groups: [...'111212122'], terms: [one], covariance: 'full' },
    ],
    method: 'REML',
  });
  expect(fit.logLikelihood).toBeCloseTo(11.154, 5);
});
