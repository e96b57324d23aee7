import { InputError } from '#libs/quantity';

/** A measurement model: the output from the input values, in the order of the sources. */
export type Model = (inputs: readonly number[]) => number;

/** First or second partial derivative by Ridders's method, with its error estimate. */
export interface Derivative {
  readonly value: number;
  readonly error: number;
}

const SHRINK = 1.6;
const ROWS = 12;

/**
 * ∂model/∂xᵢ at `inputs` by central differences extrapolated to step zero (Ridders); about ten digits for smooth models.
 *
 * `step` is the first and largest step, in the unit of xᵢ: the standard uncertainty of the input is a good one, since the model matters over
 * that range. Steps on which the model is not finite are shrunk away. Errors: `MODEL_NOT_FINITE`. Source: C. J. F. Ridders, Adv. Eng.
 * Software 4 (1982) 75-76 (from memory).
 *
 * @example
 * partialDerivative(([x, y]) => x * Math.sin(y), [2, 0], 1, 0.1).value // => 2
 */
export function partialDerivative(model: Model, inputs: readonly number[], i: number, step: number): Derivative {
  const at = (shift: number) => model(inputs.map((value, k) => (k === i ? value + shift : value)));
  return extrapolate((h) => (at(h) - at(-h)) / (exactStep(inputs[i]!, h) + exactStep(inputs[i]!, -h)), step, `derivative by input ${i}`);
}

/**
 * ∂²model/∂xᵢ∂xⱼ by central differences extrapolated to step zero; about seven digits for smooth models. Errors and source as {@link partialDerivative}.
 *
 * @example
 * Number(secondDerivative(([x, y]) => x * x * y, [2, 3], 0, 0, 0.5, 0.5).value.toFixed(6)) // => 6
 */
export function secondDerivative(model: Model, inputs: readonly number[], i: number, j: number, stepI: number, stepJ: number): Derivative {
  const at = (a: number, b: number) => model(inputs.map((value, k) => value + (k === i ? a : 0) + (k === j ? b : 0)));
  const centre = model(inputs);
  const what = `second derivative by inputs ${i} and ${j}`;
  if (i === j) return extrapolate((h) => (at(h, 0) - 2 * centre + at(-h, 0)) / (h * h), stepI, what);
  return extrapolate((h) => {
    const k = (h / stepI) * stepJ;
    return (at(h, k) - at(h, -k) - at(-h, k) + at(-h, -k)) / (4 * h * k);
  }, stepI, what);
}

/** The step that floating point really takes from x. */
function exactStep(x: number, h: number): number {
  return Math.abs(x + h - x);
}

/** Neville's table on steps h, h/1.6, h/1.6² …, whose errors are even powers of the step. */
function extrapolate(estimate: (h: number) => number, firstStep: number, what: string): Derivative {
  let step = firstStep;
  let first = estimate(step);
  for (let shrink = 0; shrink < 60 && !Number.isFinite(first); shrink += 1) {
    step /= 2;
    first = estimate(step);
  }
  if (!Number.isFinite(first)) {
    throw new InputError('MODEL_NOT_FINITE', 'model', `the ${what} is not finite`, 'Check the input values, or give the sensitivity coefficient.');
  }
  let row = [first];
  let best: Derivative = { value: first, error: Infinity };
  for (let r = 1; r < ROWS; r += 1) {
    step /= SHRINK;
    const next = [estimate(step)];
    let weight = SHRINK * SHRINK;
    for (let k = 1; k <= r; k += 1) {
      next.push((next[k - 1]! * weight - row[k - 1]!) / (weight - 1));
      weight *= SHRINK * SHRINK;
      const error = Math.max(Math.abs(next[k]! - next[k - 1]!), Math.abs(next[k]! - row[k - 1]!));
      if (error < best.error) best = { value: next[k]!, error };
    }
    // Once the last column worsens clearly, only rounding is left to extrapolate.
    if (Math.abs(next[r]! - row[r - 1]!) >= 2 * best.error && r > 3) break;
    row = next;
  }
  return best;
}
