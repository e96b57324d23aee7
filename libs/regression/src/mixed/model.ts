/** How the variances are estimated: restricted maximum likelihood, or maximum likelihood. */
export type MixedMethod = 'REML' | 'ML';

/** One column of a model: a name and its value for each observation. */
export interface ModelTerm {
  readonly name: string;
  readonly values: readonly number[];
}

/**
 * One level of grouping with its random terms: plants, leaves of a plant, discs of a leaf.
 *
 * A group is a label *within* the groups of the levels before it: leaf `L1` of plant `P1` is another leaf than `L1` of `P2`.
 */
export interface RandomLevel {
  readonly name: string;
  /** The group of each observation. */
  readonly groups: readonly string[];
  /** The terms that vary from group to group, such as {@link interceptTerm} and the term of the x values. */
  readonly terms: readonly ModelTerm[];
  /** `full`: the terms may correlate; `diagonal`: they are independent. */
  readonly covariance: 'full' | 'diagonal';
}

/** y = X·beta + Σ over levels of Z·b + e, with b and e normal with mean zero and independent between levels. */
export interface MixedModelInput {
  readonly response: readonly number[];
  readonly fixed: readonly ModelTerm[];
  /** Outermost first; may not be empty. */
  readonly levels: readonly RandomLevel[];
  readonly method: MixedMethod;
}

/** A term of `count` ones, named `intercept`. */
export function interceptTerm(count: number): ModelTerm {
  return { name: 'intercept', values: new Array<number>(count).fill(1) };
}
