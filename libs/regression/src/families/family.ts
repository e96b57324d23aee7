import { InputError } from '#libs/quantity';

export type FamilyName = 'log-linear' | 'linear' | 'exponential' | 'power' | 'logistic';

/**
 * On which scale the scatter is taken as even: `relative` fits ln T (a constant share of T, as of lamp and reference
 * drift), `absolute` fits T (a constant number of units, as of dark noise).
 */
export type ErrorScale = 'relative' | 'absolute';

export type Direction = 'falling' | 'rising';

/** A closed range of the predictor. */
export interface Range {
  readonly from: number;
  readonly to: number;
}

/** Where a family is a straight line: response(T) = β₀ + β₁·predictor(x). */
export interface StraightLine {
  readonly errorScale: ErrorScale;
  predictor(x: number): number;
  predictorInverse(z: number): number;
  response(transmittance: number): number;
}

/**
 * A shape that transmittance T may take against the predictor x (RWC as a fraction, or water thickness in µm).
 * All functions are pure; parameters stand in the order of `parameterNames`.
 */
export interface Family {
  readonly name: FamilyName;
  readonly formula: string;
  readonly parameterNames: readonly string[];
  readonly lower: readonly number[];
  readonly upper: readonly number[];
  /** Used unless the caller names another. */
  readonly errorScale: ErrorScale;
  readonly line: StraightLine | null;
  /** T at x; where `gradient` is given, writes ∂T/∂parameterₖ into its k-th place. */
  evaluate(parameters: ArrayLike<number>, x: number, gradient: Float64Array | null): number;
  /** The same at every x in one call: T at xᵢ into `values[i]`, ∂T/∂parameterₖ there into `derivatives[k * x.length + i]`. */
  evaluateAll(parameters: ArrayLike<number>, x: ArrayLike<number>, values: Float64Array, derivatives: Float64Array): void;
  predict(parameters: ArrayLike<number>, x: number): number;
  /** ∂T/∂parameterₖ. */
  gradient(parameters: ArrayLike<number>, x: number): number[];
  /** ∂T/∂x. */
  slope(parameters: ArrayLike<number>, x: number): number;
  /** ∂²T/∂x∂parameterₖ. */
  slopeGradient(parameters: ArrayLike<number>, x: number): number[];
  /** The x at which T is reached, or null where the curve never takes that value. */
  inverse(parameters: ArrayLike<number>, transmittance: number): number | null;
  /** A start near enough for the search, from the points alone. */
  initial(x: readonly number[], transmittance: readonly number[]): number[];
}

/** What a family must say of itself; `evaluateAll` only where a quick fit needs it. */
type Shape = Omit<Family, 'predict' | 'gradient' | 'evaluateAll'> & Partial<Pick<Family, 'evaluateAll'>>;

/** Completes a family by what follows from its `evaluate`. */
export function familyFrom(shape: Shape): Family {
  return {
    evaluateAll(parameters, x, values, derivatives) {
      const gradient = new Float64Array(shape.parameterNames.length);
      for (let i = 0; i < x.length; i++) {
        values[i] = shape.evaluate(parameters, x[i]!, gradient);
        for (let k = 0; k < gradient.length; k++) derivatives[k * x.length + i] = gradient[k]!;
      }
    },
    ...shape,
    predict: (parameters, x) => shape.evaluate(parameters, x, null),
    gradient(parameters, x) {
      const gradient = new Float64Array(shape.parameterNames.length);
      shape.evaluate(parameters, x, gradient);
      return [...gradient];
    },
  };
}

const MONOTONIC_STEPS = 256;

/**
 * Whether the curve falls or rises over the whole range.
 *
 * @throws InputError NOT_MONOTONIC: one transmittance would then stand for two water contents
 * @example
 * directionOver(families['log-linear'], [-0.9, -1], { from: 0.5, to: 1 }) // => 'falling'
 */
export function directionOver(
  family: Pick<Family, 'slope' | 'name'>,
  parameters: ArrayLike<number>,
  range: Range,
): Direction {
  let falls = false;
  let rises = false;
  for (let step = 0; step <= MONOTONIC_STEPS; step++) {
    const slope = family.slope(parameters, range.from + ((range.to - range.from) * step) / MONOTONIC_STEPS);
    if (slope < 0) falls = true;
    else if (slope > 0) rises = true;
  }
  if (falls !== rises) return falls ? 'falling' : 'rising';
  throw new InputError(
    'NOT_MONOTONIC',
    'points',
    `the ${family.name} curve ${falls ? 'turns' : 'is flat'} between ${range.from} and ${range.to}, so a transmittance does not stand for one water content`,
    'Fit another family, or narrow the range.',
  );
}
