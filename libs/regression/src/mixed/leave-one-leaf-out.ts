import { InputError } from '#libs/quantity';
import { rwcAtResponse, type LeafFit } from './leaf-fit.js';
import { responseOf, type LeafReading } from './leaf-line.js';

/** How far a line fitted without a leaf misses that leaf's readings. Errors are predicted minus measured RWC, in points. */
export interface LeafLeftOut {
  readonly leafId: string;
  readonly plantId?: string;
  readonly readingCount: number;
  readonly biasPoints: number;
  readonly rmsPoints: number;
}

/** What to expect of a leaf the calibration has never seen, in points of RWC (0.01 of RWC). */
export interface LeaveOneLeafOut {
  /** Root mean square over all readings. */
  readonly rmsPoints: number;
  readonly biasPoints: number;
  /** Standard deviation of the leaves' own biases: what more readings of a leaf cannot remove. */
  readonly betweenLeavesPoints: number;
  readonly leaves: readonly LeafLeftOut[];
  readonly worst: LeafLeftOut;
  /** Readings whose transmittance the curve of the other leaves never takes; in no figure here. A line takes every one. */
  readonly readingsWithoutAnswer: number;
}

/**
 * Leave-one-leaf-out error of a calibration: each leaf in turn is left out, the others fitted anew, and the leaf's RWC read off their mean
 * line or curve from its transmittance.
 *
 * Domain: at least three leaves. Source: cross-validation by group, common practice, no source.
 *
 * @param refit fits the readings of the other leaves
 * Errors: `TOO_FEW_GROUPS`, `NO_ANSWER` where the curves of the others take no reading at all, and those of `refit`.
 *
 * @example
 * const readings = ['a', 'b', 'c', 'd'].flatMap((leafId, i) => [1, 0.8, 0.6].map((rwc, k) =>
 *   ({ leafId, rwc, transmittance: Math.exp(-0.9 - rwc + 0.05 * (i % 3) + 0.01 * ((i + k) % 2)) })));
 * const options = { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' };
 * leaveOneLeafOut(readings, (rest) => fitLeafLine(rest, options)).rmsPoints.toFixed(1) // => '5.5'
 */
export function leaveOneLeafOut(readings: readonly LeafReading[], refit: (rest: readonly LeafReading[]) => LeafFit): LeaveOneLeafOut {
  const byLeaf = new Map<string, LeafReading[]>();
  for (const reading of readings) {
    // The line does not read what lies beside it.
    if (reading.besideId !== undefined) continue;
    const key = JSON.stringify([reading.plantId ?? null, reading.leafId]);
    const known = byLeaf.get(key);
    if (known === undefined) byLeaf.set(key, [reading]);
    else known.push(reading);
  }
  if (byLeaf.size < 3) {
    throw new InputError('TOO_FEW_GROUPS', 'readings', `${byLeaf.size} leaves cannot be left out one by one`, 'Measure at least three leaves.');
  }
  const leaves: LeafLeftOut[] = [];
  let squares = 0;
  let sum = 0;
  let readingsWithoutAnswer = 0;
  for (const own of byLeaf.values()) {
    const left = new Set(own);
    const others = refit(readings.filter((reading) => !left.has(reading)));
    const errors = own.flatMap((reading) => {
      const predicted = rwcAtResponse(others, responseOf(others.options.responseScale, reading.transmittance));
      return predicted === null ? [] : [100 * (predicted - reading.rwc)];
    });
    readingsWithoutAnswer += own.length - errors.length;
    if (errors.length === 0) continue;
    const ownSum = errors.reduce((total, error) => total + error, 0);
    const ownSquares = errors.reduce((total, error) => total + error * error, 0);
    const { leafId, plantId } = own[0]!;
    leaves.push({
      leafId,
      ...(plantId === undefined ? {} : { plantId }),
      readingCount: errors.length,
      biasPoints: ownSum / errors.length,
      rmsPoints: Math.sqrt(ownSquares / errors.length),
    });
    sum += ownSum;
    squares += ownSquares;
  }
  if (leaves.length === 0) throw new InputError('NO_ANSWER', 'readings', 'the curves of the other leaves never take a transmittance of the leaf left out', 'Fit a family with fewer parameters.');
  const count = leaves.reduce((total, { readingCount }) => total + readingCount, 0);
  const meanBias = leaves.reduce((total, leaf) => total + leaf.biasPoints, 0) / leaves.length;
  const spread = leaves.reduce((total, leaf) => total + (leaf.biasPoints - meanBias) ** 2, 0) / Math.max(leaves.length - 1, 1);
  return {
    rmsPoints: Math.sqrt(squares / count),
    biasPoints: sum / count,
    betweenLeavesPoints: Math.sqrt(spread),
    leaves,
    worst: leaves.reduce((worst, leaf) => (leaf.rmsPoints > worst.rmsPoints ? leaf : worst)),
    readingsWithoutAnswer,
  };
}
