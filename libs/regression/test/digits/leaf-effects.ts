import { readFileSync } from 'node:fs';
import { fitMixedModel, summariseGroups, twoSidedToleranceFactor, type MixedFit, type TauMethod } from '#libs/regression';
import { CURVE_SETS, curveOf, curveReference } from '../mixed/curve-fixture.js';
import { fixture, MODEL_NAMES, modelOf, vector } from '../mixed/fixture.js';
import { fewestDigits, type OtherRow } from './digits.js';

/** The fixtures hold 12 decimal places; the exact analyses of variance are computed in float64. */
const GIVEN = { fixture: 11, exact: 14 } as const;

const METHODS = ['REML', 'ML'] as const;

export function measureLeafEffects(): OtherRow[] {
  return [...exactRows(), ...lme4Rows(), ...curveRows(), ...satterthwaiteRow(), ...toleranceRow(), ...summaryRows()];
}

/** Balanced one-way sets, where the estimates are ratios of mean squares. */
function exactRows(): OtherRow[] {
  const sets = [
    { name: 'rail', a: 6, n: 3, msb: 1862.1, msw: 16.166666666666668 },
    { name: 'dyestuff', a: 6, n: 5, msb: 11271.5, msw: 2451.25 },
  ];
  return sets.flatMap(({ name, a, n, msb, msw }) =>
    METHODS.map((method) => {
      const fit = fitMixedModel({ ...modelOf(name), method });
      const meanSquare = method === 'REML' ? msb : ((a - 1) / a) * msb;
      const expected = [(meanSquare - msw) / n, msw, Math.sqrt(meanSquare / (a * n))];
      const reached = [fit.levels[0]!.covariance[0]![0]!, fit.residualSd ** 2, fit.fixed[0]!.standardError];
      return {
        problem: `Mixed model ${name}, ${method}`,
        digits: fewestDigits(reached, expected, GIVEN.exact),
        source: 'exact analysis of variance of the balanced set; data Pinheiro & Bates (2000) 1.1, Davies & Goldsmith (1972) 6.4',
      };
    }),
  );
}

/** lme4 minimises without derivatives: about eight digits of its variances are its own limit. */
function lme4Rows(): OtherRow[] {
  return MODEL_NAMES.flatMap((name) =>
    METHODS.map((method) => {
      const reference = fixture.fits[name]![method];
      const fit = fitMixedModel({ ...modelOf(name), method });
      const reached = [fit.logLikelihood, fit.residualSd, ...fit.fixed.flatMap((effect) => [effect.estimate, effect.standardError]), ...deviations(fit)];
      const expected = [
        reference.logLik,
        reference.sigma,
        ...vector(reference.beta).flatMap((estimate, i) => [estimate, vector(reference.se)[i]!]),
        ...reference.varcomp.sdcor.filter((_, i) => reference.varcomp.var1[i] && !reference.varcomp.var2[i]).sort((x, y) => x - y),
      ];
      return { problem: `Mixed model ${name}, ${method}`, digits: fewestDigits(reached, expected, GIVEN.fixture), source: 'lme4 1.1-31 (test/fixtures/mixed/make-fixtures.R)' };
    }),
  );
}

/** nlme and lme stop where a step changes little. */
function curveRows(): OtherRow[] {
  return CURVE_SETS.flatMap((set) =>
    METHODS.map((method) => {
      const reference = curveReference(set, method);
      const { fit } = curveOf(set, method);
      const reached = [fit.logLikelihood, fit.residualSd, ...fit.fixed.flatMap(({ estimate, standardError }) => [estimate, standardError])];
      const expected = [reference.logLik, reference.sigma, ...reference.beta.flatMap((estimate, i) => [estimate, Math.sqrt(reference.covariance[i]![i]!)])];
      return { problem: `Curve with leaf effects ${set}, ${method}`, digits: fewestDigits(reached, expected, GIVEN.fixture), source: 'nlme 3.1-162 (test/fixtures/mixed/make-curves.R)' };
    }),
  );
}

function deviations(fit: MixedFit): number[] {
  return fit.levels.flatMap((level) => level.sd).sort((x, y) => x - y);
}

function satterthwaiteRow(): OtherRow[] {
  const pairs = MODEL_NAMES.flatMap((name) =>
    METHODS.flatMap((method) => {
      const { satterthwaite } = fixture.fits[name]![method];
      if (satterthwaite === undefined) return [];
      return fitMixedModel({ ...modelOf(name), method }).fixed.map((effect, i) => [effect.degreesOfFreedom, vector(satterthwaite)[i]!] as const);
    }),
  );
  const digits = fewestDigits(pairs.map(([reached]) => reached), pairs.map(([, expected]) => expected), GIVEN.fixture);
  return [{ problem: "Satterthwaite's degrees of freedom, all models above", digits, source: 'lmerTest 3.1-3' }];
}

function toleranceRow(): OtherRow[] {
  const table = [[2, 36.519214612060885], [5, 5.076874532059478], [10, 3.3934294787125987], [20, 2.7603461784457153], [30, 2.554892813277697]] as const;
  const reached = table.map(([n]) => twoSidedToleranceFactor({ effectiveCount: n, share: 0.95, confidence: 0.95, degreesOfFreedom: n - 1 }));
  return [{ problem: 'Two-sided tolerance factors 95/95, n = 2 to 30', digits: fewestDigits(reached, table.map(([, k]) => k), 15), source: 'the same integral by SciPy 1.10' }];
}

interface MetaFit {
  readonly method: TauMethod;
  readonly test: string;
  readonly mu: number;
  readonly se: number;
  readonly tau2: number;
  readonly I2: number;
  readonly Q: number;
}

function summaryRows(): OtherRow[] {
  const url = new URL('../fixtures/pooling/pooling.json', import.meta.url);
  const { data, fits } = (JSON.parse(readFileSync(url, 'utf8')) as { meta: { bcg: { data: { yi: number[]; vi: number[] }; fits: MetaFit[] } } }).meta.bcg;
  const groups = data.yi.map((estimate, i) => ({ label: String(i), estimate, standardError: Math.sqrt(data.vi[i]!) }));
  return fits
    .filter((fit) => fit.test === 'adhoc')
    .map((fit) => {
      const got = summariseGroups(groups, { tauMethod: fit.method });
      const reached = [got.mean, got.standardError, got.tauSquared, 100 * got.iSquared, got.q];
      return {
        problem: `Random-effects summary of 13 BCG trials, ${fit.method}`,
        digits: fewestDigits(reached, [fit.mu, fit.se, fit.tau2, fit.I2, fit.Q], GIVEN.fixture),
        source: 'metafor 3.8-1 on dat.bcg (Colditz et al. 1994)',
      };
    });
}
