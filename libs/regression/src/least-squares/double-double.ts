import { twoProduct, twoSum } from '#libs/numeric';

/**
 * Sums of products carried to about 32 digits, as an unevaluated pair high + low of float64.
 *
 * Iterative refinement needs residuals that are more accurate than the arithmetic which solved the system: this is
 * where those digits come from.
 *
 * @example
 * const sum = new TwofoldSum(1);
 * sum.addProduct(1e8, 1e8); sum.addProduct(-1e8, 1e8 - 1e-8);
 * sum.value(); // 2: float64 alone loses the 1
 */
export class TwofoldSum {
  private high: number;
  private low = 0;

  constructor(start = 0) {
    this.high = start;
  }

  add(term: number): this {
    const [sum, error] = twoSum(this.high, term);
    this.low += error;
    this.high = sum;
    return this;
  }

  addProduct(a: number, b: number): this {
    const [product, error] = twoProduct(a, b);
    return this.add(product).add(error);
  }

  value(): number {
    return this.high + this.low;
  }

  /** What `value()` rounds away. */
  remainder(): number {
    return this.low - (this.value() - this.high);
  }
}
