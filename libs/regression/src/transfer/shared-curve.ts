import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { families } from '../families/fit-family.js';
import type { CurveFamily, LeafCurve } from '../mixed/leaf-curve.js';
import type { LeafFit } from '../mixed/leaf-fit.js';
import { requireMatrix, requireShared, sharedLineOf, type SharedLine } from './shared-line.js';

/** What a shared calibration that is a curve must bring along: plain data, fit to be stored and sent. */
export interface SharedCurve {
  readonly family: CurveFamily;
  /** In the order of the family's `parameterNames`. */
  readonly parameters: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  /** Of a leaf's own height, or height and slope in the family's predictor, about the curve on the family's own scale. */
  readonly leafCovariance: readonly (readonly number[])[];
  readonly residualSd: number;
  readonly leafCount: number;
  readonly rwcRange: { readonly from: number; readonly to: number };
}

/** A shared calibration of whatever family. */
export type SharedFit = SharedLine | SharedCurve;

export const isSharedCurve = (shared: SharedFit): shared is SharedCurve => 'family' in shared;

/** The part of a fit with leaf effects that {@link studyTransfer} takes over. */
export function sharedFitOf(fit: LeafFit): SharedFit {
  return 'family' in fit ? sharedCurveOf(fit) : sharedLineOf(fit);
}

function sharedCurveOf({ family, parameters, leafCount, rwcRange, fit }: LeafCurve): SharedCurve {
  const p = parameters.length;
  return {
    family, parameters, covariance: fit.fixedCovariance.slice(0, p).map((row) => row.slice(0, p)), leafCovariance: fit.levels[0]!.covariance,
    residualSd: fit.residualSd, leafCount, rwcRange,
  };
}

/** Throws unless it can be read by; see {@link requireShared} for a line. */
export function requireSharedFit(shared: SharedFit): void {
  if (!isSharedCurve(shared)) return requireShared(shared);
  const { parameterNames, line } = families[shared.family];
  if (shared.parameters.length !== parameterNames.length) {
    throw new InputError('LENGTHS_DIFFER', 'shared.parameters', `has ${shared.parameters.length} numbers where the family has ${parameterNames.length}`, `Give ${parameterNames.join(', ')}.`);
  }
  shared.parameters.forEach((value, i) => requireFinite(`shared.parameters[${i}]`, value));
  requirePositive('shared.residualSd', shared.residualSd);
  if (!Number.isInteger(shared.leafCount) || shared.leafCount < 2) {
    throw new InputError('NOT_A_COUNT', 'shared.leafCount', `${shared.leafCount} leaves carry no shared curve`, 'Give the leaves that the shared calibration rests on, two or more.');
  }
  requireMatrix('shared.covariance', shared.covariance, [parameterNames.length], parameterNames);
  requireMatrix('shared.leafCovariance', shared.leafCovariance, line === null ? [1] : [1, 2], ['height', 'slope']);
}
