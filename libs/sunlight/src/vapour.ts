import { raise } from '#libs/numeric';
import { requirePositive } from '#libs/quantity';
import { REFERENCE_AIR_MASS, REFERENCE_VAPOUR_CM } from './reference-spectrum.js';

/** Absorption coefficients of water vapour by wavelength nm. Source: Bird & Riordan, NREL TR-215-2436 (1984), table of the 122 wavelengths. */
const VAPOUR: readonly (readonly [nm: number, a: number])[] = [
  [1395, 1000], [1442.5, 185], [1462.5, 80], [1477, 80], [1497, 12], [1520, 0.16], [1539, 0.002], [1558, 0.0005], [1578, 0.0001],
];

/** Coefficient at a wavelength: straight in its logarithm between the tabulated ones. */
function coefficientAt(nm: number): number {
  const above = Math.min(Math.max(VAPOUR.findIndex(([tabulated]) => tabulated >= nm), 1), VAPOUR.length - 1);
  const [[nm0, a0], [nm1, a1]] = [VAPOUR[above - 1]!, VAPOUR[above]!];
  const part = Math.min(Math.max((nm - nm0) / (nm1 - nm0), 0), 1);
  return Math.exp(Math.log(a0) + part * (Math.log(a1) - Math.log(a0)));
}

/**
 * Transmittance of the atmosphere's water vapour: exp(−0.2385·a·W·M/(1 + 20.07·a·W·M)^0.45).
 *
 * @param nm wavelength, 1395 to 1578 @param vapourCm precipitable water W, cm @param airMass M
 * @returns fraction at the table's resolution of about 15 nm: the lines themselves are not in it
 * @throws InputError `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Source: Bird & Riordan (1984), eq. 2-8.
 *
 * @example
 * vapourTransmittance(1462.5, 1.42, 1.5).toFixed(3) // => '0.352'
 */
export function vapourTransmittance(nm: number, vapourCm: number, airMass: number): number {
  requirePositive('vapourCm', vapourCm);
  requirePositive('airMass', airMass);
  const path = coefficientAt(nm) * vapourCm * airMass;
  return Math.exp((-0.2385 * path) / raise(1 + 20.07 * path, 0.45));
}

/** Vapour transmittance beside that of the reference atmosphere. */
export const vapourRatio = (nm: number, vapourCm: number, airMass: number): number =>
  vapourTransmittance(nm, vapourCm, airMass) / vapourTransmittance(nm, REFERENCE_VAPOUR_CM, REFERENCE_AIR_MASS);
