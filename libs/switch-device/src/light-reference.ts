import { mean, requireDegreesOfFreedom, variance } from '#libs/numeric';
import { InputError, requirePositive } from '#libs/quantity';
import { requireNotNegative } from './bias-threshold.js';
import type { CertificateLightReference } from './certificate-request.js';

/**
 * How far the light of one more day may lie from the reference: relativeSd·√(1 + 1/days), known with days − 1 degrees of
 * freedom where the reference was estimated from days; relativeSd itself where its centre is taken as known.
 *
 * @param light a reference; `relativeSd` as the SD of ln E
 * @returns SD of ln(E/E_ref) on the day of the trip, and its degrees of freedom (Infinity: taken as known)
 * @throws InputError `TOO_FEW_DAYS`, `NEGATIVE`, `NOT_FINITE`, `DEGREES_OF_FREEDOM`
 *
 * Source: prediction of one future observation from a normal sample, ISO 16269-8:2004 (clause from memory). Days are taken as
 * independent and alike: days in one spell of weather count for fewer than they are.
 *
 * @example
 * spreadOfNextDay({ powerNw: 1000, relativeSd: 0.1, days: 4 }) // => { relativeSd: 0.1 * Math.sqrt(1.25), degreesOfFreedom: 3 }
 */
export function spreadOfNextDay(light: CertificateLightReference): { readonly relativeSd: number; readonly degreesOfFreedom: number } {
  const { relativeSd, days } = light;
  requireNotNegative('lightReference.relativeSd', relativeSd);
  if (days !== undefined && !(Number.isInteger(days) && days >= 2)) {
    throw new InputError('TOO_FEW_DAYS', 'lightReference.days', `expected a whole number of days from 2 up, got ${days}`,
      'Read the light on more days, or leave the days out and state the spread as known.');
  }
  const degreesOfFreedom = light.degreesOfFreedom ?? (days === undefined ? Infinity : days - 1);
  return {
    relativeSd: days === undefined ? relativeSd : relativeSd * Math.sqrt(1 + 1 / days),
    degreesOfFreedom: requireDegreesOfFreedom('lightReference.degreesOfFreedom', degreesOfFreedom),
  };
}

/**
 * A light reference from one reading a day: the geometric mean, and the SD of ln E between days.
 *
 * @param powersNw in-band power at the sensor plane at the moment that decides (the brightest since arming), one a day, nW
 * @returns the reference with its number of days; light is taken as log-normal between days
 * @throws InputError `TOO_FEW_DAYS` below two, `NOT_POSITIVE`, `NOT_FINITE`
 *
 * @example
 * const light = lightReferenceFromDays([900, 1000, 1000 / 0.9]);
 * [light.powerNw, light.days, light.relativeSd.toFixed(4)] // => [1000, 3, '0.1054']
 */
export function lightReferenceFromDays(powersNw: readonly number[]): CertificateLightReference & { readonly days: number } {
  if (powersNw.length < 2) {
    throw new InputError('TOO_FEW_DAYS', 'powersNw', `expected readings of at least two days, got ${powersNw.length}`, 'Read the light on more days.');
  }
  const logs = powersNw.map((power, i) => Math.log(requirePositive(`powersNw[${i}]`, power)));
  return { powerNw: Math.exp(mean(logs)), relativeSd: Math.sqrt(variance(logs)), days: powersNw.length };
}
