import { raise } from '#libs/numeric';
import type { ResponseModel } from './problem.js';

/**
 * A value with its derivatives by every parameter: forward-mode automatic differentiation, exact to rounding.
 *
 * Methods, not functions, so that a formula reads in its own order: `b1.times(b2.times(x).exp())`.
 */
export class Dual {
  constructor(
    readonly value: number,
    readonly slopes: Float64Array,
  ) {}

  plus(other: Dual | number): Dual {
    if (typeof other === 'number') return new Dual(this.value + other, this.slopes);
    return new Dual(this.value + other.value, combine(this.slopes, 1, other.slopes, 1));
  }

  minus(other: Dual | number): Dual {
    if (typeof other === 'number') return new Dual(this.value - other, this.slopes);
    return new Dual(this.value - other.value, combine(this.slopes, 1, other.slopes, -1));
  }

  times(other: Dual | number): Dual {
    if (typeof other === 'number') return this.chain(this.value * other, other);
    return new Dual(this.value * other.value, combine(this.slopes, other.value, other.slopes, this.value));
  }

  over(other: Dual | number): Dual {
    if (typeof other === 'number') return this.chain(this.value / other, 1 / other);
    const quotient = this.value / other.value;
    return new Dual(quotient, combine(this.slopes, 1 / other.value, other.slopes, -quotient / other.value));
  }

  negated(): Dual {
    return this.chain(-this.value, -1);
  }

  power(exponent: number): Dual {
    return this.chain(raise(this.value, exponent), exponent * raise(this.value, exponent - 1));
  }

  exp(): Dual {
    const value = Math.exp(this.value);
    return this.chain(value, value);
  }

  log(): Dual {
    return this.chain(Math.log(this.value), 1 / this.value);
  }

  sin(): Dual {
    return this.chain(Math.sin(this.value), Math.cos(this.value));
  }

  cos(): Dual {
    return this.chain(Math.cos(this.value), -Math.sin(this.value));
  }

  atan(): Dual {
    return this.chain(Math.atan(this.value), 1 / (1 + this.value * this.value));
  }

  private chain(value: number, slope: number): Dual {
    return new Dual(value, this.slopes.map((s) => s * slope));
  }
}

function combine(a: Float64Array, byA: number, b: Float64Array, byB: number): Float64Array {
  return a.map((s, k) => s * byA + b[k]! * byB);
}

/**
 * Makes a model for {@link fitNonlinear} from a formula written with {@link Dual} numbers; the derivatives follow.
 *
 * @param formula parameters and the index of an observation to the value expected there
 * @example
 * const x = [0, 1, 2, 3];
 * const growth = modelFromFormula(2, ([scale, rate], i) => rate.times(x[i]).exp().times(scale));
 * fitNonlinear(growth, [3, 6, 12, 24], { start: [1, 1] }).parameters // => [3, Math.LN2]
 */
export function modelFromFormula(
  parameterCount: number,
  formula: (parameters: readonly Dual[], index: number) => Dual,
): ResponseModel {
  const units = Array.from({ length: parameterCount }, (_, k) => {
    const slopes = new Float64Array(parameterCount);
    slopes[k] = 1;
    return slopes;
  });
  return {
    parameterCount,
    evaluate(parameters, index, gradient) {
      const result = formula(
        units.map((slopes, k) => new Dual(parameters[k]!, slopes)),
        index,
      );
      gradient?.set(result.slopes);
      return result.value;
    },
  };
}
