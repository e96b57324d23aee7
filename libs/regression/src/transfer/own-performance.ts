import { fQuantile, regularizedBeta, studentTQuantile } from '#libs/numeric';
import { requireFinite, requirePositive } from '#libs/quantity';
import { responseOf, transmittanceOf, type LeafReading } from '../mixed/leaf-line.js';
import { isSharedCurve, type SharedFit } from './shared-curve.js';
import { readerOf } from './shared-reader.js';

/** One own leaf as the shared line reads it. */
export interface OwnLeaf {
  readonly plantId: string | null;
  readonly leafId: string;
  readonly readings: number;
  /** Mean of read less true, in points of RWC. */
  readonly biasPoints: number;
  readonly rmsPoints: number;
  /** Half of what the shared calibration promises for the mean of as many readings of one new leaf, in points. */
  readonly promisedHalfWidthPoints: number;
  readonly inside: boolean;
}

/** What the shared calibration did on own leaves, without any model of them. The leaf is the unit. */
export interface OwnPerformance {
  readonly leaves: readonly OwnLeaf[];
  /** Mean over leaves of read less true, in points, with its t interval (leaves − 1); null with one leaf. */
  readonly biasPoints: number;
  readonly biasInterval: { readonly lower: number; readonly upper: number } | null;
  /** Of single readings, in points. */
  readonly rmsPoints: number;
  /** Leaves whose mean lies in the shared calibration's own interval for a new leaf. */
  readonly coverage: {
    readonly inside: number;
    readonly of: number;
    readonly level: number;
    /** Clopper-Pearson, 95 %, of the share inside. */
    readonly interval: { readonly lower: number; readonly upper: number };
    /** Chance of so few inside if the promise held. */
    readonly pValue: number;
  };
}

/** Reads own leaves by the shared line and compares with what is known of them, and with what the line promised. */
export function ownPerformance(shared: SharedFit, readings: readonly LeafReading[], level: number): OwnPerformance {
  const reader = readerOf(shared);
  const groups = new Map<string, Read[]>();
  readings.forEach((reading, i) => {
    const rwc = (isSharedCurve(shared) && shared.family === 'power' ? requirePositive : requireFinite)(`readings[${i}].rwc`, reading.rwc);
    const response = responseOf(reader.responseScale, reading.transmittance, `readings[${i}].transmittance`);
    const off = reader.rwcAt(response, rwc) - rwc;
    const miss = response - reader.responseAt(rwc);
    const key = JSON.stringify([reading.plantId ?? null, reading.leafId]);
    groups.set(key, [...(groups.get(key) ?? []), { reading, off, miss, rwc }]);
  });
  const leaves = [...groups.values()].map((own) => ownLeaf(shared, own, level));
  const biases = leaves.map((leaf) => leaf.biasPoints);
  const n = leaves.length;
  const biasPoints = meanOf(biases);
  const half = n < 2 ? null : studentTQuantile((1 + level) / 2, n - 1) * Math.sqrt(biases.reduce((sum, bias) => sum + (bias - biasPoints) ** 2, 0) / (n - 1) / n);
  const inside = leaves.filter((leaf) => leaf.inside).length;
  return {
    leaves, biasPoints,
    biasInterval: half === null ? null : { lower: biasPoints - half, upper: biasPoints + half },
    rmsPoints: 100 * Math.sqrt(meanOf([...groups.values()].flat().map(({ off }) => off * off))),
    coverage: { inside, of: n, level, interval: clopperPearson(inside, n), pValue: chanceOfSoFew(inside, n, level) },
  };
}

/** One own reading: what it reads too much, as RWC and on the scale of the fit. */
interface Read {
  readonly reading: LeafReading;
  readonly off: number;
  readonly miss: number;
  readonly rwc: number;
}

function ownLeaf(shared: SharedFit, own: readonly Read[], level: number): OwnLeaf {
  const m = own.length;
  const bias = meanOf(own.map(({ off }) => off));
  const rwc = meanOf(own.map((one) => one.rwc));
  const onScale = promisedHalfWidth(shared, rwc, m, level);
  const halfWidth = onScale / Math.abs(readerOf(shared).slopeAt(rwc));
  return {
    plantId: own[0]!.reading.plantId ?? null,
    leafId: own[0]!.reading.leafId,
    readings: m,
    biasPoints: 100 * bias,
    rmsPoints: 100 * Math.sqrt(meanOf(own.map(({ off }) => off * off))),
    promisedHalfWidthPoints: 100 * halfWidth,
    // Of a curve on its own scale, where the promise was made: read backwards it is stretched where the curve is flat.
    inside: isSharedCurve(shared) ? Math.abs(meanOf(own.map(({ miss }) => miss))) <= onScale : Math.abs(bias) <= halfWidth,
  };
}

/** Half of the interval for the mean of m readings of one new leaf, on the scale of the line. */
function promisedHalfWidth(shared: SharedFit, rwc: number, m: number, level: number): number {
  const reader = readerOf(shared);
  const variance = reader.varianceAt(rwc) + reader.leafVarianceAt(rwc) + shared.residualSd ** 2 / m;
  return studentTQuantile((1 + level) / 2, shared.leafCount - 1) * Math.sqrt(variance);
}

/**
 * The shared line at an RWC, and where it promises one reading of one new leaf to lie; transmittances.
 *
 * @example
 * const shared = { responseScale: 'transmittance', originRwc: 0, intercept: 0.5, slope: -0.3, covariance: [[0, 0], [0, 0]], leafCovariance: [[0.0003]], residualSd: 0.01, leafCount: 1e9, rwcRange: { from: 0.5, to: 1 } };
 * const { transmittance, lower, upper } = promisedAt(shared, 0.8, 0.95);
 * [transmittance, lower, upper].map((value) => value.toFixed(3)) // => ['0.260', '0.221', '0.299']
 */
export function promisedAt(shared: SharedFit, rwc: number, level: number): { readonly transmittance: number; readonly lower: number; readonly upper: number } {
  const reader = readerOf(shared);
  const middle = reader.responseAt(rwc);
  const half = promisedHalfWidth(shared, rwc, 1, level);
  const back = (response: number): number => transmittanceOf(reader.responseScale, response);
  return { transmittance: back(middle), lower: back(middle - half), upper: back(middle + half) };
}

/**
 * The share of successes not contradicted at 95 % by k of n. Source: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404, through
 * the quantiles of F.
 *
 * @example
 * clopperPearson(0, 10) // => { lower: 0, upper: 0.30849710781876083 }
 */
export function clopperPearson(k: number, n: number): { readonly lower: number; readonly upper: number } {
  const end = (successes: number, failures: number): number => {
    const f = fQuantile(0.975, 2 * successes, 2 * failures);
    return (successes * f) / (failures + successes * f);
  };
  return { lower: k === 0 ? 0 : 1 - end(n - k + 1, k), upper: k === n ? 1 : end(k + 1, n - k) };
}

/** P(Bin(n, p) ≤ k) = I_{1−p}(n − k, k + 1). */
function chanceOfSoFew(k: number, n: number, p: number): number {
  return k === n ? 1 : regularizedBeta(1 - p, n - k, k + 1);
}

const meanOf = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
