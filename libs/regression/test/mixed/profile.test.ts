import { fitMixedModel, profileVariances } from '#libs/regression';
import { fixture, modelOf } from './fixture.js';

// lme4's profile is interpolated by splines between profiled points, which limits it to about 4 digits.
const TOLERANCE = 2e-4;

function expectProfile(name: string, terms: readonly (readonly [level: string, term: string | undefined, lme4Name: string])[]): void {
  const reference = fixture.fits[name]!.ML.profile!;
  const found = profileVariances({ ...modelOf(name), method: 'ML' });
  for (const [level, term, lme4Name] of terms) {
    const i = reference.names.indexOf(lme4Name);
    const interval = found.find((candidate) => candidate.level === level && candidate.term === term)!;
    expect(Math.abs(interval.lower / reference.lower[i]! - 1)).toBeLessThan(TOLERANCE);
    expect(Math.abs(interval.upper / reference.upper[i]! - 1)).toBeLessThan(TOLERANCE);
  }
}

// Reference: lme4 1.1-31 confint(profile()), by ML (fixtures/mixed/make-fixtures.R).
describe('profile intervals as lme4 has them', () => {
  test('one level', () => expectProfile('dyestuff', [['Batch', 'intercept', '.sig01'], ['residual', undefined, '.sigma']]));

  test('intercept and slope', () =>
    expectProfile('sleepstudy', [['Subject', 'intercept', '.sig01'], ['Subject', 'Days', '.sig03'], ['residual', undefined, '.sigma']]));

  test('three nested levels', () =>
    expectProfile('nested', [
      ['disc', 'intercept', '.sig01'],
      ['leaf', 'intercept', '.sig02'],
      ['plant', 'intercept', '.sig03'],
      ['residual', undefined, '.sigma'],
    ]));

  // Bates, lme4: Mixed-effects Modeling with R (draft, 2010), 1.5: .sig01 12.197 to 84.063, .sigma 38.230 to 67.658 (from memory).
  test('Dyestuff as printed', () => {
    const [batch, residual] = profileVariances({ ...modelOf('dyestuff'), method: 'ML' });
    expect([batch!.lower, batch!.upper, residual!.lower, residual!.upper].map((end) => end.toFixed(2))).toEqual(['12.20', '84.06', '38.23', '67.66']);
  });
});

test('a variance estimated as zero has the lower end zero and a finite upper one, by REML too', () => {
  for (const method of ['REML', 'ML'] as const) {
    const [batch] = profileVariances({ ...modelOf('dyestuff2'), method });
    expect(batch!.sd).toBe(0);
    expect(batch!.lower).toBe(0);
    expect(batch!.upper).toBeGreaterThan(1);
    expect(batch!.upper).toBeLessThan(4);
  }
});

test('estimates lie inside and agree with the fit, whatever the order of the terms', () => {
  const model = { ...modelOf('leaves'), method: 'REML' as const };
  const fit = fitMixedModel(model);
  const [intercept, slope, residual] = profileVariances(model);
  expect(intercept!.sd).toBeCloseTo(fit.levels[0]!.sd[0]!, 8);
  expect(slope!.sd).toBeCloseTo(fit.levels[0]!.sd[1]!, 8);
  expect(residual!.sd).toBeCloseTo(fit.residualSd, 9);
  for (const { lower, sd, upper } of [intercept!, slope!, residual!]) {
    expect(lower).toBeLessThan(sd);
    expect(upper).toBeGreaterThan(sd);
  }
});

test('a level that is not a fraction is refused', () => {
  expect(() => profileVariances({ ...modelOf('rail'), method: 'REML' }, 95)).toThrow('level: expected a number between 0 and 1');
});
