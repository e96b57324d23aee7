import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import {
  bilinear, cholesky, createStream, element, identity, matrixFromRows, matrixToRows, multiply, multiplyVector, qrLeastSquares,
  singularValues, symmetricEigen, transpose, zeros, type Matrix,
} from '#libs/numeric';

/** Matching significant digits, 16 at most. */
function digits(got: number, certified: number): number {
  return Math.min(16, -Math.log10(Math.max(certified === 0 ? Math.abs(got) : Math.abs(got / certified - 1), 1e-16)));
}

function randomMatrix(rows: number, cols: number, seed: bigint): Matrix {
  const stream = createStream(seed, 0);
  const matrix = zeros(rows, cols);
  for (let i = 0; i < matrix.data.length; i += 1) matrix.data[i] = stream.normal();
  return matrix;
}

function largestDifference(a: Matrix, b: Matrix): number {
  return a.data.reduce((most, value, i) => Math.max(most, Math.abs(value - b.data[i]!)), 0);
}

describe('least squares by QR', () => {
  test('NIST StRD Longley: coefficients, standard errors and residual SD', () => {
    // Data: J. W. Longley, JASA 62 (1967) 819, as in R's datasets::longley. Certified values from memory of the NIST StRD page.
    const rows = [
      [83, 234289, 2356, 1590, 107608, 1947, 60323], [88.5, 259426, 2325, 1456, 108632, 1948, 61122], [88.2, 258054, 3682, 1616, 109773, 1949, 60171],
      [89.5, 284599, 3351, 1650, 110929, 1950, 61187], [96.2, 328975, 2099, 3099, 112075, 1951, 63221], [98.1, 346999, 1932, 3594, 113270, 1952, 63639],
      [99, 365385, 1870, 3547, 115094, 1953, 64989], [100, 363112, 3578, 3350, 116219, 1954, 63761], [101.2, 397469, 2904, 3048, 117388, 1955, 66019],
      [104.6, 419180, 2822, 2857, 118734, 1956, 67857], [108.4, 442769, 2936, 2798, 120445, 1957, 68169], [110.8, 444546, 4681, 2637, 121950, 1958, 66513],
      [112.6, 482704, 3813, 2552, 123366, 1959, 68655], [114.2, 502601, 3931, 2514, 125368, 1960, 69564], [115.7, 518173, 4806, 2572, 127852, 1961, 69331],
      [116.9, 554894, 4007, 2827, 130081, 1962, 70551],
    ];
    const fit = qrLeastSquares(matrixFromRows(rows.map((row) => [1, ...row.slice(0, 6)])), rows.map((row) => row[6]!));
    const certified = [-3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683, -1.03322686717359, -0.0511041056535807, 1829.15146461355];
    const certifiedErrors = [890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699, 0.214274163161675, 0.226073200069370, 455.478499142212];
    const residualSd = Math.sqrt(fit.residualSumOfSquares / 9);
    expect(digits(residualSd, 304.854073561965)).toBeGreaterThan(13);
    certified.forEach((value, i) => expect(digits(fit.coefficients[i]!, value)).toBeGreaterThan(12.5));
    certifiedErrors.forEach((value, i) => expect(digits(residualSd * Math.sqrt(element(fit.unscaledCovariance, i, i)), value)).toBeGreaterThan(12));
  });

  test('NIST StRD Wampler1 and Wampler4: a quintic recovered from exact and from very noisy data', () => {
    const x = Array.from({ length: 21 }, (_, i) => i);
    const design = matrixFromRows(x.map((v) => [0, 1, 2, 3, 4, 5].map((k) => v ** k)));
    const exact = qrLeastSquares(design, x.map((v) => 1 + v + v ** 2 + v ** 3 + v ** 4 + v ** 5));
    expect(Array.from(exact.coefficients)).toEqual([1, 1, 1, 1, 1, 1]);
    expect(exact.residualSumOfSquares).toBe(0);
    // Wampler4 (https://www.itl.nist.gov/div898/strd/): all coefficients 1, residual SD 236014.502379268.
    const noisy = [75901, -204794, 204863, -204436, 253665, -200894, 214131, -185192, 221249, -138370, 315911, -27644, 455253, 197434, 783995, 608816, 1370781, 1303798, 2205519, 2408860, 3444321];
    const fit = qrLeastSquares(design, noisy);
    fit.coefficients.forEach((b) => expect(digits(b, 1)).toBeGreaterThan(13));
    expect(digits(Math.sqrt(fit.residualSumOfSquares / 15), 236014.502379268)).toBeGreaterThan(14);
    expect(digits(Math.sqrt(element(fit.unscaledCovariance, 0, 0) * fit.residualSumOfSquares / 15), 215232.62467817)).toBeGreaterThan(12.5);
  });

  test('a condition number of 1e12: fixtures/least-squares.py solves the same doubles at 80 digits', () => {
    const fixture = JSON.parse(readFileSync(new URL('./fixtures/least-squares.json', import.meta.url), 'utf8')) as {
      design: number[][]; y: number[]; coefficients: number[]; residualSumOfSquares: number; unscaledVariances: number[];
    };
    const fit = qrLeastSquares(matrixFromRows(fixture.design), fixture.y);
    fixture.coefficients.forEach((b, i) => expect(digits(fit.coefficients[i]!, b)).toBeGreaterThan(14));
    expect(digits(fit.residualSumOfSquares, fixture.residualSumOfSquares)).toBeGreaterThan(14);
    fixture.unscaledVariances.forEach((v, i) => expect(digits(element(fit.unscaledCovariance, i, i), v)).toBeGreaterThan(7.5));
    // The scaled condition from the singular values bounds the estimate from above; pivoting keeps it within a small factor.
    const scaled = matrixFromRows(fixture.design);
    for (let j = 0; j < scaled.cols; j += 1) {
      const length = Math.hypot(...fixture.design.map((row) => row[j]!));
      for (let i = 0; i < scaled.rows; i += 1) scaled.data[i * scaled.cols + j]! /= length;
    }
    const { values } = singularValues(scaled);
    const condition = values[0]! / values[values.length - 1]!;
    expect(fit.conditionEstimate).toBeLessThanOrEqual(condition);
    expect(fit.conditionEstimate).toBeGreaterThan(condition / 20);
    const plain = qrLeastSquares(matrixFromRows(fixture.design), fixture.y, { refine: false });
    expect(digits(plain.coefficients[0]!, fixture.coefficients[0]!)).toBeGreaterThan(5);
  });

  test('does not depend on the order of points or columns, nor on the units of a column', () => {
    fc.assert(
      fc.property(fc.bigInt({ min: 0n, max: 1000000n }), fc.integer({ min: -9, max: 9 }), (seed, power) => {
        const x = randomMatrix(12, 3, seed);
        const y = Array.from(randomMatrix(12, 1, seed + 1n).data);
        const fit = qrLeastSquares(x, y);
        const rows = matrixToRows(x);
        const order = rows.map((_, i) => (i * 5) % 12);
        const shuffled = qrLeastSquares(matrixFromRows(order.map((i) => [rows[i]![2]!, rows[i]![0]! * 10 ** power, rows[i]![1]!])), order.map((i) => y[i]!));
        const back = [shuffled.coefficients[1]! * 10 ** power, shuffled.coefficients[2]!, shuffled.coefficients[0]!];
        back.forEach((b, j) => expect(Math.abs(b - fit.coefficients[j]!)).toBeLessThan(1e-11));
      }),
    );
  });

  test('leverages add up to the rank, residuals stand at right angles to every column', () => {
    const x = randomMatrix(20, 4, 5n);
    const fit = qrLeastSquares(x, randomMatrix(20, 1, 6n).data);
    expect(fit.leverages.reduce((a, b) => a + b)).toBeCloseTo(4, 13);
    multiplyVector(transpose(x), fit.residuals).forEach((dot) => expect(Math.abs(dot)).toBeLessThan(1e-13));
  });

  test('a dependent column is refused by name, or reported where asked', () => {
    const x = matrixFromRows([[1, 1, 2], [1, 2, 3], [1, 3, 4], [1, 5, 6]]);
    expect(() => qrLeastSquares(x, [1, 2, 3, 5])).toThrow(expect.objectContaining({ code: 'SINGULAR_DESIGN' }));
    const fit = qrLeastSquares(x, [1, 2, 3, 5], { deficientRank: 'report' });
    expect(fit.rank).toBe(2);
    expect(fit.residualSumOfSquares).toBeLessThan(1e-28);
    expect(fit.coefficients[fit.pivots[2]!]).toBe(0);
  });

  test.each([
    ['y', () => qrLeastSquares(zeros(3, 1), [1, 2])],
    ['x', () => qrLeastSquares(matrixFromRows([[1, 2]]), [1])],
    ['y[1]', () => qrLeastSquares(matrixFromRows([[1], [1]]), [1, NaN])],
    ['x[1][0]', () => qrLeastSquares({ rows: 2, cols: 1, data: Float64Array.of(1, Infinity) }, [1, 2])],
    ['rows[1]', () => matrixFromRows([[1, 2], [3]])],
    ['b', () => multiply(zeros(2, 3), zeros(2, 3))],
  ])('bad %s is refused', (field, compute) => {
    expect(compute).toThrow(expect.objectContaining({ name: 'InputError', field }));
  });
});

describe('factorisations', () => {
  const design = randomMatrix(9, 6, 11n);
  const spd = multiply(transpose(design), design);

  test('Cholesky: L·Lᵀ = A, inverse, determinant', () => {
    const factor = cholesky(spd);
    expect(largestDifference(multiply(factor.lower, transpose(factor.lower)), spd)).toBeLessThan(1e-13);
    expect(largestDifference(multiply(factor.inverse(), spd), identity(6))).toBeLessThan(1e-12);
    const { values } = symmetricEigen(spd);
    expect(factor.logDeterminant).toBeCloseTo(values.reduce((sum, value) => sum + Math.log(value), 0), 11);
    const b = [1, 2, 3, 4, 5, 6];
    multiplyVector(spd, factor.solve(b)).forEach((value, i) => expect(value).toBeCloseTo(b[i]!, 11));
    const white = factor.solveLower(b);
    expect(white.reduce((sum, w) => sum + w * w, 0)).toBeCloseTo(bilinear(b, factor.inverse(), b), 10);
  });

  test('Cholesky refuses what is not positive definite or not symmetric', () => {
    expect(() => cholesky(matrixFromRows([[1, 1], [1, 1]]), 'covariance')).toThrow(expect.objectContaining({ code: 'NOT_POSITIVE_DEFINITE', field: 'covariance[1][1]' }));
    expect(() => cholesky(matrixFromRows([[1, 0.5], [0.4, 1]]))).toThrow(expect.objectContaining({ code: 'NOT_SYMMETRIC' }));
  });

  test('eigenvalues of the second-difference matrix are 2 − 2 cos(kπ/(n+1))', () => {
    const n = 12;
    const rows = Array.from({ length: n }, (_, i) => Array.from({ length: n }, (_, j) => (i === j ? 2 : Math.abs(i - j) === 1 ? -1 : 0)));
    const { values, vectors } = symmetricEigen(matrixFromRows(rows));
    values.forEach((value, k) => expect(value).toBeCloseTo(2 - 2 * Math.cos(((n - k) * Math.PI) / (n + 1)), 13));
    expect(largestDifference(multiply(transpose(vectors), vectors), identity(n))).toBeLessThan(1e-14);
    const scaled = zeros(n, n);
    values.forEach((value, k) => (scaled.data[k * n + k] = value));
    expect(largestDifference(multiply(multiply(vectors, scaled), transpose(vectors)), matrixFromRows(rows))).toBeLessThan(1e-13);
  });

  test('singular values: U·S·Vᵀ = A for tall and wide, and the Hilbert matrix to its smallest', () => {
    for (const a of [design, transpose(design)]) {
      const { left, values, right } = singularValues(a);
      const scaled: Matrix = { ...left, data: left.data.map((value, i) => value * values[i % left.cols]!) };
      expect(largestDifference(multiply(scaled, transpose(right)), a)).toBeLessThan(1e-13);
    }
    // 2-norm condition of the 6 x 6 Hilbert matrix, 1.49510586401e7: computed at 50 digits with mpmath.
    const hilbert = matrixFromRows(Array.from({ length: 6 }, (_, i) => Array.from({ length: 6 }, (_, j) => 1 / (i + j + 1))));
    const { values } = singularValues(hilbert);
    expect(values[0]! / values[5]! / 14951058.6401312168).toBeCloseTo(1, 9);
  });
});
