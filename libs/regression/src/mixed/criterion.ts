import type { DesignLevel, MixedDesign } from './design.js';

/**
 * The profiled deviance of a mixed model and what follows from it at one value of the relative covariance factors.
 *
 * With V = I + Σ Z·Λ·Λᵀ·Zᵀ (variances relative to the residual one), everything rests on CᵀV⁻¹C for the column set C of the design.
 * Going outwards, one level at a time is folded in: for a group with cross-products A (the sum of what its children left), and the
 * level's columns z,
 *
 *   M = I + Λᵀ·A_zz·Λ = L·Lᵀ,  B = L⁻¹·Λᵀ·A_z,  A − Bᵀ·B goes to the parent,  ln|V| grows by ln|M|.
 *
 * The innermost level works on its triangular heads H instead (K = I + (H_z·Λ)(H_z·Λ)ᵀ = L·Lᵀ, W = L⁻¹·H, WᵀW to the parent), which
 * subtracts nothing and so keeps its digits when leaves differ much more than readings. Going inwards again gives, for each group, the
 * rows z of CᵀV⁻¹C restricted to the group (E) and within it (D): from these follow the gradient 2·G·Λ with
 *
 *   G = Σ over groups of  D_zz − F·Fᵀ (REML only) − (ν/r²)·v·vᵀ,
 *
 * and the predicted effects Λ·Λᵀ·v. Cost: linear in the number of groups. Literature: Pinheiro & Bates, Mixed-Effects Models in S and
 * S-PLUS (2000), ch. 2; Bates, Mächler, Bolker & Walker, J. Stat. Softw. 67 (2015) 1, for the deviance on the relative factor.
 */
export interface Criterion {
  readonly design: MixedDesign;
  /** ln|V| + (REML) ln|XᵀV⁻¹X|. */
  logDeterminants: number;
  /** r², the weighted residual sum of squares left by the fixed terms. */
  residualSum: number;
  /** Coefficients on Q. */
  readonly coefficients: Float64Array;
  /** Cholesky factor of QᵀV⁻¹Q, p × p lower by rows. */
  readonly fixedFactor: Float64Array;
  /** Λ of each level, size × size lower triangular by rows, on the scaled terms. */
  readonly factors: readonly Float64Array[];
  /** Σ over groups of D_zz − F·Fᵀ, for each level. */
  readonly determinantSlopes: readonly Float64Array[];
  /** Σ over groups of v·vᵀ, for each level. */
  readonly residualSlopes: readonly Float64Array[];
  readonly work: Workspace;
}

interface Workspace {
  /** For each level beyond the innermost, and last the root: A before folding. */
  readonly cross: readonly Float64Array[];
  /** For the innermost level W; for the others B; each size × width for each group. */
  readonly folded: readonly Float64Array[];
  /** For the outer levels L⁻¹·Λᵀ, size × size for each group. */
  readonly whitened: readonly Float64Array[];
  readonly rows: Float64Array;
  readonly projectedRows: Float64Array;
  readonly small: Float64Array;
}

/** What the inward pass hands to a visitor for one group of one level. */
export type GroupVisitor = (level: number, group: number, rows: Float64Array, within: Float64Array, v: Float64Array) => void;

/** An empty criterion for a design; {@link foldOutwards} fills it. */
export function createCriterion(design: MixedDesign): Criterion {
  const { levels, width, fixedCount: p } = design;
  const largest = Math.max(...levels.map((level) => level.size));
  return {
    design,
    logDeterminants: 0,
    residualSum: 0,
    coefficients: new Float64Array(p),
    fixedFactor: new Float64Array(p * p),
    factors: levels.map((level) => new Float64Array(level.size * level.size)),
    determinantSlopes: levels.map((level) => new Float64Array(level.size * level.size)),
    residualSlopes: levels.map((level) => new Float64Array(level.size * level.size)),
    work: {
      cross: levels.map((_, l) => new Float64Array((levels[l + 1]?.groupPaths.length ?? 1) * width * width)),
      folded: levels.map((level) => new Float64Array(level.groupPaths.length * level.size * width)),
      whitened: levels.map((level, l) => new Float64Array(l === 0 ? 0 : level.groupPaths.length * level.size * level.size)),
      rows: new Float64Array(largest * width),
      projectedRows: new Float64Array(largest * p),
      small: new Float64Array(3 * largest * largest),
    },
  };
}

/** Sets Λ from the parameters in the order of `design.entries`. */
export function setFactors(criterion: Criterion, theta: ArrayLike<number>): void {
  const { entries, levels } = criterion.design;
  entries.forEach((entry, k) => {
    criterion.factors[entry.level]![entry.row * levels[entry.level]!.size + entry.column] = theta[k]!;
  });
}

/** The outward pass: log-determinants, coefficients and r² at the factors set. */
export function foldOutwards(criterion: Criterion): void {
  const { design, work } = criterion;
  work.cross.forEach((cross, l) => (l === 0 ? cross.set(design.remainders) : cross.fill(0)));
  let logDeterminant = foldInnermost(criterion);
  for (let l = 1; l < design.levels.length; l += 1) logDeterminant += foldLevel(criterion, l);
  criterion.logDeterminants = logDeterminant + solveFixed(criterion);
}

function foldInnermost({ design, work, factors }: Criterion): number {
  const { width, heads } = design;
  const level = design.levels[0]!;
  const q = level.size;
  const folded = work.folded[0]!;
  const lower = work.small;
  const lambda = factors[0]!;
  let logDeterminant = 0;
  folded.set(heads);
  for (let group = 0; group < level.groupPaths.length; group += 1) {
    const at = group * q * width;
    factorOfHead(heads, at, width, q, lambda, lower);
    for (let i = 0; i < q; i += 1) logDeterminant += 2 * Math.log(lower[i * q + i]!);
    solveRows(lower, q, folded, at, width);
    addCross(work.cross[0]!, level.parents[group]! * width * width, folded, at, q, width, 1);
  }
  return logDeterminant;
}

/** Cholesky factor of K = I + (H_z·Λ)(H_z·Λ)ᵀ, into `lower` (its second q × q holds H_z·Λ). */
function factorOfHead(heads: Float64Array, at: number, width: number, q: number, lambda: Float64Array, lower: Float64Array): void {
  const product = q * q;
  for (let i = 0; i < q; i += 1) {
    for (let j = 0; j < q; j += 1) {
      let sum = 0;
      for (let k = i > j ? i : j; k < q; k += 1) sum += heads[at + i * width + k]! * lambda[k * q + j]!;
      lower[product + i * q + j] = sum;
    }
  }
  for (let i = 0; i < q; i += 1) {
    for (let j = 0; j <= i; j += 1) {
      let sum = i === j ? 1 : 0;
      for (let k = 0; k < q; k += 1) sum += lower[product + i * q + k]! * lower[product + j * q + k]!;
      lower[i * q + j] = sum;
    }
  }
  choleskyInPlace(lower, q);
}

function foldLevel({ design, work, factors }: Criterion, l: number): number {
  const { width } = design;
  const level = design.levels[l]!;
  const q = level.size;
  const lambda = factors[l]!;
  const cross = work.cross[l - 1]!;
  const folded = work.folded[l]!;
  const whitened = work.whitened[l]!;
  const target = work.cross[l]!;
  const lower = work.small;
  let logDeterminant = 0;
  for (let group = 0; group < level.groupPaths.length; group += 1) {
    const from = group * width * width;
    const at = group * q * width;
    // B starts as Λᵀ·A_z; M = I + Λᵀ·A_zz·Λ.
    for (let i = 0; i < q; i += 1) {
      for (let c = 0; c < width; c += 1) {
        let sum = 0;
        for (let k = i; k < q; k += 1) sum += lambda[k * q + i]! * cross[from + level.columns[k]! * width + c]!;
        folded[at + i * width + c] = sum;
      }
      for (let j = 0; j < q; j += 1) whitened[group * q * q + i * q + j] = lambda[j * q + i]!;
    }
    for (let i = 0; i < q; i += 1) {
      for (let j = 0; j <= i; j += 1) {
        let sum = i === j ? 1 : 0;
        for (let k = j; k < q; k += 1) sum += folded[at + i * width + level.columns[k]!]! * lambda[k * q + j]!;
        lower[i * q + j] = sum;
      }
    }
    choleskyInPlace(lower, q);
    for (let i = 0; i < q; i += 1) logDeterminant += 2 * Math.log(lower[i * q + i]!);
    solveRows(lower, q, folded, at, width);
    solveRows(lower, q, whitened, group * q * q, q);
    const to = level.parents[group]! * width * width;
    for (let c = 0; c < width * width; c += 1) target[to + c]! += cross[from + c]!;
    addCross(target, to, folded, at, q, width, -1);
  }
  return logDeterminant;
}

/** Coefficients on Q, r², and the REML share of the log-determinants. */
function solveFixed(criterion: Criterion): number {
  const { design, work, coefficients, fixedFactor } = criterion;
  const { width, randomWidth, fixedCount: p } = design;
  const root = work.cross[design.levels.length - 1]!;
  for (let i = 0; i < p; i += 1) {
    for (let j = 0; j <= i; j += 1) fixedFactor[i * p + j] = root[(randomWidth + i) * width + randomWidth + j]!;
    coefficients[i] = root[(randomWidth + i) * width + width - 1]!;
  }
  choleskyInPlace(fixedFactor, p);
  solveRows(fixedFactor, p, coefficients, 0, 1);
  let logDeterminant = 0;
  let explained = 0;
  for (let i = 0; i < p; i += 1) {
    logDeterminant += 2 * Math.log(fixedFactor[i * p + i]!);
    explained += coefficients[i]! ** 2;
  }
  criterion.residualSum = root[width * width - 1]! - explained;
  for (let i = p - 1; i >= 0; i -= 1) {
    let sum = coefficients[i]!;
    for (let k = i + 1; k < p; k += 1) sum -= fixedFactor[k * p + i]! * coefficients[k]!;
    coefficients[i] = sum / fixedFactor[i * p + i]!;
  }
  if (design.method === 'ML') return 0;
  for (let i = 0; i < p; i += 1) logDeterminant += 2 * Math.log(Math.abs(design.triangle[i * p + i]!));
  return logDeterminant;
}

/** The inward pass: the two halves of G for each level, and each group handed to `visit`. */
export function foldInwards(criterion: Criterion, visit?: GroupVisitor): void {
  const { design, work } = criterion;
  design.levels.forEach((level, l) => {
    criterion.determinantSlopes[l]!.fill(0);
    criterion.residualSlopes[l]!.fill(0);
    const v = new Float64Array(level.size);
    const within = new Float64Array(level.size * level.size);
    for (let group = 0; group < level.groupPaths.length; group += 1) {
      startRows(criterion, l, group, within);
      let ancestor = level.parents[group]!;
      for (let above = l + 1; above < design.levels.length; above += 1) {
        passAncestor(criterion, above, ancestor, level, within);
        ancestor = design.levels[above]!.parents[ancestor]!;
      }
      addSlopes(criterion, l, within, v);
      visit?.(l, group, work.rows, within, v);
    }
  });
}

/** Rows z of the group's own CᵀV⁻¹C, V taken up to its level; `within` starts as their columns z. */
function startRows({ design, work }: Criterion, l: number, group: number, within: Float64Array): void {
  const { width } = design;
  const level = design.levels[l]!;
  const q = level.size;
  const folded = work.folded[l]!;
  const at = group * q * width;
  const cross = l === 0 ? undefined : work.cross[l - 1]!;
  const from = group * width * width;
  for (let i = 0; i < q; i += 1) {
    const zi = level.columns[i]!;
    for (let c = 0; c < width; c += 1) {
      let sum = 0;
      for (let k = 0; k < q; k += 1) sum += folded[at + k * width + zi]! * folded[at + k * width + c]!;
      work.rows[i * width + c] = cross === undefined ? sum : cross[from + zi * width + c]! - sum;
    }
    for (let j = 0; j < q; j += 1) within[i * q + j] = work.rows[i * width + level.columns[j]!]!;
  }
}

/** Takes one ancestor's effect into the rows and into `within`. */
function passAncestor({ design, work }: Criterion, above: number, group: number, level: DesignLevel, within: Float64Array): void {
  const { width } = design;
  const upper = design.levels[above]!;
  const q = level.size;
  const qa = upper.size;
  const whitened = work.whitened[above]!;
  const folded = work.folded[above]!;
  const y = work.small;
  for (let i = 0; i < q; i += 1) {
    for (let k = 0; k < qa; k += 1) {
      let sum = 0;
      for (let m = 0; m < qa; m += 1) sum += work.rows[i * width + upper.columns[m]!]! * whitened[group * qa * qa + k * qa + m]!;
      y[i * qa + k] = sum;
    }
  }
  for (let i = 0; i < q; i += 1) {
    for (let j = 0; j < q; j += 1) {
      for (let k = 0; k < qa; k += 1) within[i * q + j]! -= y[i * qa + k]! * y[j * qa + k]!;
    }
    for (let c = 0; c < width; c += 1) {
      for (let k = 0; k < qa; k += 1) work.rows[i * width + c]! -= y[i * qa + k]! * folded[(group * qa + k) * width + c]!;
    }
  }
}

function addSlopes(criterion: Criterion, l: number, within: Float64Array, v: Float64Array): void {
  const { design, work, coefficients, fixedFactor } = criterion;
  const { width, randomWidth, fixedCount: p, method } = design;
  const q = design.levels[l]!.size;
  const determinantSlope = criterion.determinantSlopes[l]!;
  const residualSlope = criterion.residualSlopes[l]!;
  const f = work.projectedRows;
  for (let i = 0; i < q; i += 1) {
    const row = i * width + randomWidth;
    let sum = work.rows[row + p]!;
    for (let c = 0; c < p; c += 1) {
      sum -= work.rows[row + c]! * coefficients[c]!;
      let reduced = work.rows[row + c]!;
      for (let k = 0; k < c; k += 1) reduced -= fixedFactor[c * p + k]! * f[i * p + k]!;
      f[i * p + c] = reduced / fixedFactor[c * p + c]!;
    }
    v[i] = sum;
  }
  for (let i = 0; i < q; i += 1) {
    for (let j = 0; j < q; j += 1) {
      let sum = within[i * q + j]!;
      if (method === 'REML') for (let c = 0; c < p; c += 1) sum -= f[i * p + c]! * f[j * p + c]!;
      determinantSlope[i * q + j]! += sum;
      residualSlope[i * q + j]! += v[i]! * v[j]!;
    }
  }
}

/** Lower Cholesky factor over the lower triangle of `a`; a pivot lost to rounding gives NaN, which the search refuses. */
function choleskyInPlace(a: Float64Array, n: number): void {
  for (let j = 0; j < n; j += 1) {
    for (let i = j; i < n; i += 1) {
      let sum = a[i * n + j]!;
      for (let k = 0; k < j; k += 1) sum -= a[i * n + k]! * a[j * n + k]!;
      a[i * n + j] = i === j ? Math.sqrt(sum) : sum / a[j * n + j]!;
    }
  }
}

/** Overwrites the n × width block at `at` with L⁻¹ times it. */
function solveRows(lower: Float64Array, n: number, block: Float64Array, at: number, width: number): void {
  for (let i = 0; i < n; i += 1) {
    for (let k = 0; k < i; k += 1) {
      const factor = lower[i * n + k]!;
      for (let c = 0; c < width; c += 1) block[at + i * width + c]! -= factor * block[at + k * width + c]!;
    }
    const pivot = lower[i * n + i]!;
    for (let c = 0; c < width; c += 1) block[at + i * width + c]! /= pivot;
  }
}

/** Adds ± rowsᵀ·rows to a width × width matrix. */
function addCross(target: Float64Array, to: number, rows: Float64Array, at: number, count: number, width: number, sign: 1 | -1): void {
  for (let r = 0; r < count; r += 1) {
    for (let a = 0; a < width; a += 1) {
      const factor = sign * rows[at + r * width + a]!;
      if (factor === 0) continue;
      for (let b = 0; b < width; b += 1) target[to + a * width + b]! += factor * rows[at + r * width + b]!;
    }
  }
}
