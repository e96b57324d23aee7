import { compensatedSum, element, mean, normalQuantile, requireCount, requireDegreesOfFreedom, studentTQuantile, variance, zeros, type Matrix } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { standardDeviationOf, type Distribution } from './distribution.js';

/** A value with its standard uncertainty and how well that is known. */
export interface UncertainValue {
  readonly value: number;
  /** Same unit as `value`. */
  readonly standardUncertainty: number;
  /** Infinity where the uncertainty is taken as known. */
  readonly degreesOfFreedom: number;
}

/** One source of uncertainty: an input quantity of a measurement model. */
export interface UncertaintySource extends UncertainValue {
  readonly name: string;
  /** What a Monte Carlo draw of it follows. */
  readonly distribution: Distribution;
  /** Type A: from repeated readings. Type B: from anything else (JCGM 100:2008, 4.2 and 4.3). */
  readonly evaluation: 'type A' | 'type B';
}

/** How reliable the limits of a type B source are; without it they count as exactly known. */
export interface TypeBOptions {
  /** Degrees of freedom; see {@link degreesOfFreedomFromReliability}. Infinity unless given. */
  readonly degreesOfFreedom?: number;
}

/**
 * Type A: the mean of n independent readings, u = s/√n with n − 1 degrees of freedom; Monte Carlo draws Student's t.
 *
 * Domain: two readings or more, in one unit. Errors: `TOO_FEW_VALUES`, `NOT_FINITE`, `ZERO_SPREAD` where all readings are equal (the
 * resolution of the instrument then hides the scatter). Source: JCGM 100:2008, 4.2.3; JCGM 101:2008, 6.4.9.2.
 *
 * @example
 * typeA('disc mass', [71.2, 71.4, 71.3, 71.3]).standardUncertainty // => 0.040824829046386
 */
export function typeA(name: string, readings: readonly number[]): UncertaintySource {
  const spread = Math.sqrt(variance(readings));
  if (spread === 0) {
    throw new InputError('ZERO_SPREAD', name, `all ${readings.length} readings are equal`, 'Enter the resolution of the instrument as a rectangular source instead.');
  }
  return typeAFromSummary(name, mean(readings), spread / Math.sqrt(readings.length), readings.length - 1);
}

/**
 * Type A from a summary: an estimate with the standard uncertainty of a fit, or of a mean with a pooled standard deviation s_p/√n.
 *
 * Domain: u > 0, degrees of freedom > 0 (Infinity makes it normal). Errors: `NOT_FINITE`, `NOT_POSITIVE`, `DEGREES_OF_FREEDOM`. Source: JCGM
 * 100:2008, 4.2.4.
 *
 * @example
 * typeAFromSummary('comparison', 215, 13 / Math.sqrt(5), 24).standardUncertainty // => 5.813776741499453
 */
export function typeAFromSummary(name: string, value: number, standardUncertainty: number, degreesOfFreedom: number): UncertaintySource {
  requireFinite(name, value);
  requirePositive(name, standardUncertainty);
  requireDegreesOfFreedom(name, degreesOfFreedom);
  const distribution: Distribution =
    degreesOfFreedom === Infinity
      ? { kind: 'normal', centre: value, standardDeviation: standardUncertainty }
      : { kind: 'student', centre: value, scale: standardUncertainty, degreesOfFreedom };
  return { name, value, standardUncertainty, degreesOfFreedom, distribution, evaluation: 'type A' };
}

/**
 * Type B, normal: a standard uncertainty taken from a certificate or from experience. With finite degrees of freedom Monte Carlo draws
 * Student's t (JCGM 101:2008, 6.4.9.7).
 *
 * Errors: `NOT_FINITE`, `NOT_POSITIVE`, `DEGREES_OF_FREEDOM`. Source: JCGM 100:2008, 4.3.3.
 *
 * @example
 * normalSource('reference mass', 100, 0.02).degreesOfFreedom // => Infinity
 */
export function normalSource(name: string, value: number, standardUncertainty: number, options: TypeBOptions = {}): UncertaintySource {
  return { ...typeAFromSummary(name, value, standardUncertainty, options.degreesOfFreedom ?? Infinity), evaluation: 'type B' };
}

/**
 * Type B from an expanded uncertainty: u = U/k. Give either the coverage factor k of the certificate, or its level of confidence, from which k is
 * the quantile of Student's t with its degrees of freedom.
 *
 * Errors: `NOT_POSITIVE`, `LEVEL`, `DEGREES_OF_FREEDOM`. Source: JCGM 100:2008, 4.3.3, 4.3.4 and G.3.
 *
 * @example
 * expandedSource('gauge block', 50.000623, 75e-6, { coverageFactor: 3 }).standardUncertainty // => 25e-6
 */
export function expandedSource(
  name: string,
  value: number,
  expandedUncertainty: number,
  basis: TypeBOptions & ({ readonly coverageFactor: number } | { readonly level: number }),
): UncertaintySource {
  const degreesOfFreedom = basis.degreesOfFreedom ?? Infinity;
  const factor = 'coverageFactor' in basis ? requirePositive(`${name}.coverageFactor`, basis.coverageFactor) : coverageFactor(basis.level, degreesOfFreedom);
  return normalSource(name, value, requirePositive(name, expandedUncertainty) / factor, { degreesOfFreedom });
}

/**
 * k for a two-sided interval at a level of confidence: the (1 + level)/2 quantile of Student's t.
 *
 * Domain: 0 < level < 1; degrees of freedom > 0, Infinity = normal. Errors: `LEVEL`, `DEGREES_OF_FREEDOM`. Source: JCGM 100:2008, G.3.
 *
 * @example
 * coverageFactor(0.95, 10) // => 2.2281388519649385
 */
export function coverageFactor(level: number, degreesOfFreedom: number): number {
  requireLevel(level);
  return degreesOfFreedom === Infinity ? normalQuantile((1 + level) / 2) : studentTQuantile((1 + level) / 2, degreesOfFreedom);
}

/** Throws `LEVEL` unless 0 < level < 1. */
export function requireLevel(level: number): number {
  if (!(level > 0 && level < 1)) {
    throw new InputError('LEVEL', 'level', `expected a level of confidence between 0 and 1, got ${String(level)}`, 'Give a fraction such as 0.95.');
  }
  return level;
}

/**
 * Type B, rectangular: anywhere within ± half-width, equally likely; u = a/√3. A display of step d is such a source with half-width d/2.
 *
 * Errors: `NOT_FINITE`, `NOT_POSITIVE`. Source: JCGM 100:2008, 4.3.7.
 *
 * @example
 * rectangular('display step', 0, 0.05).standardUncertainty // => 0.028867513459481
 */
export function rectangular(name: string, value: number, halfWidth: number, options: TypeBOptions = {}): UncertaintySource {
  return limited(name, { kind: 'rectangular', centre: value, halfWidth }, options);
}

/**
 * Type B, triangular: within ± half-width, values near the centre likelier; u = a/√6.
 *
 * Errors: `NOT_FINITE`, `NOT_POSITIVE`. Source: JCGM 100:2008, 4.3.9 with β = 0.
 *
 * @example
 * triangular('flask volume', 100, 0.1).standardUncertainty // => 0.040824829046386
 */
export function triangular(name: string, value: number, halfWidth: number, options: TypeBOptions = {}): UncertaintySource {
  return limited(name, { kind: 'triangular', centre: value, halfWidth }, options);
}

/**
 * Type B, isosceles trapezoid with a top of `topRatio` times the base; u = a·√((1 + β²)/6).
 *
 * Domain: 0 ≤ topRatio ≤ 1. Errors: `NOT_FINITE`, `NOT_POSITIVE`, `TOP_RATIO`. Source: JCGM 100:2008, 4.3.9.
 *
 * @example
 * trapezoidal('air density', 1.2, 0.1, 0.5).standardUncertainty // => 0.045643546458764
 */
export function trapezoidal(name: string, value: number, halfWidth: number, topRatio: number, options: TypeBOptions = {}): UncertaintySource {
  if (!(topRatio >= 0 && topRatio <= 1)) {
    throw new InputError('TOP_RATIO', name, `the top of a trapezoid is 0 to 1 of its base, got ${String(topRatio)}`, 'Give top width over base width.');
  }
  return limited(name, { kind: 'trapezoidal', centre: value, halfWidth, topRatio }, options);
}

/**
 * Type B, U-shaped: a quantity that swings sinusoidally within ± half-width, such as a thermostat; u = a/√2.
 *
 * Errors: `NOT_FINITE`, `NOT_POSITIVE`. Source: JCGM 101:2008, 6.4.6; JCGM 100:2008, H.1.3.4.
 *
 * @example
 * uShaped('room temperature', 0, 0.5).standardUncertainty // => 0.353553390593274
 */
export function uShaped(name: string, value: number, halfWidth: number, options: TypeBOptions = {}): UncertaintySource {
  return limited(name, { kind: 'u-shaped', centre: value, halfWidth }, options);
}

function limited(name: string, distribution: Exclude<Distribution, { kind: 'constant' }> & { readonly halfWidth: number }, options: TypeBOptions): UncertaintySource {
  requireFinite(name, distribution.centre);
  requirePositive(name, distribution.halfWidth);
  return {
    name,
    value: distribution.centre,
    standardUncertainty: standardDeviationOf(distribution),
    degreesOfFreedom: requireDegreesOfFreedom(name, options.degreesOfFreedom ?? Infinity),
    distribution,
    evaluation: 'type B',
  };
}

/**
 * An input taken as exact; it stays in the budget with no uncertainty, so that a reader sees it was considered.
 *
 * Errors: `NOT_FINITE`.
 *
 * @example
 * constant('nominal length', 50).standardUncertainty // => 0
 */
export function constant(name: string, value: number): UncertaintySource {
  requireFinite(name, value);
  return { name, value, standardUncertainty: 0, degreesOfFreedom: Infinity, distribution: { kind: 'constant', centre: value }, evaluation: 'type B' };
}

/**
 * Degrees of freedom that express how far a standard uncertainty itself may be off: ν = ½(Δu/u)⁻².
 *
 * Domain: relative uncertainty of u above 0, e.g. 0.25 for "reliable to a quarter". Errors: `NOT_POSITIVE`. Source: JCGM 100:2008, G.4.2.
 *
 * @example
 * degreesOfFreedomFromReliability(0.25) // => 8
 */
export function degreesOfFreedomFromReliability(relativeUncertaintyOfU: number): number {
  return 0.5 / requirePositive('relativeUncertaintyOfU', relativeUncertaintyOfU) ** 2;
}

/** Means of quantities that were read together, with the covariance matrix of the means. */
export interface JointSources {
  readonly sources: readonly UncertaintySource[];
  /** Row and column i belong to `sources[i]`. */
  readonly covariance: Matrix;
}

/**
 * Type A for quantities read together n times: means, and the covariance matrix of the means Σ(xᵢ − x̄ᵢ)(xⱼ − x̄ⱼ)/(n(n − 1)).
 *
 * Shapes: `readings[i]` holds the n readings of `names[i]`, in the same order for all. Errors: `SHAPE`, `TOO_FEW_VALUES`, `ZERO_SPREAD`. Source: JCGM
 * 100:2008, 5.2.3 and H.2.
 *
 * @example
 * typeATogether(['a', 'b'], [[1, 2, 3], [2, 4, 6]]).covariance.data[1] // => 0.6666666666666666
 */
export function typeATogether(names: readonly string[], readings: readonly (readonly number[])[]): JointSources {
  const n = requireCount('readings', readings[0]?.length ?? 0, 2);
  if (readings.length !== names.length || readings.some((row) => row.length !== n)) {
    throw new InputError('SHAPE', 'readings', 'every name needs its own row of equally many readings', 'Leave out the readings that are not complete.');
  }
  const sources = names.map((name, i) => typeA(name, readings[i]!));
  const covariance = zeros(names.length, names.length);
  for (let i = 0; i < names.length; i += 1) {
    for (let j = 0; j <= i; j += 1) {
      const products = readings[i]!.map((value, k) => (value - sources[i]!.value) * (readings[j]![k]! - sources[j]!.value));
      const value = i === j ? sources[i]!.standardUncertainty ** 2 : compensatedSum(products) / (n * (n - 1));
      covariance.data[i * names.length + j] = covariance.data[j * names.length + i] = value;
    }
  }
  return { sources, covariance };
}

/**
 * Covariance matrix of sources from the correlation coefficients of some pairs; pairs not named are uncorrelated.
 *
 * Domain: −1 ≤ r ≤ 1, names among the sources, each pair once. Errors: `UNKNOWN_SOURCE`, `CORRELATION`, `REPEATED_NAME`.
 *
 * @example
 * const sources = [normalSource('a', 0, 2), normalSource('b', 0, 3)];
 * covarianceFromCorrelations(sources, [{ first: 'a', second: 'b', coefficient: 0.5 }]).data[1] // => 3
 */
export function covarianceFromCorrelations(sources: readonly UncertaintySource[], correlations: readonly Correlation[]): Matrix {
  const positions = positionsByName(sources);
  const n = sources.length;
  const covariance = zeros(n, n);
  sources.forEach((source, i) => (covariance.data[i * n + i] = source.standardUncertainty ** 2));
  for (const { first, second, coefficient } of correlations) {
    const [i, j] = [first, second].map((name) => {
      const position = positions.get(name);
      if (position === undefined) throw new InputError('UNKNOWN_SOURCE', 'correlations', `no source is called "${name}"`, 'Use the name of a source.');
      return position;
    }) as [number, number];
    if (i === j || element(covariance, i, j) !== 0 || !(Math.abs(coefficient) <= 1)) {
      throw new InputError('CORRELATION', `correlations(${first}, ${second})`, `expected one coefficient from -1 to 1 for two sources, got ${coefficient}`, 'Name each pair once.');
    }
    covariance.data[i * n + j] = covariance.data[j * n + i] = coefficient * sources[i]!.standardUncertainty * sources[j]!.standardUncertainty;
  }
  return covariance;
}

/** A correlation coefficient between two named sources. */
export interface Correlation {
  readonly first: string;
  readonly second: string;
  readonly coefficient: number;
}

/** Where each source stands; throws `REPEATED_NAME` where two share a name. */
export function positionsByName(sources: readonly UncertaintySource[]): Map<string, number> {
  const positions = new Map<string, number>();
  sources.forEach((source, i) => {
    if (positions.has(source.name)) {
      throw new InputError('REPEATED_NAME', `sources[${i}].name`, `two sources are called "${source.name}"`, 'Give each source its own name.');
    }
    positions.set(source.name, i);
  });
  return positions;
}
