import { createHash } from 'node:crypto';
import { createStream, raise } from '#libs/numeric';

/**
 * Results are frozen with their bytes and computed again years later, on another Node. The language leaves the last digits of
 * these functions to the engine. Digests taken on Node 20.20.2 and on Node 26.10.0, the same on both; where a later engine
 * turns one red, recomputed results would differ in their last digits: give that function a form of our own, as `raise` is.
 */
const DRAWS = 20_000;

const digestOf = (name: string, of: (uniform: () => number) => number): string => {
  const stream = createStream(`same bytes of ${name}`, 1);
  return createHash('sha256').update(new Uint8Array(Float64Array.from({ length: DRAWS }, () => of(() => stream.uniform())).buffer)).digest('hex').slice(0, 16);
};

const functions: Readonly<Record<string, readonly [digest: string, of: (uniform: () => number) => number]>> = {
  exp: ['aa9013cbc3d8c0bb', (u) => Math.exp(40 * u() - 20)],
  expm1: ['fc9c6504b0f3f7c6', (u) => Math.expm1(2 * u() - 1)],
  log: ['1cb58e66ccb93e92', (u) => Math.log(100 * u())],
  log1p: ['b232a4de27035ebe', (u) => Math.log1p(2 * u() - 0.9)],
  log2: ['7ba27642dd33438b', (u) => Math.log2(100 * u())],
  log10: ['ddbe11788d02eb24', (u) => Math.log10(100 * u())],
  sin: ['c504041eaf9013c3', (u) => Math.sin(20 * u() - 10)],
  cos: ['09d4a133653f41c9', (u) => Math.cos(20 * u() - 10)],
  asin: ['548f09566ac1fb42', (u) => Math.asin(2 * u() - 1)],
  acos: ['1bf21168cce69179', (u) => Math.acos(2 * u() - 1)],
  atan: ['79a9462fdc008e8d', (u) => Math.atan(20 * u() - 10)],
  sqrt: ['0379d70e04796aa3', (u) => Math.sqrt(100 * u())],
  'hypot of two': ['2cec98c3a1a6f31c', (u) => Math.hypot(u(), 10 * u())],
  'hypot of four': ['68bef120e3dfb10d', (u) => Math.hypot(u(), 10 * u(), u(), u())],
  square: ['184d909dad9d1b4f', (u) => (20 * u() - 10) ** 2],
  raise: ['d830568632ffd099', (u) => raise(5 * u(), 24 * u() - 12)],
  'raise to a whole power': ['874f728610dcba3f', (u) => raise(10 * u() - 5, Math.floor(24 * u()) - 12)],
};

describe('what results rest on keeps its bytes', () => {
  test.each(Object.entries(functions))('%s', (name, [digest, of]) => {
    expect(digestOf(name, of)).toBe(digest);
  });
});

describe('a power', () => {
  test('agrees with the engine’s own to a few units in the last place, more for large exponents', () => {
    const stream = createStream('raise against the engine', 1);
    for (let i = 0; i < DRAWS; i += 1) {
      const [base, exponent] = [Math.exp(6 * stream.uniform() - 3), 60 * stream.uniform() - 30];
      const expected = base ** exponent;
      expect(Math.abs(raise(base, exponent) / expected - 1)).toBeLessThan(2e-16 * (4 + Math.abs(exponent) + Math.abs(exponent * Math.log(base))));
    }
  });

  test.each([
    [2, 10, 1024], [3, 4, 81], [-2, 3, -8], [-2, -1, -0.5], [0, 0, 1], [0, 2, 0], [0, 0.5, 0], [0, -1, Infinity], [0, -0.5, Infinity], [9, 0.5, 3], [1e200, -2, 0], [10, -3, 1e-3],
    [-8, 1 / 3, NaN], [NaN, 2, NaN], [2, NaN, NaN], [Infinity, 0.5, Infinity], [Infinity, -0.5, 0], [0.5, 2000, 0], [2, 5000, Infinity],
  ])('%d to the %d is %d', (base, exponent, expected) => {
    if (Number.isFinite(expected) && expected !== 0) expect(raise(base, exponent) / expected).toBeCloseTo(1, 14);
    else expect(raise(base, exponent)).toBe(expected);
  });
});
