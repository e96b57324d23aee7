import fc from 'fast-check';
import { chiSquareSurvival, createStream, mean, normalCdf, philox4x32, variance } from '#libs/numeric';

describe('Philox 4x32-10', () => {
  // Random123 (Salmon et al., SC11), file tests/kat_vectors, lines "philox4x32 10": counter, key, output.
  test.each([
    ['00000000 00000000 00000000 00000000', '00000000 00000000', '6627e8d5 e169c58d bc57ac4c 9b00dbd8'],
    ['ffffffff ffffffff ffffffff ffffffff', 'ffffffff ffffffff', '408f276d 41c83b0e a20bc7c6 6d5451fd'],
    ['243f6a88 85a308d3 13198a2e 03707344', 'a4093822 299f31d0', 'd16cfe09 94fdcceb 5001e420 24126ea1'],
  ])('known answer for counter %s', (counter, key, expected) => {
    const words = (text: string) => text.split(' ').map((word) => Number.parseInt(word, 16));
    const [c0, c1, c2, c3] = words(counter) as [number, number, number, number];
    const [k0, k1] = words(key) as [number, number];
    const out = new Uint32Array(4);
    philox4x32(c0, c1, c2, c3, k0, k1, out);
    expect(Array.from(out)).toEqual(words(expected));
  });
});

describe('streams', () => {
  test('draw i is the same in any order and by either way of asking', () => {
    fc.assert(
      fc.property(fc.bigInt({ min: 0n, max: 2n ** 64n - 1n }), fc.nat(), fc.array(fc.nat(2 ** 31), { minLength: 1, maxLength: 20 }), (seed, stream, counters) => {
        const forwards = counters.map((i) => createStream(seed, stream).at(i));
        const one = createStream(seed, stream);
        expect([...counters].reverse().map((i) => one.at(i)).reverse()).toEqual(forwards);
      }),
    );
    const sequential = createStream('drying run', 3);
    const random = createStream('drying run', 3);
    for (let i = 0; i < 9; i += 1) {
      expect(sequential.position).toBe(i);
      expect(i % 2 === 0 ? sequential.uniform() : sequential.normal()).toBe(i % 2 === 0 ? random.at(i) : random.normalAt(i));
    }
  });

  test.each([0, 1, 6, 7])('a row of normal draws from number %p on is the single ones', (from) => {
    const stream = createStream(7n, 3);
    const row = new Float64Array(5);
    stream.normalsAt(from, row);
    expect([...row]).toEqual([0, 1, 2, 3, 4].map((i) => createStream(7n, 3).normalAt(from + i)));
    expect(stream.position).toBe(0);
  });

  test('seeds: digits mean the number, other text its own key, and neighbours have nothing in common', () => {
    expect(createStream('12345', 1).at(7)).toBe(createStream(12345n, 1).at(7));
    const firsts = new Set([createStream(1n, 0), createStream(2n, 0), createStream(1n, 1), createStream(1n, 2 ** 32), createStream('a', 0), createStream('b', 0), createStream('', 0)].map((s) => s.at(0)));
    expect(firsts.size).toBe(7);
    expect(createStream(1n, 0).at(0)).not.toBe(createStream(1n, 0).at(2 ** 33));
  });

  test('uniform draws fill (0, 1) evenly: chi-squared over 1000 cells, mean and variance', () => {
    const n = 200_000;
    const stream = createStream(20261125n, 0);
    const counts = new Float64Array(1000);
    const draws = Float64Array.from({ length: n }, () => stream.uniform());
    for (const u of draws) counts[Math.floor(u * 1000)]! += 1;
    const statistic = counts.reduce((sum, count) => sum + (count - n / 1000) ** 2 / (n / 1000), 0);
    // The seed is fixed, so this either always holds or never; 1e-3 and 1 - 1e-3 bound an unremarkable draw.
    expect(chiSquareSurvival(statistic, 999)).toBeGreaterThan(1e-3);
    expect(chiSquareSurvival(statistic, 999)).toBeLessThan(1 - 1e-3);
    expect(Math.abs(mean(draws) - 0.5)).toBeLessThan(4 * Math.sqrt(1 / 12 / n));
    expect(Math.abs(variance(draws) * 12 - 1)).toBeLessThan(4 * Math.sqrt(0.8 / n));
  });

  test('normal draws follow the normal distribution: greatest distance of the empirical distribution function', () => {
    const n = 100_000;
    const stream = createStream(20261125n, 1);
    const draws = Float64Array.from({ length: n }, () => stream.normal()).sort();
    const distance = draws.reduce((most, z, i) => Math.max(most, Math.abs((i + 0.5) / n - normalCdf(z))), 0);
    // Kolmogorov's distribution: a distance above 1.95/√n has probability 0.001.
    expect(distance * Math.sqrt(n)).toBeLessThan(1.95);
    expect(distance * Math.sqrt(n)).toBeGreaterThan(0.3);
  });

  test.each([
    ['seed', () => createStream(-1n, 0)],
    ['seed', () => createStream('99999999999999999999999', 0)],
    ['stream', () => createStream(1n, 1.5)],
    ['counter', () => createStream(1n, 0).at(-1)],
    ['counter', () => createStream(1n, 0).normalsAt(0.5, new Float64Array(1))],
  ])('a bad %s is refused', (field, create) => {
    expect(create).toThrow(expect.objectContaining({ name: 'InputError', field }));
  });
});
