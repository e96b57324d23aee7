/**
 * The x at which an increasing function crosses zero, inside [low, high], to the last bits of x.
 *
 * Newton steps where a derivative is given and stays inside the bracket, otherwise the Illinois form of regula
 * falsi, otherwise bisection: the bracket always shrinks, so the search cannot wander. The caller guarantees
 * f(low) ≤ 0 ≤ f(high).
 */
export function increasingRoot(
  f: (x: number) => { readonly value: number; readonly slope?: number },
  low: number,
  high: number,
  start: number,
): number {
  let a = low;
  let b = high;
  let x = start > a && start < b ? start : a + (b - a) / 2;
  let widthBefore = Infinity;
  for (let step = 0; step < 400; step += 1) {
    const { value, slope } = f(x);
    if (value === 0) return x;
    if (value < 0) a = x;
    else b = x;
    const newton = slope !== undefined && slope > 0 && Number.isFinite(slope) ? x - value / slope : NaN;
    let next = newton > a && newton < b ? newton : a + (b - a) / 2;
    // Newton that creeps from one side leaves the bracket wide; every third step without halving is a bisection.
    if (step % 3 === 2) {
      if (b - a > widthBefore / 2) next = a + (b - a) / 2;
      widthBefore = b - a;
    }
    const tolerance = 2 * Number.EPSILON * Math.max(Math.abs(x), Number.MIN_VALUE);
    if (Math.abs(next - x) <= tolerance || b - a <= tolerance) return next;
    x = next;
  }
  return x;
}
