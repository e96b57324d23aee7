import { families, fitFamily, type FamilyFit, type FamilyFitOptions } from './fit-family.js';
import type { FamilyName } from './family.js';
import type { CalibrationPoint } from './points.js';

export interface WithAndWithout {
  readonly withExcluded: FamilyFit;
  readonly withoutExcluded: FamilyFit;
  /** Largest change of the predictor read back for the same transmittance, over the range; null where one curve has no answer. */
  readonly greatestShift: number | null;
}

const GRID = 64;

/**
 * The fit as it stands and the fit had nobody excluded anything: shown side by side whenever points are excluded.
 *
 * @throws InputError as fitFamily, for either fit
 * @example
 * const points = [1, 0.9, 0.8, 0.7, 0.6].map((rwc, i) => ({ rwc, transmittance: Math.exp(-0.9 - rwc + 0.001 * (i % 2)) }));
 * const torn = { rwc: 0.75, transmittance: 0.4, excludedBecause: 'disc torn' };
 * const both = fitWithAndWithoutExcluded('log-linear', [...points, torn]);
 * [both.withExcluded.pointCount, both.withoutExcluded.pointCount, both.greatestShift > 0.1] // => [6, 5, true]
 */
export function fitWithAndWithoutExcluded(
  family: FamilyName,
  points: readonly CalibrationPoint[],
  options: FamilyFitOptions = {},
): WithAndWithout {
  const withoutExcluded = fitFamily(family, points, options);
  const withExcluded = fitFamily(family, points.map((point) => ({ ...point, excludedBecause: undefined })), options);
  const shape = families[family];
  const { from, to } = withoutExcluded.range;
  let greatest = 0;
  for (let k = 0; k <= GRID; k++) {
    const x = from + ((to - from) * k) / GRID;
    const readBack = shape.inverse(withExcluded.parameters, shape.predict(withoutExcluded.parameters, x));
    if (readBack === null) return { withExcluded, withoutExcluded, greatestShift: null };
    greatest = Math.max(greatest, Math.abs(readBack - x));
  }
  return { withExcluded, withoutExcluded, greatestShift: greatest };
}
