/**
 * The water contents that the data do not contradict at the stated level. Inverting a line whose slope is uncertain
 * need not give an interval: the set is returned as what it is, never cut down to one.
 */
export type AcceptedSet =
  | { readonly kind: 'interval'; readonly lower: number; readonly upper: number }
  /** Everything up to `lower` and everything from `upper`: disjoint, and the point between them is rejected. */
  | { readonly kind: 'two-rays'; readonly lower: number; readonly upper: number }
  | { readonly kind: 'at-least'; readonly lower: number }
  | { readonly kind: 'at-most'; readonly upper: number }
  | { readonly kind: 'whole-line' };

export interface LineWithResponse {
  readonly intercept: number;
  readonly slope: number;
  /** Covariance of [intercept, slope]. */
  readonly covariance: readonly (readonly number[])[];
  /** The response to be inverted. */
  readonly response: number;
  /** Its own variance, apart from that of the line. */
  readonly responseVariance: number;
  /** Two-sided quantile, e.g. Student t at 0.975. */
  readonly quantile: number;
}

/**
 * Fieller's set for the x of a straight line: all x with (y₀ − a − b·x)² ≤ t²(u₀² + u²(a) + 2x·u(a,b) + x²·u²(b)), and
 * g = t²u²(b)/b², which says how near the line is to having no slope (Fieller, J. R. Stat. Soc. B 16 (1954) 175-185).
 * For g < 1 the set is an interval; for g ≥ 1 it is unbounded.
 *
 * @example
 * const { g, set } = fiellerSet({ intercept: 0, slope: 1, covariance: [[0, 0], [0, 0.01]], response: 2, responseVariance: 0, quantile: 2 });
 * g // => 0.04
 * set // => { kind: 'interval', lower: 5 / 3, upper: 2.5 }
 */
export function fiellerSet(line: LineWithResponse): { readonly g: number; readonly set: AcceptedSet } {
  const { intercept: a, slope: b, covariance, response, responseVariance, quantile } = line;
  const t2 = quantile * quantile;
  const g = (t2 * covariance[1]![1]!) / (b * b);
  const rest = response - a;
  // Accepted: A·x² − 2B·x + C ≤ 0.
  const A = b * b - t2 * covariance[1]![1]!;
  const B = rest * b + t2 * covariance[0]![1]!;
  const C = rest * rest - t2 * (responseVariance + covariance[0]![0]!);
  if (A === 0) {
    if (B === 0) return { g, set: { kind: 'whole-line' } };
    const edge = C / (2 * B);
    return { g, set: B > 0 ? { kind: 'at-least', lower: edge } : { kind: 'at-most', upper: edge } };
  }
  const discriminant = B * B - A * C;
  if (discriminant <= 0 && A < 0) return { g, set: { kind: 'whole-line' } };
  // Rounding alone can make this negative for an interval: x̂ itself is always accepted.
  const root = Math.sqrt(Math.max(discriminant, 0));
  const far = B + (B < 0 ? -root : root);
  const edges = far === 0 ? [0, 0] : [far / A, C / far];
  const [lower, upper] = [Math.min(...edges), Math.max(...edges)];
  return { g, set: A > 0 ? { kind: 'interval', lower, upper } : { kind: 'two-rays', lower, upper } };
}

/**
 * The same set for a curve: all x around `estimate` with `excess(x)` ≤ 0, sought outwards to `reach` on each side. An
 * edge beyond the reach counts as none.
 */
export function acceptedAround(excess: (x: number) => number, estimate: number, width: number, reach: number): AcceptedSet {
  const lower = edgeFrom(excess, estimate, -width, reach);
  const upper = edgeFrom(excess, estimate, width, reach);
  if (lower === null) return upper === null ? { kind: 'whole-line' } : { kind: 'at-most', upper };
  return upper === null ? { kind: 'at-least', lower } : { kind: 'interval', lower, upper };
}

function edgeFrom(excess: (x: number) => number, estimate: number, stride: number, reach: number): number | null {
  let inside = estimate;
  let step = stride / 64;
  for (;;) {
    const outside = inside + step;
    if (Math.abs(outside - estimate) > reach) return null;
    const value = excess(outside);
    // NaN: the curve has no value there, so nothing on that side is contradicted or confirmed.
    if (Number.isNaN(value)) return null;
    if (value > 0) return bisect(excess, inside, outside);
    inside = outside;
    step *= 1.25;
  }
}

function bisect(excess: (x: number) => number, accepted: number, rejected: number): number {
  let inside = accepted;
  let outside = rejected;
  for (let pass = 0; pass < 200; pass++) {
    const middle = inside + (outside - inside) / 2;
    if (middle === inside || middle === outside) break;
    if (excess(middle) > 0) outside = middle;
    else inside = middle;
  }
  return inside;
}
