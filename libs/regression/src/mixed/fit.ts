import { studentTSurvival } from '#libs/numeric';
import { foldInwards } from './criterion.js';
import { reduceModel, type DesignLevel } from './design.js';
import { fixedDegrees } from './satterthwaite.js';
import type { GroupEffect, LevelVariation, MixedFit } from './mixed-fit.js';
import type { MixedModelInput, RandomLevel } from './model.js';
import { residualDegrees, searchFactors, type FactorSearch } from './search.js';
import { covarianceOfFixed, knowVariances, toCoefficients } from './variance-knowledge.js';

/**
 * Fits a linear mixed model with nested groups by REML or ML.
 *
 * y = X·β + Σ_levels Z·b + e, b ~ N(0, Σ_level), e ~ N(0, σ²). The deviance, with β and σ profiled out, is minimised over the relative
 * factors Λ (Σ = σ²ΛΛᵀ); a variance whose best value is zero comes back as exactly 0, with a note. Standard errors of the fixed
 * effects treat the variances as known; their t ratios use Satterthwaite's degrees of freedom (not Kenward-Roger's).
 *
 * Shapes: n readings, p fixed terms, any number of nested levels with one or more terms each. Units: those of the response and terms.
 * AICc uses n readings for ML and n − p for REML. Domain: each level needs at least two groups and replicates inside its groups.
 * Cost: linear in the number of groups after one pass over the readings.
 * Errors: `UNKNOWN_METHOD`, `NO_FIXED_TERM`, `NO_RANDOM_LEVEL`, `NO_RANDOM_TERM`, `LENGTHS_DIFFER`, `NOT_FINITE`, `ZERO_TERM`,
 * `REPEATED_TERM`, `TOO_FEW_GROUPS`, `NO_REPLICATES`, `TOO_FEW_POINTS`, `SINGULAR_DESIGN`, `NO_RESIDUAL_VARIATION`.
 * Source: J. C. Pinheiro and D. M. Bates, Mixed-Effects Models in S and S-PLUS (2000), ch. 2; D. Bates et al., J. Stat. Softw. 67
 * (2015) 1. Checked against lme4, nlme and lmerTest.
 *
 * @example
 * const fit = fitMixedModel({
 *   response: [55, 53, 54, 26, 37, 32, 78, 91, 85, 92, 100, 96, 49, 51, 50, 80, 85, 83],
 *   fixed: [interceptTerm(18)],
 *   levels: [{ name: 'rail', groups: [...'111222333444555666'], terms: [interceptTerm(18)], covariance: 'full' }],
 *   method: 'REML',
 * });
 * [fit.levels[0].sd[0].toFixed(5), fit.residualSd.toFixed(6), fit.fixed[0].standardError.toFixed(5)] // => ['24.80547', '4.020779', '10.17104']
 */
export function fitMixedModel(input: MixedModelInput): MixedFit {
  const search = searchFactors(reduceModel(input));
  const { criterion, minimum } = search;
  const { design } = criterion;
  const df = residualDegrees(design);
  const sigma2 = criterion.residualSum / df;
  const estimates = toCoefficients(criterion, criterion.coefficients.map((value, i) => value + design.projected[i]!));
  const fixedCovariance = covarianceOfFixed(criterion, sigma2);
  const levels = describeLevels(input.levels, search, sigma2);
  const variances = knowVariances(search, fixedCovariance);
  const fitted = fittedValues(input, estimates, levels, design.innermost);
  const parameterCount = design.fixedCount + design.entries.length + 1;
  const deviance = minimum.value;
  const aic = deviance + 2 * parameterCount;
  const spare = df - parameterCount - 1;
  const total = sigma2 + levels.reduce((sum, level) => sum + level.meanVariance, 0);
  return {
    method: input.method,
    observationCount: design.observationCount,
    fixed: estimates.map((estimate, i) => {
      const standardError = Math.sqrt(fixedCovariance[i]![i]!);
      const degreesOfFreedom = fixedDegrees(fixedCovariance, variances, i);
      const tRatio = estimate / standardError;
      const pValue = 2 * studentTSurvival(Math.abs(tRatio), degreesOfFreedom);
      return { name: input.fixed[i]!.name, estimate, standardError, degreesOfFreedom, tRatio, pValue };
    }),
    fixedCovariance,
    levels: levels.map(({ variation, meanVariance }) => ({ ...variation, share: meanVariance / total })),
    residualSd: Math.sqrt(sigma2),
    logLikelihood: -deviance / 2,
    deviance,
    parameterCount,
    aic,
    aicc: spare > 0 ? aic + (2 * parameterCount * (parameterCount + 1)) / spare : null,
    residualShare: sigma2 / total,
    fitted,
    residuals: fitted.map((value, i) => input.response[i]! - value),
    variances,
    convergence: {
      converged: minimum.converged,
      reason: minimum.reason,
      iterations: minimum.iterations,
      evaluations: search.evaluations,
      gradient: Math.max(0, ...minimum.gradient.filter((_, k) => !search.atZero[k]).map(Math.abs)),
    },
    notes: notesOn(levels.map(({ variation }) => variation), minimum.converged, variances.flatDirections),
  };
}

interface DescribedLevel {
  readonly variation: LevelVariation;
  /** zᵀΣz averaged over the readings. */
  readonly meanVariance: number;
}

function describeLevels(inputs: readonly RandomLevel[], { criterion, atZero }: FactorSearch, sigma2: number): DescribedLevel[] {
  const { design } = criterion;
  const relative = design.levels.map((level, l) => relativeCovariance(criterion.factors[l]!, level.size));
  const groups: GroupEffect[][] = design.levels.map(() => []);
  foldInwards(criterion, (l, group, _rows, within, v) => {
    const level = design.levels[l]!;
    groups[l]!.push(predictGroup(level, level.groupPaths[group]!, relative[l]!, within, v, sigma2));
  });
  return design.levels
    .map((level, l): DescribedLevel => {
      const unit = (i: number) => 1 / level.scales[i]!;
      const q = level.size;
      const covariance = square(q, (i, j) => sigma2 * relative[l]![i * q + j]! * unit(i) * unit(j));
      const sd = covariance.map((row, i) => Math.sqrt(row[i]!));
      const terms = inputs[design.levels.length - 1 - l]!.terms;
      const meanVariance = average(terms[0]!.values.map((_, r) => quadratic(terms.map((term) => term.values[r]!), covariance)));
      return {
        meanVariance,
        variation: {
          name: level.name,
          termNames: level.termNames,
          groupCount: level.groupPaths.length,
          covariance,
          sd,
          correlation: correlationOf(covariance, sd),
          relativeFactor: square(q, (i, j) => criterion.factors[l]![i * q + j]! * unit(i)),
          share: 0,
          atBoundary: design.entries.some((entry, k) => entry.level === l && atZero[k]),
          groups: groups[l]!,
        },
      };
    })
    .reverse();
}

function correlationOf(covariance: readonly (readonly number[])[], sd: readonly number[]): (number | null)[][] {
  return covariance.map((row, i) =>
    row.map((value, j) => {
      if (sd[i] === 0 || sd[j] === 0) return null;
      return i === j ? 1 : value / (sd[i]! * sd[j]!);
    }),
  );
}

function relativeCovariance(lambda: Float64Array, q: number): Float64Array {
  const product = new Float64Array(q * q);
  for (let i = 0; i < q; i += 1) {
    for (let j = 0; j < q; j += 1) {
      for (let k = 0; k <= Math.min(i, j); k += 1) product[i * q + j]! += lambda[i * q + k]! * lambda[j * q + k]!;
    }
  }
  return product;
}

/** b = ΛΛᵀ·v and its conditional covariance σ²(ΛΛᵀ − ΛΛᵀ·D·ΛΛᵀ), back in the units of the terms. */
function predictGroup(level: DesignLevel, path: readonly string[], relative: Float64Array, within: Float64Array, v: Float64Array, sigma2: number): GroupEffect {
  const q = level.size;
  const unit = (i: number) => 1 / level.scales[i]!;
  const at = (i: number, j: number) => relative[i * q + j]!;
  const effects = Array.from({ length: q }, (_, i) => unit(i) * v.reduce((sum, value, k) => sum + at(i, k) * value, 0));
  const conditional = square(q, (i, j) => {
    let removed = 0;
    for (let a = 0; a < q; a += 1) for (let b = 0; b < q; b += 1) removed += at(i, a) * within[a * q + b]! * at(b, j);
    return sigma2 * (at(i, j) - removed) * unit(i) * unit(j);
  });
  // A difference of like numbers may come out a rounding below zero.
  const conditionalVariance = conditional.map((row, i) => Math.max(0, row[i]!));
  return {
    path,
    effects,
    conditionalSd: conditionalVariance.map(Math.sqrt),
    conditionalCovariance: conditional,
    reliability: conditionalVariance.map((value, i) => (at(i, i) > 0 ? 1 - value / (sigma2 * at(i, i) * unit(i) ** 2) : 0)),
  };
}

function fittedValues(input: MixedModelInput, estimates: readonly number[], levels: readonly DescribedLevel[], innermost: Int32Array): number[] {
  const known = levels.map(({ variation }) => new Map(variation.groups.map((group) => [JSON.stringify(group.path), group.effects])));
  const deepest = levels[levels.length - 1]!.variation.groups;
  const effectsOf = deepest.map(({ path }) => levels.map((_, l) => known[l]!.get(JSON.stringify(path.slice(0, l + 1)))!));
  return input.response.map((_, i) => {
    let value = estimates.reduce((sum, estimate, j) => sum + estimate * input.fixed[j]!.values[i]!, 0);
    input.levels.forEach((level, l) => {
      const effects = effectsOf[innermost[i]!]![l]!;
      level.terms.forEach((term, t) => (value += effects[t]! * term.values[i]!));
    });
    return value;
  });
}

function notesOn(levels: readonly LevelVariation[], converged: boolean, flatDirections: number): string[] {
  const notes: string[] = [];
  for (const level of levels) {
    level.sd.forEach((sd, i) => {
      if (sd === 0) {
        notes.push(
          `The variance of ${level.termNames[i]} between groups of ${level.name} is estimated as exactly 0: the groups differ no more than their ` +
            'residual variation explains. That is not proof that they do not differ.',
        );
      }
    });
    if (level.atBoundary && level.sd.every((sd) => sd > 0)) {
      notes.push(
        `The random terms of ${level.name} are estimated as perfectly correlated: the groups are too few, or the readings too noisy, to tell ` +
          'them apart. Consider fewer random terms.',
      );
    }
  }
  if (flatDirections > 0) {
    notes.push('The readings cannot tell all the variances apart: there are too few groups for so many random terms. Degrees of freedom are too high; leave a term out.');
  }
  if (!converged) notes.push('The search for the variances did not converge: do not use this fit.');
  return notes;
}

function square(size: number, value: (i: number, j: number) => number): number[][] {
  return Array.from({ length: size }, (_, i) => Array.from({ length: size }, (__, j) => value(i, j)));
}

function quadratic(z: readonly number[], matrix: readonly (readonly number[])[]): number {
  return z.reduce((sum, zi, i) => sum + z.reduce((inner, zj, j) => inner + zi * matrix[i]![j]! * zj, 0), 0);
}

function average(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
