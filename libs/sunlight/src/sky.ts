import { raise } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';
import { bandIrradiance, type Band } from './band.js';
import { REFERENCE_AIR_MASS, REFERENCE_SUNLIGHT } from './reference-spectrum.js';
import { airMass, incidenceCosine, type SunPosition } from './sun.js';
import { vapourRatio } from './vapour.js';

/** Aerosol turbidity at 500 nm and Ångström exponent of a rural sky. Source: ASTM G173-03 (0.084) and Bird & Riordan (1984) (1.14). */
const TURBIDITY_500 = 0.084;
const ANGSTROM = 1.14;

/** A clear or veiled sky over a leaf. */
export interface Sky {
  readonly sun: SunPosition;
  /** Precipitable water, cm: about 0.7 in dry, 1.4 in usual, 3 to 5 in humid air. */
  readonly vapourCm: number;
  /** Of the leaf's plane from horizontal, degrees, and the azimuth its upper face leans towards. */
  readonly tiltDeg: number;
  readonly facingDeg: number;
  /** What cloud leaves of the light: 1 under a clear sky, below it under cloud, above it beside a bright one. */
  readonly cloudFactor: number;
}

/**
 * In-band sunlight on a leaf, W m⁻²: the reference spectrum taken to this air mass, vapour and angle, weighted over the band.
 *
 * @returns 0 with the sun below the horizon or behind the leaf
 * @throws InputError of {@link bandIrradiance} and {@link vapourRatio}; `NEGATIVE` for the cloud factor
 *
 * The beam alone: at these wavelengths a clear sky scatters little. Not for a certificate's light reference, which is
 * measured or assumed with its reason; for telling how far hour, season, vapour and tilt move it.
 */
export function inBandSunlight(band: Band, { sun, vapourCm, tiltDeg, facingDeg, cloudFactor }: Sky): number {
  if (requireFinite('cloudFactor', cloudFactor) < 0) throw new InputError('NEGATIVE', 'cloudFactor', `is ${cloudFactor}`, 'Give 1 for a clear sky, less under cloud.');
  if (sun.elevationDeg <= 0) return 0;
  const mass = airMass(sun.elevationDeg);
  const values = REFERENCE_SUNLIGHT.values.map((value, i) => {
    const nm = REFERENCE_SUNLIGHT.wavelengthNm[i]!;
    return value * vapourRatio(nm, vapourCm, mass) * Math.exp(-TURBIDITY_500 * raise(nm / 500, -ANGSTROM) * (mass - REFERENCE_AIR_MASS));
  });
  return cloudFactor * incidenceCosine(sun, tiltDeg, facingDeg) * bandIrradiance(band, { wavelengthNm: REFERENCE_SUNLIGHT.wavelengthNm, values });
}

/** How one sky moves the light and the trip beside another. */
export interface SkyShift {
  /** E/E_ref. */
  readonly ratio: number;
  /** Change of the trip RWC, fraction: (1/b)·ln(E/E_ref); −Infinity without light. */
  readonly rwcShift: number;
}

/**
 * R_trip = R_target + (1/b)·ln(E/E_ref): how far the trip moves from one sky to another.
 *
 * @param relativeSlope b = −dlnT/dR of the calibration at the target
 *
 * @example
 * skyShift(1.1, 1.01).rwcShift.toFixed(3) // => '0.094'
 */
export function skyShift(ratio: number, relativeSlope: number): SkyShift {
  return { ratio, rwcShift: ratio > 0 ? Math.log(ratio) / relativeSlope : -Infinity };
}
