import { matrixFromRows, symmetricEigen } from '#libs/numeric';
import { foldInwards, foldOutwards, setFactors, type Criterion } from './criterion.js';
import type { VarianceKnowledge, VarianceParameter } from './mixed-fit.js';
import { factorGradient, residualDegrees, type FactorSearch } from './search.js';

type Rows = number[][];

/**
 * How well the variances are known: twice the inverse Hessian of the deviance in (Λ, ln σ), and what each parameter does to the
 * covariance of the fixed effects. Parameters at the boundary are left out, that is, taken as known to be zero.
 *
 * Source: F. E. Satterthwaite, Biometrics Bull. 2 (1946) 110; the Hessian route as in A. Kuznetsova et al., J. Stat. Softw. 82 (2017) 13.
 */
export function knowVariances(search: FactorSearch, fixedCovariance: Rows): VarianceKnowledge {
  const { criterion, minimum, atZero } = search;
  const { design } = criterion;
  const df = residualDegrees(design);
  const sigma2 = criterion.residualSum / df;
  const free = design.entries.map((_, k) => k).filter((k) => !atZero[k]);
  const scale = (k: number) => {
    const { level, row } = design.entries[k]!;
    return design.levels[level]!.scales[row]!;
  };
  const hessian = unprofiledHessian(criterion, minimum.point, free, sigma2);
  const { inverse, flatDirections } = invertHessian(hessian);
  const size = (i: number) => (i < free.length ? scale(free[i]!) : 1);
  const covariance = inverse.map((row, i) => row.map((value, j) => (2 * value) / (size(i) * size(j))));
  const outermost = design.levels.length - 1;
  const parameters: VarianceParameter[] = free.map((k) => {
    const { level, row, column } = design.entries[k]!;
    return { kind: 'relative factor', level: outermost - level, row, column, value: minimum.point[k]! / scale(k) };
  });
  parameters.push({ kind: 'log residual sd', value: Math.log(sigma2) / 2 });
  const slopes = covarianceSlopes(criterion, sigma2);
  const fixedCovarianceSlopes = free.map((k) => slopes[k]!.map((row) => row.map((value) => value * scale(k))));
  fixedCovarianceSlopes.push(fixedCovariance.map((row) => row.map((value) => 2 * value)));
  return { parameters, covariance, fixedCovarianceSlopes, flatDirections };
}

/** Below this share of its own scale a curvature is rounding: the readings say nothing in that direction. */
const FLAT = 1e-9;

/** The inverse, directions without curvature left out: along them the parameters count as known, and the fit says so. */
function invertHessian(hessian: Rows): { inverse: Rows; flatDirections: number } {
  const n = hessian.length;
  const unit = hessian.map((row, i) => (row[i]! > 0 ? 1 / Math.sqrt(row[i]!) : 1));
  const { values, vectors } = symmetricEigen(matrixFromRows(hessian.map((row, i) => row.map((value, j) => value * unit[i]! * unit[j]!))), 'hessian');
  const inverse: Rows = hessian.map(() => new Array<number>(n).fill(0));
  let flatDirections = 0;
  values.forEach((value, e) => {
    if (!(value > FLAT)) {
      flatDirections += 1;
      return;
    }
    for (let i = 0; i < n; i += 1) {
      for (let j = 0; j < n; j += 1) inverse[i]![j]! += (unit[i]! * vectors.data[i * n + e]! * vectors.data[j * n + e]! * unit[j]!) / value;
    }
  });
  return { inverse, flatDirections };
}

/** Hessian in (free elements of Λ, ln σ) of ln|V| + ln|XᵀV⁻¹X| + 2ν ln σ + r²/σ². */
function unprofiledHessian(criterion: Criterion, point: Float64Array, free: readonly number[], sigma2: number): Rows {
  const n = point.length;
  const slopesAt = (theta: Float64Array) => {
    setFactors(criterion, theta);
    foldOutwards(criterion);
    foldInwards(criterion);
    const gradient = new Float64Array(n);
    factorGradient(criterion, 1 / sigma2, gradient);
    return gradient;
  };
  const differences = free.map((k) => {
    const h = 1e-4 * Math.max(Math.abs(point[k]!), 0.1);
    const at = (shift: number) => slopesAt(point.map((value, i) => (i === k ? value + shift : value)));
    const outer = [at(2 * h), at(-2 * h)];
    const inner = [at(h), at(-h)];
    return free.map((j) => (8 * (inner[0]![j]! - inner[1]![j]!) - (outer[0]![j]! - outer[1]![j]!)) / (12 * h));
  });
  const withResidual = slopesAt(point);
  const withoutResidual = new Float64Array(n);
  factorGradient(criterion, 0, withoutResidual);
  const cross = free.map((k) => -2 * (withResidual[k]! - withoutResidual[k]!));
  const rows: Rows = free.map((_, i) => [...free.map((__, j) => (differences[i]![j]! + differences[j]![i]!) / 2), cross[i]!]);
  rows.push([...cross, (4 * criterion.residualSum) / sigma2]);
  return rows;
}

/** ∂ σ²(XᵀV⁻¹X)⁻¹ / ∂ each element of Λ on the scaled terms. */
function covarianceSlopes(criterion: Criterion, sigma2: number): Rows[] {
  const { design } = criterion;
  const { fixedCount: p, randomWidth, width, levels } = design;
  const products = levels.map((level) => new Float64Array(level.size * level.size * p * p));
  foldInwards(criterion, (l, _group, rows) => {
    const q = levels[l]!.size;
    for (let a = 0; a < q; a += 1) {
      for (let b = 0; b < q; b += 1) {
        for (let i = 0; i < p; i += 1) {
          for (let j = 0; j < p; j += 1) {
            products[l]![((a * q + b) * p + i) * p + j]! += rows[a * width + randomWidth + i]! * rows[b * width + randomWidth + j]!;
          }
        }
      }
    }
  });
  const root = fixedRoot(criterion);
  return design.entries.map(({ level, row, column }) => {
    const q = levels[level]!.size;
    const lambda = criterion.factors[level]!;
    const inner: Rows = Array.from({ length: p }, () => new Array<number>(p).fill(0));
    for (let m = column; m < q; m += 1) {
      const factor = lambda[m * q + column]!;
      for (let i = 0; i < p; i += 1) {
        for (let j = 0; j < p; j += 1) {
          inner[i]![j]! += factor * (products[level]![((row * q + m) * p + i) * p + j]! + products[level]![((m * q + row) * p + i) * p + j]!);
        }
      }
    }
    return sandwich(root, inner, sigma2);
  });
}

/** R⁻¹·(QᵀV⁻¹Q)⁻¹, which takes a p × p matrix on Q to the fixed coefficients. */
function fixedRoot(criterion: Criterion): Rows {
  const p = criterion.design.fixedCount;
  const unit = (j: number) => Array.from({ length: p }, (_, i) => (i === j ? 1 : 0));
  const columns = Array.from({ length: p }, (_, j) => toCoefficients(criterion, solveCross(criterion, unit(j))));
  return Array.from({ length: p }, (_, i) => columns.map((column) => column[i]!));
}

/** (QᵀV⁻¹Q)⁻¹·b. */
function solveCross({ design, fixedFactor: l }: Criterion, b: readonly number[]): number[] {
  const p = design.fixedCount;
  const x = [...b];
  for (let i = 0; i < p; i += 1) {
    for (let k = 0; k < i; k += 1) x[i]! -= l[i * p + k]! * x[k]!;
    x[i]! /= l[i * p + i]!;
  }
  for (let i = p - 1; i >= 0; i -= 1) {
    for (let k = i + 1; k < p; k += 1) x[i]! -= l[k * p + i]! * x[k]!;
    x[i]! /= l[i * p + i]!;
  }
  return x;
}

/** R⁻¹·b: coefficients on Q to coefficients on X. */
export function toCoefficients({ design }: Criterion, b: ArrayLike<number>): number[] {
  const p = design.fixedCount;
  const x = Array.from(b);
  for (let i = p - 1; i >= 0; i -= 1) {
    for (let k = i + 1; k < p; k += 1) x[i]! -= design.triangle[i * p + k]! * x[k]!;
    x[i]! /= design.triangle[i * p + i]!;
  }
  return x;
}

/** σ²(XᵀV⁻¹X)⁻¹. */
export function covarianceOfFixed(criterion: Criterion, sigma2: number): Rows {
  const p = criterion.design.fixedCount;
  const { fixedFactor: l } = criterion;
  // L⁻ᵀ column by column, then R⁻¹ of it: the covariance is σ² times its own cross-product, so it is symmetric to the last bit.
  const columns = Array.from({ length: p }, (_, j) => {
    const x = new Array<number>(p).fill(0);
    x[j] = 1;
    for (let i = p - 1; i >= 0; i -= 1) {
      for (let k = i + 1; k < p; k += 1) x[i]! -= l[k * p + i]! * x[k]!;
      x[i]! /= l[i * p + i]!;
    }
    return toCoefficients(criterion, x);
  });
  return Array.from({ length: p }, (_, a) => Array.from({ length: p }, (__, b) => sigma2 * columns.reduce((sum, column) => sum + column[a]! * column[b]!, 0)));
}

function sandwich(root: Rows, inner: Rows, factor: number): Rows {
  const p = root.length;
  const half = root.map((row) => Array.from({ length: p }, (_, j) => row.reduce((sum, value, k) => sum + value * inner[k]![j]!, 0)));
  return half.map((row) => Array.from({ length: p }, (_, j) => factor * row.reduce((sum, value, k) => sum + value * root[j]![k]!, 0)));
}
