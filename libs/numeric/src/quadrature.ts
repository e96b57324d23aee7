import { InputError, requireFinite } from '#libs/quantity';

/** Nodes and weights of a quadrature rule on [−1, 1]. */
export interface QuadratureRule {
  readonly nodes: Float64Array;
  readonly weights: Float64Array;
}

/**
 * Gauss-Legendre rule with n nodes, exact for polynomials of degree 2n − 1.
 *
 * Nodes are the zeros of the Legendre polynomial Pₙ by Newton's method; weights 2/((1 − x²)Pₙ′²). Domain: whole n from 1 to 200.
 * Errors: `RULE_SIZE`. Source: A&S 25.4.29.
 *
 * @example
 * Array.from(gaussLegendre(2).nodes) // => [-0.5773502691896258, 0.5773502691896258]
 */
export function gaussLegendre(n: number): QuadratureRule {
  if (!Number.isInteger(n) || n < 1 || n > 200) {
    throw new InputError('RULE_SIZE', 'n', `expected a whole number from 1 to 200, got ${n}`, 'Take more panels instead of more nodes.');
  }
  const nodes = new Float64Array(n);
  const weights = new Float64Array(n);
  for (let i = 0; i < n; i += 1) {
    let x = -Math.cos((Math.PI * (i + 0.75)) / (n + 0.5));
    let slope = 1;
    for (let step = 0; step < 100; step += 1) {
      const [value, derivative] = legendre(n, x);
      slope = derivative;
      const next = x - value / derivative;
      if (Math.abs(next - x) < 1e-16) break;
      x = next;
    }
    nodes[i] = x;
    weights[i] = 2 / ((1 - x * x) * slope * slope);
  }
  return { nodes, weights };
}

function legendre(n: number, x: number): readonly [value: number, derivative: number] {
  let before = 1;
  let value = x;
  for (let k = 2; k <= n; k += 1) [before, value] = [value, ((2 * k - 1) * x * value - (k - 1) * before) / k];
  return [value, (n * (x * value - before)) / (x * x - 1)];
}

const PANEL_RULE = gaussLegendre(20);

/**
 * ∫ f from a to b by halving panels of 20 Gauss-Legendre nodes until halving changes nothing above the tolerance.
 *
 * Domain: finite a and b (a > b changes the sign), f finite there. The integrand should be smooth between `a` and `b`; split the range at
 * kinks. Errors: `NOT_FINITE`, `NOT_CONVERGED`.
 *
 * @param relativeTolerance against the integral of |f|; 1e-12 unless given
 *
 * @example
 * integrate(Math.exp, 0, 1) // => 1.718281828459045
 */
export function integrate(f: (x: number) => number, a: number, b: number, relativeTolerance = 1e-12): number {
  requireFinite('a', a);
  requireFinite('b', b);
  const whole = panel(f, a, b);
  // The size of the integral, by which a change is judged; finer panels correct a first look that missed a narrow peak.
  let size = whole.size;
  let panels = 0;
  const refine = (from: number, to: number, coarse: Panel, depth: number): number => {
    const middle = (from + to) / 2;
    const left = panel(f, from, middle);
    const right = panel(f, middle, to);
    size = Math.max(size, left.size + right.size);
    const change = Math.abs(left.sum + right.sum - coarse.sum);
    if (depth >= 3 && change <= relativeTolerance * size) return left.sum + right.sum;
    panels += 2;
    if (panels > MOST_PANELS || depth > 60 || !Number.isFinite(change)) {
      throw new InputError('NOT_CONVERGED', 'f', `the integral did not settle near ${middle}`, 'Split the range at kinks and poles, or widen the tolerance.');
    }
    return refine(from, middle, left, depth + 1) + refine(middle, to, right, depth + 1);
  };
  return refine(a, b, whole, 0);
}

const MOST_PANELS = 20_000;

interface Panel {
  readonly sum: number;
  /** Integral of |f|. */
  readonly size: number;
}

function panel(f: (x: number) => number, a: number, b: number): Panel {
  const centre = (a + b) / 2;
  const half = (b - a) / 2;
  let sum = 0;
  let size = 0;
  for (let i = 0; i < PANEL_RULE.nodes.length; i += 1) {
    const part = PANEL_RULE.weights[i]! * f(centre + half * PANEL_RULE.nodes[i]!);
    sum += part;
    size += Math.abs(part);
  }
  return { sum: sum * half, size: size * Math.abs(half) };
}
