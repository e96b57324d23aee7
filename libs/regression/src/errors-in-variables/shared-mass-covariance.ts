import { InputError, requireFinite, requirePositive } from '#libs/quantity';

/** One RWC of a disc, R = (F − D)/(T − D), with what its covariance with the disc's other RWCs needs. Masses in mg. */
export interface WeighedPoint {
  readonly discId: string;
  readonly rwc: number;
  /** Turgid minus dry mass of the disc, T − D. */
  readonly turgidMinusDryMg: number;
  /** Standard uncertainty of the drying mass F: of this point alone. */
  readonly uDryingMg: number;
  /** Standard uncertainties of T and D: the same error in every point of the disc. */
  readonly uTurgidMg: number;
  readonly uDryMg: number;
}

/**
 * Covariance of all RWCs, n × n: u(Rᵢ, Rⱼ) = [RᵢRⱼu²(T) + (1 − Rᵢ)(1 − Rⱼ)u²(D)]/(T − D)² within a disc, zero between
 * discs, and u²(F)/(T − D)² added on the diagonal. From ∂R/∂F = 1/W, ∂R/∂T = −R/W, ∂R/∂D = −(1 − R)/W, W = T − D
 * (law of propagation, JCGM 100:2008 5.2.2), for independent errors of F, T and D.
 *
 * @throws InputError NOT_FINITE, NOT_POSITIVE, NEGATIVE
 * @example
 * const [[variance]] = sharedMassCovariance([{ discId: 'd1', rwc: 1, turgidMinusDryMg: 58, uDryingMg: 0.14, uTurgidMg: 0.71, uDryMg: 0.16 }]);
 * Math.sqrt(variance).toFixed(4) // => '0.0125'
 */
export function sharedMassCovariance(points: readonly WeighedPoint[]): number[][] {
  const firstOfDisc = new Map<string, WeighedPoint>();
  points.forEach((point, i) => {
    requireFinite(`points[${i}].rwc`, point.rwc);
    requirePositive(`points[${i}].turgidMinusDryMg`, point.turgidMinusDryMg);
    for (const name of ['uDryingMg', 'uTurgidMg', 'uDryMg'] as const) {
      if (requireFinite(`points[${i}].${name}`, point[name]) < 0) {
        throw new InputError('NEGATIVE', `points[${i}].${name}`, `${point[name]} mg is below zero`, 'Give a standard uncertainty from 0.');
      }
    }
    const first = firstOfDisc.get(point.discId) ?? point;
    firstOfDisc.set(point.discId, first);
    for (const name of ['turgidMinusDryMg', 'uTurgidMg', 'uDryMg'] as const) {
      if (point[name] !== first[name]) {
        throw new InputError('INCONSISTENT', `points[${i}].${name}`, `disc ${point.discId} has ${first[name]} mg elsewhere and ${point[name]} mg here`, 'A disc has one turgid and one dry mass: give them alike for all its points.');
      }
    }
  });
  return points.map((a, i) =>
    points.map((b, j) => {
      if (a.discId !== b.discId) return 0;
      const shared = a.rwc * b.rwc * a.uTurgidMg ** 2 + (1 - a.rwc) * (1 - b.rwc) * a.uDryMg ** 2;
      return (shared + (i === j ? a.uDryingMg ** 2 : 0)) / a.turgidMinusDryMg ** 2;
    }),
  );
}
