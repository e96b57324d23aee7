import type { MixedMethod } from './model.js';

/** One fixed coefficient. */
export interface FixedEffect {
  readonly name: string;
  readonly estimate: number;
  readonly standardError: number;
  /** Satterthwaite's approximate degrees of freedom. */
  readonly degreesOfFreedom: number;
  readonly tRatio: number;
  /** Two-sided, for a true value of zero. */
  readonly pValue: number;
}

/** What one group of one level is predicted to differ by (BLUP), shrunk towards zero. */
export interface GroupEffect {
  /** The labels from the outermost level down to this group. */
  readonly path: readonly string[];
  /** One value for each random term of the level. */
  readonly effects: readonly number[];
  /** Standard deviation of each true effect given the readings, fixed effects and variances taken as known. */
  readonly conditionalSd: readonly number[];
  /** Their covariance. */
  readonly conditionalCovariance: readonly (readonly number[])[];
  /** For each term 1 − conditional variance / variance: 0 when the readings say nothing about the group, 1 when they say all. */
  readonly reliability: readonly number[];
}

/** The variation between the groups of one level. */
export interface LevelVariation {
  readonly name: string;
  readonly termNames: readonly string[];
  readonly groupCount: number;
  /** Covariance of the random terms, in squared units of the response (per unit of the term). */
  readonly covariance: readonly (readonly number[])[];
  readonly sd: readonly number[];
  /** Null where a standard deviation is zero. */
  readonly correlation: readonly (readonly (number | null)[])[];
  /** Λ: covariance = residual variance · Λ·Λᵀ. */
  readonly relativeFactor: readonly (readonly number[])[];
  /** Average share of the variance of a reading that comes from this level; for intercepts alone, the intraclass correlation. */
  readonly share: number;
  /** True when a variance is estimated as exactly zero or a correlation as exactly ±1. */
  readonly atBoundary: boolean;
  readonly groups: readonly GroupEffect[];
}

/** A free parameter of the variances: an element of a level's relative factor Λ, or ln of the residual standard deviation. */
export type VarianceParameter =
  | { readonly kind: 'relative factor'; readonly level: number; readonly row: number; readonly column: number; readonly value: number }
  | { readonly kind: 'log residual sd'; readonly value: number };

/** How the variances are known, for degrees of freedom of anything that depends on them. */
export interface VarianceKnowledge {
  /** Parameters away from the boundary; those at zero are taken as known. */
  readonly parameters: readonly VarianceParameter[];
  /** Directions in which the likelihood is flat, so that the readings cannot tell the parameters apart; 0 in a sound fit. */
  readonly flatDirections: number;
  /** Asymptotic covariance of the parameters: twice the inverse Hessian of the deviance. */
  readonly covariance: readonly (readonly number[])[];
  /** ∂(covariance of the fixed effects)/∂parameter, one p × p matrix for each parameter. */
  readonly fixedCovarianceSlopes: readonly (readonly (readonly number[])[])[];
}

/** How the search for the variances ended. */
export interface Convergence {
  readonly converged: boolean;
  readonly reason: string;
  readonly iterations: number;
  readonly evaluations: number;
  /** Greatest slope of the deviance with respect to a free parameter at the end. */
  readonly gradient: number;
}

/** A fitted linear mixed model. Plain data: it can be stored as JSON and used later. */
export interface MixedFit {
  readonly method: MixedMethod;
  readonly observationCount: number;
  readonly fixed: readonly FixedEffect[];
  readonly fixedCovariance: readonly (readonly number[])[];
  /** Outermost first. */
  readonly levels: readonly LevelVariation[];
  readonly residualSd: number;
  /** For REML the restricted log-likelihood. */
  readonly logLikelihood: number;
  /** −2 · log-likelihood. */
  readonly deviance: number;
  /** Fixed coefficients, variances and covariances, residual variance. */
  readonly parameterCount: number;
  /** REML values compare models with the same fixed terms only. */
  readonly aic: number;
  /** Null when the readings are too few for the correction. */
  readonly aicc: number | null;
  /** Share of the variance of a reading that is residual. */
  readonly residualShare: number;
  /** Fixed part plus predicted effects. */
  readonly fitted: readonly number[];
  /** Response minus fitted. */
  readonly residuals: readonly number[];
  readonly variances: VarianceKnowledge;
  readonly convergence: Convergence;
  /** Plain sentences a reader of the results must know. */
  readonly notes: readonly string[];
}
