const SPLITTER = 134_217_729;

/**
 * Sums of products carried to about 32 digits, as an unevaluated pair high + low of float64.
 *
 * Iterative refinement needs residuals that are more accurate than the arithmetic which solved the system: this is
 * where those digits come from. The transformations are Dekker's and Knuth's, as twoSum and twoProduct in #libs/numeric.
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

  // Sum and product are written out, not taken from #libs/numeric: its pairs would be made and dropped here by the thousand.
  add(term: number): this {
    const sum = this.high + term;
    const fromTerm = sum - this.high;
    this.low += this.high - (sum - fromTerm) + (term - fromTerm);
    this.high = sum;
    return this;
  }

  addProduct(a: number, b: number): this {
    const product = a * b;
    const scaledA = SPLITTER * a;
    const highA = scaledA - (scaledA - a);
    const lowA = a - highA;
    const scaledB = SPLITTER * b;
    const highB = scaledB - (scaledB - b);
    const lowB = b - highB;
    return this.add(product).add(lowA * lowB - (product - highA * highB - lowA * highB - highA * lowB));
  }

  value(): number {
    return this.high + this.low;
  }

  /** What `value()` rounds away. */
  remainder(): number {
    return this.low - (this.value() - this.high);
  }
}
