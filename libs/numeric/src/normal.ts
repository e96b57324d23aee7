import { requireNumber, requireProbability } from './guards.js';

// Bound once: a host that looks the global up at every use (a sandbox) spends more on that than on the arithmetic.
const { abs, exp, log, sqrt, trunc } = Math;

const SQRT_TWO_PI = 2.5066282746310002;

/**
 * Density of the standard normal distribution, φ(z) = exp(−z²/2)/√(2π).
 *
 * Domain: any number, infinities included. Source: A&S 26.2.1.
 *
 * @example
 * normalPdf(0) // => 0.3989422804014327
 */
export function normalPdf(z: number): number {
  requireNumber('z', z);
  return exp(-0.5 * z * z) / SQRT_TWO_PI;
}

/**
 * Standard normal distribution function, Φ(z) = P(Z ≤ z), to about 1e-15 relative in both tails.
 *
 * Domain: any number, infinities included. Source: W. J. Cody, Rational Chebyshev approximations for the error
 * function, Math. Comp. 23 (1969) 631-637.
 *
 * @example
 * normalCdf(1.959963984540054) // => 0.975
 */
export function normalCdf(z: number): number {
  requireNumber('z', z);
  return z < 0 ? upperTail(-z) : 1 - upperTail(z);
}

/**
 * Upper tail of the standard normal distribution, 1 − Φ(z) = P(Z > z), without the cancellation of `1 - normalCdf(z)`.
 *
 * Domain: any number, infinities included. Source: as {@link normalCdf}.
 *
 * @example
 * normalSurvival(10) // => 7.619853024160527e-24
 */
export function normalSurvival(z: number): number {
  requireNumber('z', z);
  return z < 0 ? 1 - upperTail(-z) : upperTail(z);
}

/**
 * Quantile of the standard normal distribution: the z with Φ(z) = p, to about 1e-15 relative.
 *
 * Domain: 0 ≤ p ≤ 1; p = 0 and p = 1 give −Infinity and Infinity. For p very near 1 use `-normalQuantile(q)` with
 * the small upper tail q. Errors: `NOT_A_PROBABILITY`. Source: M. J. Wichura, Algorithm AS 241 (PPND16), Appl. Stat. 37
 * (1988) 477-484.
 *
 * @example
 * normalQuantile(0.975) // => 1.959963984540054
 */
export function normalQuantile(p: number): number {
  requireProbability('p', p);
  return normalQuantileUnchecked(p);
}

/** {@link normalQuantile} without the check of `p`, for inner loops whose `p` is in range by construction. */
export function normalQuantileUnchecked(p: number): number {
  const q = p - 0.5;
  if (abs(q) <= 0.425) {
    const r = 0.180625 - q * q;
    return (
      (q *
        (((((((2509.0809287301226727 * r + 33430.575583588128105) * r + 67265.770927008700853) * r + 45921.953931549871457) * r +
          13731.693765509461125) * r + 1971.5909503065514427) * r + 133.14166789178437745) * r + 3.387132872796366608)) /
      (((((((5226.495278852854561 * r + 28729.085735721942674) * r + 39307.89580009271061) * r + 21213.794301586595867) * r +
        5394.1960214247511077) * r + 687.1870074920579083) * r + 42.313330701600911252) * r + 1)
    );
  }
  const tail = q < 0 ? p : 1 - p;
  if (tail === 0) return q < 0 ? -Infinity : Infinity;
  const root = sqrt(-log(tail));
  const magnitude = root <= 5 ? middleTail(root - 1.6) : farTail(root - 5);
  return q < 0 ? -magnitude : magnitude;
}

function middleTail(r: number): number {
  return (
    (((((((7.7454501427834140764e-4 * r + 0.0227238449892691845833) * r + 0.24178072517745061177) * r +
      1.27045825245236838258) * r + 3.64784832476320460504) * r + 5.7694972214606914055) * r + 4.6303378461565452959) * r +
      1.42343711074968357734) /
    (((((((1.05075007164441684324e-9 * r + 5.475938084995344946e-4) * r + 0.0151986665636164571966) * r +
      0.14810397642748007459) * r + 0.68976733498510000455) * r + 1.6763848301838038494) * r + 2.05319162663775882187) * r + 1)
  );
}

function farTail(r: number): number {
  return (
    (((((((2.01033439929228813265e-7 * r + 2.71155556874348757815e-5) * r + 0.0012426609473880784386) * r +
      0.026532189526576123093) * r + 0.29656057182850489123) * r + 1.7848265399172913358) * r + 5.4637849111641143699) * r +
      6.6579046435011037772) /
    (((((((2.04426310338993978564e-15 * r + 1.4215117583164458887e-7) * r + 1.8463183175100546818e-5) * r +
      7.868691311456132591e-4) * r + 0.0148753612908506148525) * r + 0.13692988092273580531) * r + 0.59983220655588793769) * r + 1)
  );
}

const NEAR_NUMERATOR = [2.2352520354606839287, 161.02823106855587881, 1067.6894854603709582, 18154.981253343561249, 0.065682337918207449113] as const;
const NEAR_DENOMINATOR = [47.20258190468824187, 976.09855173777669322, 10260.932208618978205, 45507.789335026729956] as const;
const MIDDLE_NUMERATOR = [
  0.39894151208813466764, 8.8831497943883759412, 93.506656132177855979, 597.27027639480026226, 2494.5375852903726711,
  6848.1904505362823326, 11602.651437647350124, 9842.7148383839780218, 1.0765576773720192317e-8,
] as const;
const MIDDLE_DENOMINATOR = [
  22.266688044328115691, 235.38790178262499861, 1519.377599407554805, 6485.558298266760755, 18615.571640885098091,
  34900.952721145977266, 38912.003286093271411, 19685.429676859990727,
] as const;
const FAR_NUMERATOR = [
  0.21589853405795699, 0.1274011611602473639, 0.022235277870649807, 0.001421619193227893466, 2.9112874951168792e-5,
  0.02307344176494017303,
] as const;
const FAR_DENOMINATOR = [1.28426009614491121, 0.468238212480865118, 0.0659881378689285515, 0.00378239633202758244, 7.29751555083966205e-5] as const;

/** P(Z > z) for z ≥ 0 by Cody's three rational approximations. */
function upperTail(z: number): number {
  if (z <= 0.67448975) {
    const square = z * z;
    let numerator = NEAR_NUMERATOR[4] * square;
    let denominator = square;
    for (let i = 0; i < 3; i += 1) {
      numerator = (numerator + NEAR_NUMERATOR[i]!) * square;
      denominator = (denominator + NEAR_DENOMINATOR[i]!) * square;
    }
    return 0.5 - (z * (numerator + NEAR_NUMERATOR[3])) / (denominator + NEAR_DENOMINATOR[3]);
  }
  if (z > 40) return 0;
  let ratio: number;
  if (z <= sqrt(32)) {
    let numerator = MIDDLE_NUMERATOR[8] * z;
    let denominator = z;
    for (let i = 0; i < 7; i += 1) {
      numerator = (numerator + MIDDLE_NUMERATOR[i]!) * z;
      denominator = (denominator + MIDDLE_DENOMINATOR[i]!) * z;
    }
    ratio = (numerator + MIDDLE_NUMERATOR[7]) / (denominator + MIDDLE_DENOMINATOR[7]);
  } else {
    const inverseSquare = 1 / (z * z);
    let numerator = FAR_NUMERATOR[5] * inverseSquare;
    let denominator = inverseSquare;
    for (let i = 0; i < 4; i += 1) {
      numerator = (numerator + FAR_NUMERATOR[i]!) * inverseSquare;
      denominator = (denominator + FAR_DENOMINATOR[i]!) * inverseSquare;
    }
    const correction = (inverseSquare * (numerator + FAR_NUMERATOR[4])) / (denominator + FAR_DENOMINATOR[4]);
    ratio = (1 / SQRT_TWO_PI - correction) / z;
  }
  // exp(-z²/2) in two factors: the square of the leading bits of z is exact, so no digits are lost to rounding of z².
  const head = trunc(z * 16) / 16;
  return exp(-0.5 * head * head) * exp(-0.5 * (z - head) * (z + head)) * ratio;
}

