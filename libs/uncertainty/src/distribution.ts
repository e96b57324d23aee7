import { normalQuantileUnchecked } from '#libs/numeric';

// Bound once: a host that looks the global up at every use (a sandbox) spends more on that than on the arithmetic.
const { cos, expm1, log, sin, sqrt } = Math;

/** What is known about a quantity, as a probability distribution (JCGM 101:2008, 6.4 and table 1). */
export type Distribution =
  | { readonly kind: 'normal'; readonly centre: number; readonly standardDeviation: number }
  /** Student's t scaled and shifted: the state of knowledge after a few readings (6.4.9). */
  | { readonly kind: 'student'; readonly centre: number; readonly scale: number; readonly degreesOfFreedom: number }
  | { readonly kind: 'rectangular'; readonly centre: number; readonly halfWidth: number }
  | { readonly kind: 'triangular'; readonly centre: number; readonly halfWidth: number }
  /** Isosceles; `topRatio` is the width of the top over that of the base (6.4.4). */
  | { readonly kind: 'trapezoidal'; readonly centre: number; readonly halfWidth: number; readonly topRatio: number }
  /** Arcsine: a quantity that swings sinusoidally between its limits (6.4.6). */
  | { readonly kind: 'u-shaped'; readonly centre: number; readonly halfWidth: number }
  | { readonly kind: 'constant'; readonly centre: number };

/** Uniform numbers one draw of any distribution may use; fixed, so that draw i of source j has its own place in the stream. */
export const UNIFORMS_PER_DRAW = 2;

/**
 * One draw of a distribution from two independent uniform numbers in (0, 1); distributions that need one leave the second unused.
 *
 * Source: JCGM 101:2008, 6.4. Student's t by R. W. Bailey, Math. Comp. 62 (1994) 779-781 (from memory): exact without rejection.
 *
 * @example
 * drawFrom({ kind: 'rectangular', centre: 10, halfWidth: 2 }, 0.75, 0.5) // => 11
 */
export function drawFrom(distribution: Distribution, first: number, second: number): number {
  const { centre } = distribution;
  switch (distribution.kind) {
    case 'normal':
      return centre + distribution.standardDeviation * normalQuantileUnchecked(first);
    case 'student': {
      const nu = distribution.degreesOfFreedom;
      const radius = sqrt(nu * expm1((-2 / nu) * log(first)));
      return centre + distribution.scale * radius * cos(2 * Math.PI * second);
    }
    case 'rectangular':
      return centre + distribution.halfWidth * (2 * first - 1);
    case 'triangular':
      return centre + distribution.halfWidth * (first + second - 1);
    case 'trapezoidal':
      return (
        centre + (distribution.halfWidth * ((1 + distribution.topRatio) * (2 * first - 1) + (1 - distribution.topRatio) * (2 * second - 1))) / 2
      );
    case 'u-shaped':
      return centre + distribution.halfWidth * sin(Math.PI * (2 * first - 1));
    case 'constant':
      return centre;
  }
}

/**
 * Standard deviation of a distribution; NaN for Student's t with two degrees of freedom or fewer, which has none.
 *
 * Source: JCGM 101:2008, 6.4; JCGM 100:2008, 4.3.
 *
 * @example
 * standardDeviationOf({ kind: 'triangular', centre: 0, halfWidth: 6 }) // => 2.449489742783178
 */
export function standardDeviationOf(distribution: Distribution): number {
  switch (distribution.kind) {
    case 'normal':
      return distribution.standardDeviation;
    case 'student': {
      const nu = distribution.degreesOfFreedom;
      return nu > 2 ? distribution.scale * sqrt(nu / (nu - 2)) : NaN;
    }
    case 'rectangular':
      return distribution.halfWidth / sqrt(3);
    case 'triangular':
      return distribution.halfWidth / sqrt(6);
    case 'trapezoidal':
      return distribution.halfWidth * sqrt((1 + distribution.topRatio ** 2) / 6);
    case 'u-shaped':
      return distribution.halfWidth / sqrt(2);
    case 'constant':
      return 0;
  }
}
