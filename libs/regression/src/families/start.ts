/** Starts for the searches: rough, closed-form, and independent of the units of x and T. */

/** Least-squares [intercept, slope]; a flat line where all x are equal. */
export function lineThrough(x: readonly number[], y: readonly number[]): [number, number] {
  const n = x.length;
  const meanX = x.reduce((sum, value) => sum + value, 0) / n;
  const meanY = y.reduce((sum, value) => sum + value, 0) / n;
  let sxx = 0;
  let sxy = 0;
  for (let i = 0; i < n; i++) {
    sxx += (x[i]! - meanX) ** 2;
    sxy += (x[i]! - meanX) * (y[i]! - meanY);
  }
  const slope = sxx === 0 ? 0 : sxy / sxx;
  return [meanY - slope * meanX, slope];
}

interface Candidate {
  readonly intercept: number;
  readonly slope: number;
  readonly sum: number;
}

/** The best y ≈ intercept + slope·z with both at or above zero: the linear part of a curve whose other parameters are tried. */
export function bestNonNegativeLine(z: readonly number[], y: readonly number[]): Candidate {
  const free = lineThrough(z, y);
  const meanY = y.reduce((sum, value) => sum + value, 0) / y.length;
  const zz = z.reduce((sum, value) => sum + value * value, 0);
  const zy = z.reduce((sum, value, i) => sum + value * y[i]!, 0);
  const candidates: [number, number][] = [[Math.max(meanY, 0), 0]];
  if (zz > 0) candidates.push([0, Math.max(zy / zz, 0)]);
  if (free[0] >= 0 && free[1] >= 0) candidates.push(free);
  return candidates
    .map(([intercept, slope]) => ({
      intercept,
      slope,
      sum: y.reduce((sum, value, i) => sum + (value - intercept - slope * z[i]!) ** 2, 0),
    }))
    .reduce((best, candidate) => (candidate.sum < best.sum ? candidate : best));
}
