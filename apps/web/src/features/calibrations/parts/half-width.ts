export interface CurvePoint {
  readonly rwc: number;
  readonly transmittance: number;
  readonly newLeafLow?: number | null;
  readonly newLeafHigh?: number | null;
}

/**
 * Half the width, in RWC (fraction), of the 95 % band for one new leaf at the middle of a calibration's range: the
 * band's half-width in transmittance over the slope of the line there. It ranks versions in a list; the exact interval
 * at one transmittance is the server's `rwcAt`. Null with fewer than three leaves, or where the line is flat.
 *
 *     newLeafHalfWidth([{ rwc: 0.6, transmittance: 0.20, … }, …])   // 0.19: 19 RWC points
 */
export function newLeafHalfWidth(curve: readonly CurvePoint[]): number | null {
  const middle = Math.floor(curve.length / 2);
  const [before, at, after] = [curve[middle - 1], curve[middle], curve[middle + 1]];
  if (!before || !at || !after || at.newLeafLow == null || at.newLeafHigh == null) return null;
  const slope = (after.transmittance - before.transmittance) / (after.rwc - before.rwc);
  return slope === 0 ? null : (at.newLeafHigh - at.newLeafLow) / 2 / Math.abs(slope);
}
