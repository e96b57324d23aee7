/** A curve to be fitted, known to the solver only by its values and derivatives at the observations. */
export interface ResponseModel {
  readonly parameterCount: number;
  /**
   * The value expected at observation `index`. Where `gradient` is given, writes ∂value/∂parameterₖ into its k-th place.
   * May return NaN or Infinity outside the model's domain: the solver then steps back.
   */
  evaluate(parameters: Float64Array, index: number, gradient: Float64Array | null): number;
}

export interface Problem {
  readonly model: ResponseModel;
  readonly response: Float64Array;
  readonly rootWeights: Float64Array | null;
  readonly lower: Float64Array;
  readonly upper: Float64Array;
}
