import { element, requireSymmetric, symmetricEigen, type Matrix } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { partialDerivative, type Model } from './derivative.js';
import { coverageFactor, covarianceFromCorrelations, positionsByName, type Correlation, type UncertainValue, type UncertaintySource } from './source.js';

/** What {@link propagate} works on. */
export interface Measurement {
  readonly sources: readonly UncertaintySource[];
  readonly model: Model;
  /** Sensitivity coefficients ∂model/∂xᵢ in the order of the sources, where they are known; otherwise found by differences. */
  readonly sensitivities?: readonly number[];
  /** Correlation coefficients of the pairs that have one; not together with `covariance`. */
  readonly correlations?: readonly Correlation[];
  /** Covariance matrix of all sources in their order, its diagonal the squares of their standard uncertainties. */
  readonly covariance?: Matrix;
}

/** One source and its part in the result. */
export interface UncertaintyLine {
  readonly name: string;
  readonly value: number;
  readonly standardUncertainty: number;
  readonly degreesOfFreedom: number;
  readonly distribution: UncertaintySource['distribution']['kind'];
  readonly evaluation: UncertaintySource['evaluation'];
  /** ∂model/∂x, in units of the output per unit of the source. */
  readonly sensitivity: number;
  /** sensitivity · u, with its sign, in the unit of the output. */
  readonly contribution: number;
  /** contribution² over the variance of the output: the part this source would have if it were correlated with no other. */
  readonly share: number;
  /** `share` plus half of what each of its correlations adds or takes: these parts, too, sum to 1 over all sources. */
  readonly shareWithCorrelations: number;
}

/** What the correlation of two sources adds to the variance (or takes from it). */
export interface CorrelationLine {
  readonly first: string;
  readonly second: string;
  readonly coefficient: number;
  /** 2·c₁·c₂·u(x₁, x₂) over the variance of the output; below zero where the correlation helps. */
  readonly share: number;
}

/** A measurement result with where its uncertainty comes from. The shares of `lines` and of `correlations` together sum to 1. */
export interface UncertaintyBudget extends UncertainValue {
  readonly lines: readonly UncertaintyLine[];
  readonly correlations: readonly CorrelationLine[];
  /** What a reader must know about how the figures were got; empty where all went by the book. */
  readonly notes: readonly string[];
}

/**
 * The law of propagation of uncertainty: u² = Σᵢ Σⱼ cᵢ cⱼ u(xᵢ, xⱼ), with the Welch-Satterthwaite effective degrees of freedom.
 *
 * Correlated sources enter the degrees of freedom as one: a group of sources tied by correlations counts with the variance that it gives
 * together and with its degrees of freedom (R. Willink, Metrologia 44 (2007) 340-349, from memory); where those differ within a group, the
 * fewest are taken and a note says so. Shapes: `sensitivities` as long as `sources`, `covariance` n × n. Errors: `NO_SOURCES`,
 * `REPEATED_NAME`, `SHAPE`, `NOT_FINITE`, `MODEL_NOT_FINITE`, `UNKNOWN_SOURCE`, `CORRELATION`, `NOT_SYMMETRIC`, `COVARIANCE_MISMATCH`,
 * `COVARIANCE_NOT_POSSIBLE`, `NO_UNCERTAINTY`. Source: JCGM 100:2008, 5.1.2, 5.2.2, G.4.1.
 *
 * @example
 * const budget = propagate({
 *   sources: [normalSource('turgid', 70, 0.3), normalSource('dry', 10, 0.4)],
 *   model: ([turgid, dry]) => turgid - dry,
 * });
 * [budget.value, budget.standardUncertainty] // => [60, 0.5]
 * budget.lines.map((line) => Number(line.share.toFixed(9))) // => [0.36, 0.64]
 */
export function propagate(measurement: Measurement): UncertaintyBudget {
  const { sources, model } = measurement;
  if (sources.length === 0) throw new InputError('NO_SOURCES', 'sources', 'there is no source', 'Give the inputs of the model.');
  positionsByName(sources);
  const inputs = sources.map((source) => source.value);
  const value = model(inputs);
  if (!Number.isFinite(value)) throw new InputError('MODEL_NOT_FINITE', 'model', `the model gives ${value} at the input values`, 'Check the input values.');
  const covariance = covarianceOf(measurement);
  const sensitivities = sensitivitiesOf(measurement, inputs);
  const contributions = sources.map((source, i) => sensitivities[i]! * source.standardUncertainty);
  const correlated = correlationTerms(sources, sensitivities, covariance);
  const variance = contributions.reduce((sum, c) => sum + c * c, 0) + correlated.reduce((sum, term) => sum + term.amount, 0);
  // Perfect correlations may cancel to a rounding error below zero; that is no variance.
  if (!(variance > 1e-15 * contributions.reduce((sum, c) => sum + c * c, 0))) {
    throw new InputError(
      'NO_UNCERTAINTY',
      'sources',
      'to first order the result has no uncertainty',
      'Add the missing sources; where the model is stationary at these values, use Monte Carlo.',
    );
  }
  const notes: string[] = [];
  return {
    value,
    standardUncertainty: Math.sqrt(variance),
    degreesOfFreedom: effectiveDegreesOfFreedom(sources, contributions, correlated, variance, notes),
    lines: sources.map((source, i) => ({
      name: source.name,
      value: source.value,
      standardUncertainty: source.standardUncertainty,
      degreesOfFreedom: source.degreesOfFreedom,
      distribution: source.distribution.kind,
      evaluation: source.evaluation,
      sensitivity: sensitivities[i]!,
      contribution: contributions[i]!,
      share: contributions[i]! ** 2 / variance,
      shareWithCorrelations:
        (contributions[i]! ** 2 + correlated.reduce((sum, term) => sum + (term.i === i || term.j === i ? term.amount / 2 : 0), 0)) / variance,
    })),
    correlations: correlated.map(({ i, j, coefficient, amount }) => ({
      first: sources[i]!.name,
      second: sources[j]!.name,
      coefficient,
      share: amount / variance,
    })),
    notes,
  };
}

/** A result with its expanded uncertainty. */
export interface ExpandedResult extends UncertainValue {
  readonly level: number;
  readonly coverageFactor: number;
  readonly expandedUncertainty: number;
  readonly low: number;
  readonly high: number;
}

/**
 * Expanded uncertainty U = k·u for a level of confidence, k from Student's t with the effective degrees of freedom.
 *
 * `degreesOfFreedomRule`: `as is` uses the real number (G.4.1, note 1: interpolation), `truncate` cuts to the next lower whole number, as the worked
 * examples of the GUM do. Domain: 0 < level < 1; truncating needs at least 1. Errors: `LEVEL`, `DEGREES_OF_FREEDOM`, `NOT_FINITE`, `NOT_POSITIVE`. Source: JCGM 100:2008, G.4.
 *
 * @example
 * expand({ value: 10, standardUncertainty: 2, degreesOfFreedom: 10.6 }, 0.95, 'truncate').coverageFactor // => 2.2281388519649385
 */
export function expand(result: UncertainValue, level: number, degreesOfFreedomRule: 'as is' | 'truncate' = 'as is'): ExpandedResult {
  const { value, standardUncertainty, degreesOfFreedom } = result;
  requireFinite('value', value);
  requirePositive('standardUncertainty', standardUncertainty);
  const k = coverageFactor(level, degreesOfFreedomRule === 'truncate' ? Math.floor(degreesOfFreedom) : degreesOfFreedom);
  const expandedUncertainty = k * standardUncertainty;
  return {
    value,
    standardUncertainty,
    degreesOfFreedom,
    level,
    coverageFactor: k,
    expandedUncertainty,
    low: value - expandedUncertainty,
    high: value + expandedUncertainty,
  };
}

/** The covariance matrix of the sources of a measurement, checked; undefined where no source is correlated. */
export function covarianceOf(measurement: Pick<Measurement, 'sources' | 'correlations' | 'covariance'>): Matrix | undefined {
  const { sources, correlations, covariance } = measurement;
  if (covariance && correlations) {
    throw new InputError('SHAPE', 'covariance', 'covariance and correlations are both given', 'Give one of the two.');
  }
  if (!covariance && !correlations?.length) return undefined;
  const matrix = covariance ?? covarianceFromCorrelations(sources, correlations ?? []);
  requireSymmetric('covariance', matrix);
  if (matrix.rows !== sources.length) {
    throw new InputError('SHAPE', 'covariance', `it has ${matrix.rows} rows for ${sources.length} sources`, 'Give one row for each source.');
  }
  sources.forEach((source, i) => {
    const variance = source.standardUncertainty ** 2;
    if (Math.abs(element(matrix, i, i) - variance) > 1e-9 * variance) {
      throw new InputError(
        'COVARIANCE_MISMATCH',
        `covariance[${i}][${i}]`,
        `it is ${element(matrix, i, i)} where u² of ${source.name} is ${variance}`,
        'Make the diagonal the squares of the standard uncertainties.',
      );
    }
  });
  requirePossible(sources, matrix);
  return matrix;
}

function requirePossible(sources: readonly UncertaintySource[], covariance: Matrix): void {
  const n = sources.length;
  const correlation: Matrix = {
    rows: n,
    cols: n,
    data: covariance.data.map((value, k) => {
      const scale = sources[Math.floor(k / n)]!.standardUncertainty * sources[k % n]!.standardUncertainty;
      return scale > 0 ? value / scale : k % (n + 1) === 0 ? 1 : 0;
    }),
  };
  const smallest = symmetricEigen(correlation).values[n - 1]!;
  if (smallest < -1e-10 * n) {
    throw new InputError(
      'COVARIANCE_NOT_POSSIBLE',
      'covariance',
      `these correlations contradict each other (smallest eigenvalue ${smallest})`,
      'Estimate all of them from the same readings.',
    );
  }
}

function sensitivitiesOf(measurement: Measurement, inputs: readonly number[]): readonly number[] {
  const { sources, model, sensitivities } = measurement;
  if (!sensitivities) {
    return sources.map((source, i) => (source.standardUncertainty === 0 ? exactInputSensitivity(model, inputs, i) : partialDerivative(model, inputs, i, source.standardUncertainty).value));
  }
  if (sensitivities.length !== sources.length) {
    throw new InputError('SHAPE', 'sensitivities', `${sensitivities.length} for ${sources.length} sources`, 'Give one for each source.');
  }
  return sensitivities.map((c, i) => requireFinite(`sensitivities[${i}]`, c));
}

/** An exact input contributes nothing; its sensitivity is shown all the same, on the scale of the value itself. */
function exactInputSensitivity(model: Model, inputs: readonly number[], i: number): number {
  return partialDerivative(model, inputs, i, 1e-2 * (Math.abs(inputs[i]!) || 1)).value;
}

interface CorrelationTerm {
  readonly i: number;
  readonly j: number;
  readonly coefficient: number;
  /** 2·cᵢ·cⱼ·u(xᵢ, xⱼ). */
  readonly amount: number;
}

function correlationTerms(sources: readonly UncertaintySource[], sensitivities: readonly number[], covariance: Matrix | undefined): CorrelationTerm[] {
  const terms: CorrelationTerm[] = [];
  if (!covariance) return terms;
  for (let i = 0; i < sources.length; i += 1) {
    for (let j = i + 1; j < sources.length; j += 1) {
      const shared = element(covariance, i, j);
      if (shared === 0) continue;
      const coefficient = shared / (sources[i]!.standardUncertainty * sources[j]!.standardUncertainty);
      terms.push({ i, j, coefficient, amount: 2 * sensitivities[i]! * sensitivities[j]! * shared });
    }
  }
  return terms;
}

/** Welch-Satterthwaite over groups of correlated sources; a source correlated with none is a group of its own. */
function effectiveDegreesOfFreedom(
  sources: readonly UncertaintySource[],
  contributions: readonly number[],
  terms: readonly CorrelationTerm[],
  variance: number,
  notes: string[],
): number {
  const group = sources.map((_, i) => i);
  for (const { i, j } of terms) {
    const [kept, merged] = [group[i]!, group[j]!];
    group.forEach((g, k) => {
      if (g === merged) group[k] = kept;
    });
  }
  let denominator = 0;
  for (const label of new Set(group)) {
    const members = sources.map((_, i) => i).filter((i) => group[i] === label);
    const degrees = members.map((i) => sources[i]!.degreesOfFreedom);
    const fewest = Math.min(...degrees);
    const together =
      members.reduce((sum, i) => sum + contributions[i]! ** 2, 0) +
      terms.reduce((sum, term) => sum + (group[term.i] === label ? term.amount : 0), 0);
    denominator += together ** 2 / fewest;
    if (degrees.some((df) => df !== fewest)) {
      const names = members.map((i) => sources[i]!.name).join(', ');
      notes.push(`Correlated sources with different degrees of freedom (${names}): the fewest, ${fewest}, are taken for all of them.`);
    }
  }
  return variance ** 2 / denominator;
}
