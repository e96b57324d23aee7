import { InputError, requireFinite } from './input-error.js';

/** One independent source of uncertainty and what it does to a result. */
export interface Contribution {
  /** names the source; two results that name the same source share its error */
  readonly source: string;
  /** change of the result for one unit of the source */
  readonly sensitivity: number;
  /** standard uncertainty of the source, in the source's unit */
  readonly u: number;
}

export interface BudgetLine extends Contribution {
  /** |sensitivity|·u, in the result's unit */
  readonly contribution: number;
  /** contribution² / u² of the result, 0..1; 0 where the result has no uncertainty */
  readonly share: number;
}

export interface Budget {
  /** combined standard uncertainty */
  readonly u: number;
  readonly lines: readonly BudgetLine[];
}

/** One error has one uncertainty, and its effects on a result add before they are squared. */
function bySource(contributions: readonly Contribution[], uOf = new Map<string, number>()): Map<string, Contribution> {
  const merged = new Map<string, Contribution>();
  for (const { source, sensitivity, u } of contributions) {
    requireFinite(`sensitivity of ${source}`, sensitivity);
    if (requireFinite(`u of ${source}`, u) < 0) {
      throw new InputError('NEGATIVE_UNCERTAINTY', `u of ${source}`, `${u} is below zero`, 'Give a standard uncertainty of zero or more.');
    }
    const known = uOf.get(source) ?? u;
    if (known !== u) {
      throw new InputError(
        'SOURCE_UNCERTAINTY_DIFFERS', source, `its standard uncertainty is once ${known} and once ${u}`,
        'Name two sources if they are two, or give both the same uncertainty.',
      );
    }
    uOf.set(source, u);
    merged.set(source, { source, sensitivity: sensitivity + (merged.get(source)?.sensitivity ?? 0), u });
  }
  return merged;
}

/**
 * Combines independent contributions to first order: u² = Σ cᵢ²uᵢ² (JCGM 100:2008, 5.1.2). Correlated inputs are put in
 * as the independent errors that make them correlated (one source for a dark that serves two readings): the same
 * result as the covariance terms of 5.2.2, and a person can read it. Lines of one source are added before squaring.
 * @throws InputError NOT_FINITE, NEGATIVE_UNCERTAINTY, SOURCE_UNCERTAINTY_DIFFERS
 * @example
 * combineContributions([{ source: 'a', sensitivity: 1, u: 3 }, { source: 'b', sensitivity: -2, u: 2 }]).u // => 5
 */
export function combineContributions(contributions: readonly Contribution[]): Budget {
  const sources = [...bySource(contributions).values()];
  const variance = sources.reduce((sum, { sensitivity, u }) => sum + (sensitivity * u) ** 2, 0);
  return {
    u: Math.sqrt(variance),
    lines: sources.map((line) => ({
      ...line,
      contribution: Math.abs(line.sensitivity) * line.u,
      share: variance === 0 ? 0 : (line.sensitivity * line.u) ** 2 / variance,
    })),
  };
}

/**
 * Covariance matrix of results that share sources: Cᵢⱼ = Σₖ cᵢₖ cⱼₖ uₖ² over the sources k that both name.
 * @returns n×n, symmetric, for n results
 * @throws InputError NOT_FINITE, NEGATIVE_UNCERTAINTY, SOURCE_UNCERTAINTY_DIFFERS (also between results)
 * @example
 * sharedCovariance([[{ source: 'T', sensitivity: 2, u: 1 }], [{ source: 'T', sensitivity: 3, u: 1 }]]) // => [[4, 6], [6, 9]]
 */
export function sharedCovariance(results: readonly (readonly Contribution[])[]): number[][] {
  const uOf = new Map<string, number>();
  const rows = results.map((contributions) => bySource(contributions, uOf));
  // Filled from one triangle: a sum taken in another order could differ in the last bit and break the symmetry.
  const covariance = rows.map(() => new Array<number>(rows.length).fill(0));
  rows.forEach((row, i) => {
    for (let j = 0; j <= i; j += 1) covariance[i]![j] = covariance[j]![i] = sharedProduct(row, rows[j]!);
  });
  return covariance;
}

function sharedProduct(a: ReadonlyMap<string, Contribution>, b: ReadonlyMap<string, Contribution>): number {
  let sum = 0;
  for (const { source, sensitivity, u } of a.values()) sum += sensitivity * u * ((b.get(source)?.sensitivity ?? 0) * u);
  return sum;
}
