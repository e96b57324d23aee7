import { families } from '../families/fit-family.js';
import { fitLeafLine, type LeafLine, type LeafLineOptions, type LeafReading } from '../mixed/leaf-line.js';
import { quadraticForm } from '../mixed/satterthwaite.js';
import { isSharedCurve, type SharedCurve, type SharedFit } from './shared-curve.js';
import type { SharedLine } from './shared-line.js';

/** How far a shared calibration reads off for the average own leaf at one RWC, with the two parts of its variance in points². */
export interface Off {
  readonly rwc: number;
  readonly points: number;
  readonly ownVariance: number;
  readonly sharedVariance: number;
}

/** Two numbers that are zero where own leaves lie on the shared mean, and their covariance. */
export interface Apart {
  readonly difference: readonly [number, number];
  readonly covariance: readonly [number, number, number];
}

/** All that a transfer study asks of a shared calibration, line or curve. */
export interface SharedReader {
  readonly responseScale: LeafLineOptions['responseScale'];
  responseAt(rwc: number): number;
  slopeAt(rwc: number): number;
  /** RWC at a response; where a curve never takes it, along its tangent at `near`. */
  rwcAt(response: number, near: number): number;
  /** Whether the mean takes a response at all. */
  takes(response: number): boolean;
  /** Of the mean, and of one leaf about it, on the scale of the fit. */
  varianceAt(rwc: number): number;
  leafVarianceAt(rwc: number): number;
  /** Own leaves by a straight line in what the shared calibration is straight in: RWC, or for a curve its own response. */
  fitOwn(readings: readonly LeafReading[], leafEffect: 'intercept' | 'intercept-and-slope'): LeafLine;
  off(own: LeafLine, rwc: number): Off;
  /** Own slope over the shared one, and the part of its variance that the shared one adds. */
  slopeRatio(own: LeafLine, range: SharedFit['rwcRange']): { readonly ratio: number; readonly ownVariance: number; readonly sharedVariance: number };
  apart(own: LeafLine, range: SharedFit['rwcRange']): Apart;
}

export const readerOf = (shared: SharedFit): SharedReader => (isSharedCurve(shared) ? curveReader(shared) : lineReader(shared));

function lineReader(shared: SharedLine): SharedReader {
  const { responseScale, originRwc, intercept, slope, covariance, leafCovariance } = shared;
  return {
    responseScale,
    responseAt: (rwc) => intercept + slope * (rwc - originRwc),
    slopeAt: () => slope,
    rwcAt: (response) => originRwc + (response - intercept) / slope,
    takes: () => true,
    varianceAt: (rwc) => quadraticForm([1, rwc - originRwc], covariance),
    leafVarianceAt: (rwc) => quadraticForm(leafCovariance.length === 1 ? [1] : [1, rwc - originRwc], leafCovariance),
    fitOwn: (readings, leafEffect) => fitLeafLine(readings, { method: 'REML', leafEffect, responseScale, originRwc }),
    off(own, rwc) {
      // ∂δ/∂(a_o, c_o) = (1, x)/c_s, ∂δ/∂(a_s, c_s) = −(1, x̂)/c_s with x̂ = x + δ; x from the origin.
      const x = rwc - originRwc;
      const off = (own.intercept - intercept + (own.slope - slope) * x) / slope;
      const perPoint = 100 / slope;
      return {
        rwc,
        points: 100 * off,
        ownVariance: perPoint * perPoint * quadraticForm([1, x], own.fit.fixedCovariance),
        sharedVariance: perPoint * perPoint * quadraticForm([1, x + off], covariance),
      };
    },
    slopeRatio(own) {
      const ratio = own.slope / slope;
      return { ratio, ownVariance: own.fit.fixedCovariance[1]![1]! / slope ** 2, sharedVariance: (ratio / slope) ** 2 * covariance[1]![1]! };
    },
    apart(own) {
      const of = (i: number, j: number): number => own.fit.fixedCovariance[i]![j]! + covariance[i]![j]!;
      return { difference: [own.intercept - intercept, own.slope - slope], covariance: [of(0, 0), of(0, 1), of(1, 1)] };
    },
  };
}

/** Own leaves as α + β·g(x): β is the ratio of the slopes wherever one looks, and own leaves need not show every bend of the shared curve. */
function curveReader({ family, parameters, covariance, leafCovariance }: SharedCurve): SharedReader {
  const shape = families[family];
  const relative = shape.errorScale === 'relative';
  const unit = (rwc: number): number => (relative ? 1 / shape.predict(parameters, rwc) : 1);
  const responseAt = (rwc: number): number => (relative ? Math.log(shape.predict(parameters, rwc)) : shape.predict(parameters, rwc));
  const slopeAt = (rwc: number): number => shape.slope(parameters, rwc) * unit(rwc);
  const gradientAt = (rwc: number): number[] => shape.gradient(parameters, rwc).map((d) => d * unit(rwc));
  const inverse = (response: number): number | null => shape.inverse(parameters, relative ? Math.exp(response) : response);
  const rwcAt = (response: number, near: number): number => inverse(response) ?? near + (response - responseAt(near)) / slopeAt(near);
  const ownAt = (own: LeafLine, rwc: number): number => own.intercept + own.slope * responseAt(rwc);
  const bilinear = (a: readonly number[], matrix: readonly (readonly number[])[], b: readonly number[]): number =>
    a.reduce((sum, ai, i) => sum + b.reduce((inner, bj, j) => inner + ai * matrix[i]![j]! * bj, 0), 0);
  return {
    responseScale: relative ? 'ln-transmittance' : 'transmittance',
    responseAt, slopeAt, rwcAt,
    takes: (response) => inverse(response) !== null,
    varianceAt: (rwc) => quadraticForm(gradientAt(rwc), covariance),
    leafVarianceAt: (rwc) => quadraticForm(leafCovariance.length === 1 ? [1] : [1, shape.line!.predictor(rwc)], leafCovariance),
    fitOwn: (readings, leafEffect) => fitLeafLine(readings.map((reading) => ({ ...reading, rwc: responseAt(reading.rwc) })), { method: 'REML', leafEffect, responseScale: relative ? 'ln-transmittance' : 'transmittance' }),
    off(own, rwc) {
      const response = ownAt(own, rwc);
      const read = rwcAt(response, rwc);
      const at = inverse(response) === null ? rwc : read;
      const perPoint = 100 / slopeAt(at);
      return {
        rwc,
        points: 100 * (read - rwc),
        ownVariance: perPoint * perPoint * quadraticForm([1, responseAt(rwc)], own.fit.fixedCovariance),
        sharedVariance: perPoint * perPoint * quadraticForm(gradientAt(at), covariance),
      };
    },
    slopeRatio(own, { from, to }) {
      const middle = (from + to) / 2;
      // Of ln |slope| at the middle, whatever the scale: ∂ ln |g′|/∂θ.
      const slopes = shape.slopeGradient(parameters, middle).map((d, k) => d / shape.slope(parameters, middle) - (relative ? gradientAt(middle)[k]! : 0));
      return { ratio: own.slope, ownVariance: own.fit.fixedCovariance[1]![1]!, sharedVariance: own.slope ** 2 * quadraticForm(slopes, covariance) };
    },
    // At both ends of the range: two numbers that say all of a line, and of a curve where it would show.
    apart(own, range) {
      const ends = [range.from, range.to] as const;
      const of = (a: number, b: number): number => bilinear([1, responseAt(a)], own.fit.fixedCovariance, [1, responseAt(b)]) + bilinear(gradientAt(a), covariance, gradientAt(b));
      return { difference: [ownAt(own, ends[0]) - responseAt(ends[0]), ownAt(own, ends[1]) - responseAt(ends[1])], covariance: [of(ends[0], ends[0]), of(ends[0], ends[1]), of(ends[1], ends[1])] };
    },
  };
}
