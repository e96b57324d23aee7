import { gaussLegendre, integrate } from '#libs/numeric';

test('Gauss-Legendre nodes and weights: A&S table 25.4 for n = 5 (from memory), and exactness to degree 2n − 1', () => {
  const { nodes, weights } = gaussLegendre(5);
  expect(nodes[4]).toBeCloseTo(0.906179845938664, 14);
  expect(weights[4]).toBeCloseTo(0.236926885056189, 14);
  for (const n of [1, 2, 7, 20, 64]) {
    const rule = gaussLegendre(n);
    for (const degree of [0, 2 * n - 2, 2 * n - 1]) {
      const sum = rule.nodes.reduce((total, x, i) => total + rule.weights[i]! * x ** degree, 0);
      expect(sum).toBeCloseTo(degree % 2 === 0 ? 2 / (degree + 1) : 0, 13);
    }
  }
});

test('integrals with closed forms, narrow peaks included', () => {
  expect(integrate(Math.sin, 0, Math.PI)).toBeCloseTo(2, 13);
  expect(integrate(Math.sin, Math.PI, 0)).toBeCloseTo(-2, 13);
  expect(integrate((x) => 1 / (1 + x * x), -1e3, 1e3)).toBeCloseTo(2 * Math.atan(1e3), 11);
  expect(integrate((x) => Math.exp(-0.5 * ((x - 0.3) / 1e-3) ** 2), -1, 1) / (1e-3 * Math.sqrt(2 * Math.PI))).toBeCloseTo(1, 11);
  for (let centre = -0.95; centre < 1; centre += 0.1) {
    expect(integrate((x) => Math.exp(-0.5 * ((x - centre) / 5e-3) ** 2), -1, 1) / (5e-3 * Math.sqrt(2 * Math.PI))).toBeCloseTo(1, 10);
  }
  expect(integrate(Math.sqrt, 0, 1)).toBeCloseTo(2 / 3, 11);
  expect(integrate(() => 0, 0, 1)).toBe(0);
});

test('what cannot be integrated fails instead of running for ever', () => {
  let state = 1;
  const noise = () => (state = (state * 16807) % 2147483647) / 2147483647;
  expect(() => integrate(noise, 0, 1)).toThrow(expect.objectContaining({ code: 'NOT_CONVERGED' }));
  expect(() => integrate((x) => 1 / x, 0, 1)).toThrow(expect.objectContaining({ code: 'NOT_CONVERGED' }));
  expect(() => integrate(Math.exp, 0, Infinity)).toThrow(expect.objectContaining({ code: 'NOT_FINITE', field: 'b' }));
  expect(() => gaussLegendre(0)).toThrow(expect.objectContaining({ code: 'RULE_SIZE' }));
});
