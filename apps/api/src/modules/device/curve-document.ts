/** What a fit of P_th = P0·(1 − (V/V_pi)^n) computed, frozen. Powers in nW, biases in V. */
export interface CurveDocument {
  readonly p0Nw: number;
  readonly pullInV: number;
  readonly exponent: number;
  readonly exponentFree: boolean;
  /** Of p0Nw, pullInV, exponent, row by row. */
  readonly covariance: readonly (readonly number[])[];
  readonly residualSdNw: number;
  readonly degreesOfFreedom: number;
  readonly biasMinV: number;
  readonly biasMaxV: number;
  readonly tripTestIds: readonly string[];
  readonly line: readonly { readonly biasV: number; readonly powerNw: number; readonly lowNw: number; readonly highNw: number }[];
}
