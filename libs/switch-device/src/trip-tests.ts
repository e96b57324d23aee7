import { raise } from '#libs/numeric';
import { InputError, requirePositive } from '#libs/quantity';
import { requireNotNegative } from './bias-threshold.js';

/** One trip test: the power at which the unit latched while the light rose at a fixed bias. */
export interface TripTest {
  /** Magnitude of the bias, V, zero or more. */
  readonly biasV: number;
  /** Power at which it tripped, nW, above zero. */
  readonly tripPowerNw: number;
  /** Standard uncertainty of that power, nW; for every test or for none. */
  readonly uNw?: number;
}

/** Trip tests as columns, each with its weight 1/u², or 1 where none is stated. */
export interface Design {
  readonly bias: readonly number[];
  readonly power: readonly number[];
  readonly weight: readonly number[];
  readonly stated: boolean;
}

/** @throws InputError NOT_FINITE, NEGATIVE, NOT_POSITIVE, UNCERTAINTY_FOR_SOME */
export function readTests(tests: readonly TripTest[]): Design {
  const stated = tests.some((t) => t.uNw !== undefined);
  tests.forEach((t, i) => {
    requireNotNegative(`tripTests[${i}].biasV`, t.biasV);
    requirePositive(`tripTests[${i}].tripPowerNw`, t.tripPowerNw);
    if (!stated) return;
    if (t.uNw === undefined) {
      throw new InputError('UNCERTAINTY_FOR_SOME', `tripTests[${i}].uNw`, 'is missing while other tests state theirs',
        'State the uncertainty of every trip power or of none.');
    }
    requirePositive(`tripTests[${i}].uNw`, t.uNw);
  });
  return {
    bias: tests.map((t) => t.biasV),
    power: tests.map((t) => t.tripPowerNw),
    weight: tests.map((t) => (t.uNw === undefined ? 1 : raise(t.uNw, -2))),
    stated,
  };
}
