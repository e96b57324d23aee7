/** Multiplication loses about a rounding a step; beyond this the logarithm loses less. */
const MOST_MULTIPLIED = 1024;

/**
 * base^exponent by multiplication, exponential and logarithm alone. The language leaves the last digits of `**` and `Math.pow`
 * to the engine, and they did change between Node 20 and Node 26, while `Math.exp` and `Math.log` kept theirs: a result
 * computed again years later must come out with the same bytes.
 *
 * A whole exponent up to 1024 in size is multiplied out; else x^y = x^n · exp((y − n) ln x), n the whole number next to y.
 * Relative error a few units in the last place for small exponents, about |y ln x| of them for large ones.
 *
 * @param base     any number; negative ones have a power only for whole exponents, else NaN, as with `**`
 * @param exponent any number
 * @example raise(3, 4); // 81
 */
export function raise(base: number, exponent: number): number {
  const whole = Math.round(exponent);
  const multiplied = Math.abs(whole) <= MOST_MULTIPLIED;
  if (multiplied && whole === exponent) return wholePower(base, whole);
  if (base === 0 || !Number.isFinite(base) || !Number.isFinite(exponent)) return Math.exp(exponent * Math.log(base));
  return multiplied ? wholePower(base, whole) * Math.exp((exponent - whole) * Math.log(base)) : Math.exp(exponent * Math.log(base));
}

function wholePower(base: number, exponent: number): number {
  let product = 1;
  let square = base;
  for (let left = Math.abs(exponent); left > 0; left = Math.floor(left / 2)) {
    if (left % 2 === 1) product *= square;
    square *= square;
  }
  return exponent < 0 ? 1 / product : product;
}
