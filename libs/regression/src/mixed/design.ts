import { InputError, requireFinite } from '#libs/quantity';
import type { MixedModelInput, ModelTerm, RandomLevel } from './model.js';

/** One parameter of a relative covariance factor: element (row, column) of the lower triangle of a level. */
export interface FactorEntry {
  readonly level: number;
  readonly row: number;
  readonly column: number;
}

/** One level, ready to compute with; its random columns are found in the column set of {@link MixedDesign}. */
export interface DesignLevel {
  readonly name: string;
  readonly termNames: readonly string[];
  readonly size: number;
  /** Where in the column set each term of the level stands. */
  readonly columns: readonly number[];
  /** The length a unit of each term is divided by, so that the search sees terms of like size. */
  readonly scales: readonly number[];
  readonly covariance: 'full' | 'diagonal';
  readonly groupPaths: readonly (readonly string[])[];
  /** For each group, the group of the next outer level it lies in (0 for the outermost). */
  readonly parents: Int32Array;
}

/**
 * A mixed model reduced to what its likelihood depends on.
 *
 * The column set is [random columns | Q | e]: X = Q·R with orthonormal Q, and e the least-squares residual of y on X, so that
 * neither an ill-conditioned X nor a large mean costs digits. Levels run innermost first here. Every innermost group is reduced by an
 * orthogonal transformation to the rows that share its random columns (`heads`) and the cross-products of the rest
 * (`remainders`, summed for each next outer group), which no variance can change.
 */
export interface MixedDesign {
  readonly observationCount: number;
  readonly fixedCount: number;
  readonly width: number;
  readonly randomWidth: number;
  readonly levels: readonly DesignLevel[];
  readonly entries: readonly FactorEntry[];
  readonly heads: Float64Array;
  readonly remainders: Float64Array;
  /** R of X = Q·R, p × p upper triangular by rows. */
  readonly triangle: Float64Array;
  /** Qᵀy. */
  readonly projected: Float64Array;
  /** For each observation, its innermost group. */
  readonly innermost: Int32Array;
  readonly method: 'REML' | 'ML';
}

/** Checks a model and reduces it. Errors: see `fitMixedModel`. */
export function reduceModel(input: MixedModelInput): MixedDesign {
  requireModel(input);
  const n = input.response.length;
  const p = input.fixed.length;
  const outward = [...input.levels].reverse();
  const groupings = nestGroups(input.levels, n).reverse();
  const randomColumns: Float64Array[] = [];
  const levels = outward.map((level, index) => {
    const { columns, scales } = placeTerms(level.terms, randomColumns);
    const { paths, parents } = groupings[index]!;
    return {
      name: level.name,
      termNames: level.terms.map((term) => term.name),
      size: level.terms.length,
      columns,
      scales,
      covariance: level.covariance,
      groupPaths: paths,
      parents,
    };
  });
  requireEstimable(levels, n, p);
  const { q, triangle, projected, residual } = orthonormalise(input.fixed, input.response);
  const columns = [...randomColumns, ...q, residual];
  const reduced = reduceInnermost(columns, groupings[0]!.index, levels);
  return {
    observationCount: n,
    fixedCount: p,
    width: columns.length,
    randomWidth: randomColumns.length,
    levels,
    entries: levels.flatMap((level, index) => factorEntries(level, index)),
    ...reduced,
    triangle,
    projected,
    innermost: groupings[0]!.index,
    method: input.method,
  };
}

function factorEntries(level: DesignLevel, index: number): FactorEntry[] {
  const entries: FactorEntry[] = [];
  for (let column = 0; column < level.size; column += 1) {
    for (let row = column; row < level.size; row += 1) {
      if (row === column || level.covariance === 'full') entries.push({ level: index, row, column });
    }
  }
  return entries;
}

function requireModel({ response, fixed, levels, method }: MixedModelInput): void {
  const n = response.length;
  if (method !== 'REML' && method !== 'ML') {
    throw new InputError('UNKNOWN_METHOD', 'method', `expected REML or ML, got ${String(method)}`, 'Choose REML, or ML to compare fixed terms.');
  }
  response.forEach((value, i) => requireFinite(`response[${i}]`, value));
  if (fixed.length === 0) {
    throw new InputError('NO_FIXED_TERM', 'fixed', 'the model has no fixed term', 'Give at least an intercept.');
  }
  if (levels.length === 0) {
    throw new InputError('NO_RANDOM_LEVEL', 'levels', 'the model has no random level', 'Give the leaf of each reading, or fit by least squares.');
  }
  fixed.forEach((term, i) => requireTerm(`fixed[${i}]`, term, n));
  levels.forEach((level, l) => {
    if (level.groups.length !== n) {
      throw new InputError('LENGTHS_DIFFER', `levels[${l}].groups`, `has ${level.groups.length} labels for ${n} readings`, 'Give one label per reading.');
    }
    if (level.terms.length === 0) {
      throw new InputError('NO_RANDOM_TERM', `levels[${l}].terms`, 'the level has no term', 'Give at least an intercept.');
    }
    level.terms.forEach((term, i) => requireTerm(`levels[${l}].terms[${i}]`, term, n));
  });
}

function requireTerm(field: string, term: ModelTerm, n: number): void {
  if (term.values.length !== n) {
    throw new InputError('LENGTHS_DIFFER', `${field}.values`, `has ${term.values.length} values for ${n} readings`, 'Give one value per reading.');
  }
  term.values.forEach((value, i) => requireFinite(`${field}.values[${i}]`, value));
}

/** Numbers the groups of each level (outermost first), a group being its path of labels. */
function nestGroups(levels: readonly RandomLevel[], n: number) {
  let outer: Int32Array = new Int32Array(n);
  let outerPaths: (readonly string[])[] = [[]];
  return levels.map((level) => {
    const index = new Int32Array(n);
    const paths: (readonly string[])[] = [];
    const parents: number[] = [];
    const known = new Map<number, Map<string, number>>();
    for (let i = 0; i < n; i += 1) {
      const parent = outer[i]!;
      const label = level.groups[i]!;
      let siblings = known.get(parent);
      if (siblings === undefined) known.set(parent, (siblings = new Map()));
      let group = siblings.get(label);
      if (group === undefined) {
        group = paths.length;
        siblings.set(label, group);
        paths.push([...outerPaths[parent]!, label]);
        parents.push(parent);
      }
      index[i] = group;
    }
    outer = index;
    outerPaths = paths;
    return { index, paths, parents: Int32Array.from(parents) };
  });
}

/** Finds or adds each term's column, divided by its root mean square, in the shared set. */
function placeTerms(terms: readonly ModelTerm[], set: Float64Array[]) {
  const scales: number[] = [];
  const columns = terms.map((term) => {
    const scale = Math.sqrt(term.values.reduce((sum, value) => sum + value * value, 0) / term.values.length);
    if (scale === 0) {
      throw new InputError('ZERO_TERM', term.name, 'every value of the random term is zero', 'Leave the term out.');
    }
    scales.push(scale);
    const column = Float64Array.from(term.values);
    if (scale !== 1) for (let i = 0; i < column.length; i += 1) column[i]! /= scale;
    const found = set.findIndex((known) => known.every((value, i) => value === column[i]));
    return found >= 0 ? found : set.push(column) - 1;
  });
  if (new Set(columns).size < columns.length) {
    throw new InputError('REPEATED_TERM', 'terms', 'two random terms of one level are the same', 'Leave one of them out.');
  }
  return { columns, scales };
}

function requireEstimable(levels: readonly DesignLevel[], n: number, p: number): void {
  let inner = n;
  for (const level of levels) {
    const groups = level.groupPaths.length;
    if (groups < 2) {
      throw new InputError('TOO_FEW_GROUPS', level.name, `the readings come from ${groups} ${level.name}`, `Measure at least two, or leave the ${level.name} level out.`);
    }
    if (groups * level.size >= n || groups >= inner) {
      throw new InputError(
        'NO_REPLICATES',
        level.name,
        `${n} readings cannot tell ${groups} groups with ${level.size} random term(s) each from what varies inside them`,
        `Take more readings in each ${level.name}, or leave a term or the level out.`,
      );
    }
    inner = groups;
  }
  if (n < p + 2) {
    throw new InputError('TOO_FEW_POINTS', 'response', `${n} readings for ${p} fixed terms and the variances`, 'Take more readings.');
  }
}

/** X = Q·R by Gram-Schmidt done twice, which is orthogonal to the last bits, and the residual of y. */
function orthonormalise(fixed: readonly ModelTerm[], response: readonly number[]) {
  const p = fixed.length;
  const triangle = new Float64Array(p * p);
  const q: Float64Array[] = [];
  const sweepOut = (column: Float64Array, into: (k: number, amount: number) => void) => {
    for (let pass = 0; pass < 2; pass += 1) {
      q.forEach((unit, k) => {
        const amount = dot(unit, column);
        into(k, amount);
        for (let i = 0; i < column.length; i += 1) column[i]! -= amount * unit[i]!;
      });
    }
  };
  fixed.forEach((term, j) => {
    const column = Float64Array.from(term.values);
    const before = Math.sqrt(dot(column, column));
    sweepOut(column, (k, amount) => (triangle[k * p + j]! += amount));
    const after = Math.sqrt(dot(column, column));
    if (!(after > 1e-12 * before)) {
      throw new InputError('SINGULAR_DESIGN', term.name, 'the fixed term is a combination of those before it', 'Leave it out, or measure over a wider range.');
    }
    triangle[j * p + j] = after;
    for (let i = 0; i < column.length; i += 1) column[i]! /= after;
    q.push(column);
  });
  const residual = Float64Array.from(response);
  const projected = new Float64Array(p);
  sweepOut(residual, (k, amount) => (projected[k]! += amount));
  return { q, triangle, projected, residual };
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 1) sum += a[i]! * b[i]!;
  return sum;
}

/** Splits each innermost group by Householder reflections into head rows and the cross-products of the remainder. */
function reduceInnermost(columns: readonly Float64Array[], index: Int32Array, levels: readonly DesignLevel[]) {
  const width = columns.length;
  const inner = levels[0]!;
  const size = inner.size;
  const groupCount = inner.groupPaths.length;
  const heads = new Float64Array(groupCount * size * width);
  const remainders = new Float64Array((levels[1]?.groupPaths.length ?? 1) * width * width);
  const { order, starts } = orderByGroup(index, groupCount);
  // One block for all groups, columns one after another: small arrays by the thousand would cost more than the arithmetic.
  const block = new Float64Array(width * columns[0]!.length);
  for (let group = 0; group < groupCount; group += 1) {
    const from = starts[group]!;
    const rows = starts[group + 1]! - from;
    for (let c = 0; c < width; c += 1) {
      const column = columns[c]!;
      for (let r = 0; r < rows; r += 1) block[c * rows + r] = column[order[from + r]!]!;
    }
    const headRows = size < rows ? size : rows;
    for (let j = 0; j < headRows; j += 1) reflect(block, rows, width, j);
    for (let r = 0; r < headRows; r += 1) {
      for (let c = r; c < width; c += 1) heads[(group * size + r) * width + c] = block[c * rows + r]!;
    }
    addRemainder(remainders, inner.parents[group]! * width * width, block, rows, headRows, size, width);
  }
  return { heads, remainders };
}

/** The observations sorted by group, and where each group starts. */
function orderByGroup(index: Int32Array, groupCount: number) {
  const starts = new Int32Array(groupCount + 1);
  for (let i = 0; i < index.length; i += 1) starts[index[i]! + 1]! += 1;
  for (let group = 0; group < groupCount; group += 1) starts[group + 1]! += starts[group]!;
  const next = starts.slice();
  const order = new Int32Array(index.length);
  for (let i = 0; i < index.length; i += 1) order[next[index[i]!]!++] = i;
  return { order, starts };
}

/** Reflects the rows from j on so that column j has nothing below row j. */
function reflect(block: Float64Array, rows: number, width: number, j: number): void {
  const pivot = j * rows;
  let square = 0;
  for (let r = j; r < rows; r += 1) square += block[pivot + r]! ** 2;
  if (square === 0) return;
  const head = block[pivot + j]!;
  const alpha = head > 0 ? -Math.sqrt(square) : Math.sqrt(square);
  // The direction is the column itself with its head moved by −alpha; its length squared is 2·(square − head·alpha).
  block[pivot + j] = head - alpha;
  const half = square - head * alpha;
  for (let c = j + 1; c < width; c += 1) {
    let amount = 0;
    for (let r = j; r < rows; r += 1) amount += block[pivot + r]! * block[c * rows + r]!;
    amount /= half;
    for (let r = j; r < rows; r += 1) block[c * rows + r]! -= amount * block[pivot + r]!;
  }
  block[pivot + j] = alpha;
}

function addRemainder(target: Float64Array, to: number, block: Float64Array, rows: number, headRows: number, size: number, width: number): void {
  for (let a = size; a < width; a += 1) {
    for (let b = a; b < width; b += 1) {
      let sum = 0;
      for (let r = headRows; r < rows; r += 1) sum += block[a * rows + r]! * block[b * rows + r]!;
      target[to + a * width + b]! += sum;
      if (b > a) target[to + b * width + a]! += sum;
    }
  }
}
