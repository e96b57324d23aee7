import { raise } from '#libs/numeric';
import { InputError, requirePositive } from '#libs/quantity';
import { requireNotNegative } from './bias-threshold.js';

/** Electric constant ε₀, F/m. Source: CODATA 2018 (2022 differs in the tenth digit only). */
export const VACUUM_PERMITTIVITY_F_PER_M = 8.8541878128e-12;

/** An ideal plate on a linear spring over a fixed electrode. */
export interface ParallelPlate {
  /** k, N/m. */
  readonly stiffnessNPerM: number;
  /** g, gap at rest, m. */
  readonly gapM: number;
  /** A, plate area, m². */
  readonly areaM2: number;
}

function requirePlate(plate: ParallelPlate): void {
  requirePositive('stiffnessNPerM', plate.stiffnessNPerM);
  requirePositive('gapM', plate.gapM);
  requirePositive('areaM2', plate.areaM2);
}

/**
 * Pull-in voltage of the ideal parallel plate: V_pi = √(8·k·g³/(27·ε₀·A)).
 *
 * @param plate stiffness N/m, gap m, area m²
 * @returns V
 * @throws InputError `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Source: Senturia, Microsystem Design (2001), chapter 6 (from memory). Cantilevers, tilt and fringe fields depart from it.
 *
 * @example
 * platePullInV({ stiffnessNPerM: 1, gapM: 1e-6, areaM2: 1e-8 }).toFixed(4) // => '1.8293'
 */
export function platePullInV(plate: ParallelPlate): number {
  requirePlate(plate);
  return Math.sqrt((8 * plate.stiffnessNPerM * raise(plate.gapM, 3)) / (27 * VACUUM_PERMITTIVITY_F_PER_M * plate.areaM2));
}

/**
 * Where the plate rests at a bias below pull-in: the stable root of k·x = ε₀·A·V²/(2·(g − x)²), x < g/3.
 *
 * @param plate stiffness N/m, gap m, area m² @param biasV 0 ≤ V ≤ V_pi
 * @returns displacement x towards the electrode, m
 * @throws InputError `BIAS_AT_OR_ABOVE_PULL_IN`, `NEGATIVE`, `NOT_POSITIVE`
 *
 * @example
 * const plate = { stiffnessNPerM: 1, gapM: 3e-6, areaM2: 1e-8 };
 * plateDisplacementM(plate, platePullInV(plate)) // => 1e-6
 */
export function plateDisplacementM(plate: ParallelPlate, biasV: number): number {
  requireNotNegative('biasV', biasV);
  const pullInV = platePullInV(plate);
  if (biasV > pullInV) {
    throw new InputError('BIAS_AT_OR_ABOVE_PULL_IN', 'biasV', `${biasV} V is above pull-in, ${pullInV} V`, 'Choose a bias below pull-in.');
  }
  // With s = x/g the force balance is s·(1 − s)² = (4/27)·(V/V_pi)², a cubic whose smallest root is the stable one.
  const angle = Math.acos(1 - 2 * (biasV / pullInV) ** 2);
  return (plate.gapM * 2 * (1 - Math.cos(angle / 3))) / 3;
}

/**
 * Least bias that holds a closed contact, as a part of pull-in: V_h/V_pi = √(6.75·c·(1 − c)²), c = contact travel/gap.
 *
 * @param contactTravel c, between 1/3 and 1: where the contacts meet, as a part of the gap
 * @returns ratio, falling from 1 at c = 1/3 to 0 at c = 1
 * @throws InputError `CONTACT_BEFORE_INSTABILITY` for c ≤ 1/3, where nothing latches
 *
 * Source: force balance at the contact, without adhesion (which holds longer); derived.
 *
 * @example
 * holdRatio(0.5).toFixed(3) // => '0.919'
 */
export function holdRatio(contactTravel: number): number {
  requirePositive('contactTravel', contactTravel);
  if (contactTravel <= 1 / 3 || contactTravel >= 1) {
    throw new InputError('CONTACT_BEFORE_INSTABILITY', 'contactTravel', `${contactTravel} is not between 1/3 and 1`,
      'Contacts that meet within a third of the gap close without a jump and do not latch.');
  }
  return Math.sqrt(6.75 * contactTravel * (1 - contactTravel) ** 2);
}
