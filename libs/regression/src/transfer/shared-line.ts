import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import type { LeafLine, LeafLineOptions } from '../mixed/leaf-line.js';

/** What a shared calibration must bring along: plain data, fit to be stored and sent. */
export interface SharedLine {
  readonly responseScale: LeafLineOptions['responseScale'];
  readonly originRwc: number;
  readonly intercept: number;
  readonly slope: number;
  /** Of [intercept, slope]. */
  readonly covariance: readonly (readonly number[])[];
  /** Of a leaf's own [intercept] or [intercept, slope] about the line, plants included. */
  readonly leafCovariance: readonly (readonly number[])[];
  readonly residualSd: number;
  readonly leafCount: number;
  readonly rwcRange: { readonly from: number; readonly to: number };
}

/** The part of a fitted line that {@link studyTransfer} takes over. */
export function sharedLineOf(line: LeafLine): SharedLine {
  const size = Math.max(...line.fit.levels.map((level) => level.sd.length));
  const leafCovariance = Array.from({ length: size }, (_, i) =>
    Array.from({ length: size }, (__, j) => line.fit.levels.reduce((sum, level) => sum + (level.covariance[i]?.[j] ?? 0), 0)),
  );
  const { options, intercept, slope, leafCount, rwcRange, fit } = line;
  return { responseScale: options.responseScale, originRwc: options.originRwc, intercept, slope, covariance: fit.fixedCovariance.slice(0, 2).map((row) => row.slice(0, 2)), leafCovariance, residualSd: fit.residualSd, leafCount, rwcRange };
}

/** Throws unless it can be read by: finite, with a slope, two leaves or more, covariances of the right shape. */
export function requireShared(shared: SharedLine): void {
  for (const name of ['originRwc', 'intercept', 'slope'] as const) requireFinite(`shared.${name}`, shared[name]);
  if (shared.slope === 0) throw new InputError('FLAT_LINE', 'shared.slope', 'the shared line has no slope', 'A flat line reads nothing: take another calibration.');
  requirePositive('shared.residualSd', shared.residualSd);
  if (!Number.isInteger(shared.leafCount) || shared.leafCount < 2) {
    throw new InputError('NOT_A_COUNT', 'shared.leafCount', `${shared.leafCount} leaves carry no shared line`, 'Give the leaves that the shared calibration rests on, two or more.');
  }
  requireMatrix('shared.covariance', shared.covariance, [2], ['intercept', 'slope']);
  requireMatrix('shared.leafCovariance', shared.leafCovariance, [1, 2], ['intercept', 'slope']);
}

/** Throws `COVARIANCE_SHAPE` unless it is square, of one of the sizes, and finite. */
export function requireMatrix(field: string, matrix: readonly (readonly number[])[], sizes: readonly number[], order: readonly string[]): void {
  if (!sizes.includes(matrix.length) || matrix.some((row) => row.length !== matrix.length)) {
    throw new InputError('COVARIANCE_SHAPE', field, `has ${matrix.length} rows`, `Give ${sizes.join(' or ')} rows of as many numbers, in the order ${order.join(', ')}.`);
  }
  matrix.forEach((row, i) => row.forEach((value, j) => requireFinite(`${field}[${i}][${j}]`, value)));
}
