import { raise } from '#libs/numeric';
import { InputError } from '#libs/quantity';
import type { ErrorScale, Family } from '../families/family.js';
import { fitPolynomial } from '../least-squares/linear.js';

/** A curve y = f(x; β) for {@link fitErrorsInVariables}. */
export interface EivModel {
  readonly name: string;
  readonly parameterNames: readonly string[];
  value(parameters: ArrayLike<number>, x: number): number;
  /** ∂f/∂x. */
  slope(parameters: ArrayLike<number>, x: number): number;
  /** ∂f/∂βₖ. */
  gradient(parameters: ArrayLike<number>, x: number): number[];
  /** The x of a y, or null where the curve has none or more than one. */
  inverse(parameters: ArrayLike<number>, y: number): number | null;
  initial(x: readonly number[], y: readonly number[]): number[];
}

/**
 * y = β₀ + β₁x + … + βₙxⁿ. Degree 1 is the straight line of ISO/TS 28037; with x and y exchanged, degrees 1 and 2 are the
 * analysis functions of ISO 6143.
 *
 * @throws InputError DEGREE
 * @example
 * polynomialModel(2).value([1, 2, 3], 10) // => 321
 */
export function polynomialModel(degree: number): EivModel {
  if (!Number.isInteger(degree) || degree < 1) {
    throw new InputError('DEGREE', 'degree', `${degree} is not a whole number from 1`, 'Give 1 for a straight line.');
  }
  const powers = Array.from({ length: degree + 1 }, (_, k) => k);
  return {
    name: degree === 1 ? 'straight line' : `polynomial of degree ${degree}`,
    parameterNames: powers.map((k) => `b${k}`),
    value: (b, x) => powers.reduceRight((sum, k) => sum * x + b[k]!, 0),
    slope: (b, x) => powers.slice(1).reduceRight((sum, k) => sum * x + k * b[k]!, 0),
    gradient: (_, x) => powers.map((k) => raise(x, k)),
    inverse: (b, y) => (degree === 1 && b[1] !== 0 ? (y - b[0]!) / b[1]! : null),
    initial: (x, y) => [...fitPolynomial(x, y, powers).parameters],
  };
}

/** y = b0 + b1·x^(1 + b2), for x above zero: the power function of ISO 6143. */
export const offsetPowerModel: EivModel = {
  name: 'offset power curve',
  parameterNames: ['b0', 'b1', 'b2'],
  value: (b, x) => b[0]! + b[1]! * raise(x, 1 + b[2]!),
  slope: (b, x) => b[1]! * (1 + b[2]!) * raise(x, b[2]!),
  gradient(b, x) {
    const raised = raise(x, 1 + b[2]!);
    return [1, raised, b[1]! * raised * Math.log(x)];
  },
  inverse(b, y) {
    const raised = (y - b[0]!) / b[1]!;
    return raised > 0 && b[2] !== -1 ? raise(raised, 1 / (1 + b[2]!)) : null;
  },
  // The power 1 is a straight line, from which all curves of this kind in use bend only a little.
  initial: (x, y) => [...fitPolynomial(x, y, [0, 1]).parameters, 0],
};

/** A calibration family on the scale of its errors: y is T, or ln T. */
export function familyModel(family: Family, errorScale: ErrorScale): EivModel {
  const relative = errorScale === 'relative';
  return {
    name: family.name,
    parameterNames: family.parameterNames,
    value: (p, x) => (relative ? Math.log(family.predict(p, x)) : family.predict(p, x)),
    slope: (p, x) => family.slope(p, x) / (relative ? family.predict(p, x) : 1),
    gradient(p, x) {
      const scale = relative ? 1 / family.predict(p, x) : 1;
      return family.gradient(p, x).map((d) => d * scale);
    },
    inverse: (p, y) => family.inverse(p, relative ? Math.exp(y) : y),
    initial: (x, y) => family.initial(x, relative ? y.map(Math.exp) : y),
  };
}
