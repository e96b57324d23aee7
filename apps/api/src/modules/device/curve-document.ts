/** What a fit of P_th = P0·(1 − (V/V_pi)^n) computed, frozen. Powers in nW, biases in V. */
export interface CurveDocument {
  readonly p0Nw: number;
  readonly pullInV: number;
  readonly exponent: number;
  readonly exponentFree: boolean;
  /** Which end of 2/3 to 2 a free exponent rests at, or null. */
  readonly exponentAtBound: 'lower' | 'upper' | null;
  /** Where the pull-in voltage comes from: held as the sweeps found it, or fitted to the trip tests. */
  readonly pullInFrom: 'sweeps' | 'trip tests';
  /** Of p0Nw, pullInV, exponent, row by row. */
  readonly covariance: readonly (readonly number[])[];
  /** Whether trip powers were taken to scatter alike in nW or in proportion to the threshold; absent in curves of before that was asked. */
  readonly scatter?: 'constant' | 'proportional';
  readonly residualSdNw: number;
  /** Relative scatter of one trip about the curve; null where it could not be told. */
  readonly tripScatter: number | null;
  readonly degreesOfFreedom: number;
  readonly biasMinV: number;
  readonly biasMaxV: number;
  /** The highest bias at which the contact opened again in a downward sweep: a tripped unit below it lets go. Null where none shows it; absent in curves of before it was kept. */
  readonly holdV?: number | null;
  readonly tripTestIds: readonly string[];
  readonly line: readonly { readonly biasV: number; readonly powerNw: number; readonly lowNw: number; readonly highNw: number }[];
}
