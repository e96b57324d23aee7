/** A curve to be fitted, known to the solver only by its values and derivatives at the observations. */
export interface ResponseModel {
  readonly parameterCount: number;
  /**
   * The value expected at observation `index`. Where `gradient` is given, writes ∂value/∂parameterₖ into its k-th place.
   * May return NaN or Infinity outside the model's domain: the solver then steps back.
   */
  evaluate(parameters: Float64Array, index: number, gradient: Float64Array | null): number;
  /**
   * The same for all observations in one call, for curves whose fit must be quick; without it they are asked for one by one.
   * Writes the value of observation i into its i-th place and ∂valueᵢ/∂parameterₖ into place `k * values.length + i`.
   */
  evaluateAll?(parameters: Float64Array, values: Float64Array, derivatives: Float64Array): void;
}

export interface Problem {
  readonly model: ResponseModel;
  readonly response: Float64Array;
  readonly rootWeights: Float64Array | null;
  readonly lower: Float64Array;
  readonly upper: Float64Array;
}

/** A curve's residuals and tangent at a point. */
export interface Columns {
  /** Weighted derivatives, one column a parameter, and the weighted residuals as one column more. */
  readonly all: Float64Array;
  /** Views of the same. */
  readonly derivatives: Float64Array;
  readonly residuals: Float64Array;
  /** Left for the residuals' projection on the tangent. */
  readonly projected: Float64Array;
  /** For whatever else the asker needs. */
  readonly spare: Float64Array;
  /** Of a single observation, for models that are asked for one by one. */
  readonly gradient: Float64Array;
}

export function columnsFor({ model, response }: Problem, spare = 0): Columns {
  const p = model.parameterCount;
  const n = response.length;
  // One piece of memory and views: to ask for a second piece costs as much as a pass over the points.
  const memory = new Float64Array((p + 2) * n + spare);
  return {
    all: memory.subarray(0, (p + 1) * n),
    derivatives: memory.subarray(0, p * n),
    residuals: memory.subarray(p * n, (p + 1) * n),
    projected: memory.subarray((p + 1) * n, (p + 2) * n),
    spare: memory.subarray((p + 2) * n),
    gradient: new Float64Array(p),
  };
}

/** Values and derivatives in one pass: nearly every point tried is also stepped from. */
export function linearise({ model, response, rootWeights }: Problem, parameters: Float64Array, into: Columns): void {
  const { derivatives, residuals, gradient } = into;
  const n = response.length;
  if (model.evaluateAll !== undefined) {
    model.evaluateAll(parameters, residuals, derivatives);
  } else {
    for (let i = 0; i < n; i++) {
      residuals[i] = model.evaluate(parameters, i, gradient);
      for (let k = 0, at = i; k < gradient.length; k++, at += n) derivatives[at] = gradient[k]!;
    }
  }
  for (let i = 0; i < n; i++) residuals[i] = response[i]! - residuals[i]!;
  if (rootWeights === null) return;
  for (let from = 0; from < into.all.length; from += n) {
    for (let i = 0; i < n; i++) into.all[from + i] = into.all[from + i]! * rootWeights[i]!;
  }
}
