import { secondDerivative, partialDerivative, type Model } from './derivative.js';
import { positionsByName, type UncertaintySource } from './source.js';

/** First-order uncertainty with the next terms of the Taylor series. */
export interface SecondOrder {
  readonly firstOrder: number;
  readonly standardUncertainty: number;
  /** ½ Σ ∂²f/∂xᵢ² u²: by how much the mean of the output is off the model at the mean inputs. */
  readonly meanShift: number;
}

/**
 * Uncertainty with the second-order terms Σᵢ Σⱼ [½ f_ij² + f_i f_ijj] uᵢ² uⱼ², for models that curve over the range of their inputs.
 *
 * Assumes independent, normally distributed inputs; where the terms matter much, Monte Carlo is the better tool. Serves where the model is
 * stationary and {@link propagate} refuses. Errors: `REPEATED_NAME`, `MODEL_NOT_FINITE`.
 * Source: JCGM 100:2008, 5.1.2 note, and H.1.7.
 *
 * @example
 * const x = [normalSource('x', 0, 1), normalSource('y', 0, 1)];
 * const result = secondOrderUncertainty(x, ([x, y]) => x + x * y);
 * Number(result.standardUncertainty.toFixed(6)) // => 1.414214
 */
export function secondOrderUncertainty(sources: readonly UncertaintySource[], model: Model): SecondOrder {
  positionsByName(sources);
  const inputs = sources.map((source) => source.value);
  const u = sources.map((source) => source.standardUncertainty);
  const slopes = sources.map((_, i) => (u[i] === 0 ? 0 : partialDerivative(model, inputs, i, u[i]!).value));
  const firstOrder = Math.hypot(...slopes.map((slope, i) => slope * u[i]!));
  let added = 0;
  let meanShift = 0;
  for (let i = 0; i < sources.length; i += 1) {
    for (let j = 0; j < sources.length; j += 1) {
      if (u[i] === 0 || u[j] === 0) continue;
      const curvature = secondDerivative(model, inputs, i, j, u[i]!, u[j]!).value;
      const slopeAlong = (shifted: readonly number[]) => partialDerivative(model, shifted, i, u[i]!).value;
      const third = secondDerivative(slopeAlong, inputs, j, j, u[j]!, u[j]!).value;
      added += (curvature ** 2 / 2 + slopes[i]! * third) * u[i]! ** 2 * u[j]! ** 2;
      if (i === j) meanShift += (curvature * u[i]! ** 2) / 2;
    }
  }
  return { firstOrder, standardUncertainty: Math.sqrt(firstOrder ** 2 + added), meanShift };
}
