import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fitLeafCurve, type CurveFamily, type LeafCurve, type LeafReading, type MixedMethod } from '#libs/regression';

/** One fit as make-curves.R writes it. */
export interface CurveReference {
  readonly beta: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  readonly leafSd: number | readonly number[];
  readonly sigma: number;
  readonly logLik: number;
  readonly leaves: readonly string[];
  readonly effects: readonly (readonly number[])[];
}

const fixture = JSON.parse(readFileSync(join(import.meta.dirname, '../fixtures/mixed/curves.json'), 'utf8')) as {
  readonly data: Readonly<Record<string, { readonly leaf: readonly string[]; readonly x: readonly number[]; readonly y: readonly number[] }>>;
  readonly fits: Readonly<Record<string, Readonly<Record<MixedMethod, CurveReference>>>>;
};

export const curveReadings = (set: string): LeafReading[] => fixture.data[set]!.leaf.map((leafId, i) => ({ leafId, rwc: fixture.data[set]!.x[i]!, transmittance: fixture.data[set]!.y[i]! }));

const FAMILY: Readonly<Record<string, CurveFamily>> = { indometh: 'exponential', dnase: 'logistic', floor: 'exponential', uneven: 'logistic', noFloor: 'exponential', power: 'power', powerSlope: 'power' };

export const CURVE_SETS = Object.keys(FAMILY);

export const curveReference = (set: string, method: MixedMethod): CurveReference => fixture.fits[set]![method];

export const curveOf = (set: string, method: MixedMethod): LeafCurve =>
  fitLeafCurve(FAMILY[set]!, curveReadings(set), { method, leafEffect: set === 'powerSlope' ? 'intercept-and-slope' : 'intercept' });
