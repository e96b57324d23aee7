import { chiSquareSurvival, fSurvival, matrixFromRows, qrLeastSquares } from '#libs/numeric';
import { fitMixedModel } from '../mixed/fit.js';
import type { MixedModelInput, ModelTerm } from '../mixed/model.js';

/** One test of a simpler model against separate lines. */
export interface NestedTest {
  readonly statistic: number;
  readonly numeratorDf: number;
  /** Residual degrees of freedom of the F test; null for the likelihood ratio. */
  readonly denominatorDf: number | null;
  readonly pValue: number;
}

/** The two tests of one question. */
export interface LineTests {
  /** F from the extra sum of squares by least squares: valid only if readings are independent of each other. */
  readonly extraSumOfSquares: NestedTest;
  /** 2·(difference of the maximised log-likelihoods), with the leaf effects asked for: ML, never REML. */
  readonly likelihoodRatio: NestedTest;
}

/** Columns of the three models of one response. */
export interface LineModels {
  readonly separate: readonly ModelTerm[];
  readonly commonSlope: readonly ModelTerm[];
  readonly commonLine: readonly ModelTerm[];
}

export function testLines(response: readonly number[], models: LineModels, levels: MixedModelInput['levels']): { commonSlope: LineTests; commonLine: LineTests } {
  const squares = (fixed: readonly ModelTerm[]) => leastSquares(response, fixed).residualSumOfSquares;
  const logLikelihood = (fixed: readonly ModelTerm[]) => {
    if (levels.length > 0) return fitMixedModel({ response, fixed, levels, method: 'ML' }).logLikelihood;
    const n = response.length;
    return (-n / 2) * (1 + Math.log((2 * Math.PI * squares(fixed)) / n));
  };
  const full = { squares: squares(models.separate), logLikelihood: logLikelihood(models.separate), terms: models.separate.length };
  const against = (simple: readonly ModelTerm[]): LineTests => {
    const extra = full.terms - simple.length;
    const spare = response.length - full.terms;
    const f = (squares(simple) - full.squares) / extra / (full.squares / spare);
    // Rounding can bring the ratio of two equal likelihoods a hair below zero.
    const ratio = Math.max(0, 2 * (full.logLikelihood - logLikelihood(simple)));
    return {
      extraSumOfSquares: { statistic: f, numeratorDf: extra, denominatorDf: spare, pValue: fSurvival(Math.max(0, f), extra, spare) },
      likelihoodRatio: { statistic: ratio, numeratorDf: extra, denominatorDf: null, pValue: chiSquareSurvival(ratio, extra) },
    };
  };
  return { commonSlope: against(models.commonSlope), commonLine: against(models.commonLine) };
}

export function leastSquares(response: readonly number[], fixed: readonly ModelTerm[]) {
  return qrLeastSquares(matrixFromRows(response.map((_, i) => fixed.map((term) => term.values[i]!))), response);
}
