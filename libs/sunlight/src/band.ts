import { raise } from '#libs/numeric';
import { integrateProduct, type Spectrum } from '#libs/optics';
import { InputError, requirePositive } from '#libs/quantity';
import { REFERENCE_SUNLIGHT } from './reference-spectrum.js';

/** Where a unit takes light up: centre and full width at half maximum, nm. */
export interface Band {
  readonly centreNm: number;
  readonly widthNm: number;
}

/** The band is followed out to this many half-widths: less than 0.1 % of a bell lies beyond. */
const REACH = 2;

/**
 * Absorptance of a band as a bell (Gaussian) of peak 1 on a 1 nm grid.
 *
 * @throws InputError `NOT_POSITIVE`, `BAND_OUTSIDE_SPECTRUM` where the band leaves the tabulated 1420 to 1560 nm
 *
 * @example
 * bellBand({ centreNm: 1470, widthNm: 20 }).values.at(40) // => 1
 */
export function bellBand({ centreNm, widthNm }: Band): Spectrum {
  requirePositive('centreNm', centreNm);
  requirePositive('widthNm', widthNm);
  const reach = Math.ceil(REACH * widthNm);
  const [first, last] = [REFERENCE_SUNLIGHT.wavelengthNm[0]!, REFERENCE_SUNLIGHT.wavelengthNm.at(-1)!];
  if (centreNm - widthNm < first || centreNm + widthNm > last) {
    throw new InputError('BAND_OUTSIDE_SPECTRUM', 'centreNm', `${centreNm} ± ${widthNm} nm leaves ${first} to ${last} nm`, 'Take a band within the tabulated sunlight.');
  }
  const wavelengthNm = Array.from({ length: 2 * reach + 1 }, (_, i) => centreNm - reach + i).filter((nm) => nm >= first && nm <= last);
  return { wavelengthNm, values: wavelengthNm.map((nm) => raise(0.5, ((2 * (nm - centreNm)) / widthNm) ** 2)) };
}

/**
 * Sunlight that a band takes up, ∫E·A dλ, W m⁻²: weighted over the band, never read off a line.
 *
 * @param light W m⁻² nm⁻¹; the reference atmosphere's where left out
 *
 * @example
 * bandIrradiance({ centreNm: 1540, widthNm: 10 }).toFixed(1) // => '2.9'
 */
export function bandIrradiance(band: Band, light: Spectrum = REFERENCE_SUNLIGHT): number {
  const absorptance = bellBand(band);
  return integrateProduct({ light, absorptance }, absorptance.wavelengthNm[0]!, absorptance.wavelengthNm.at(-1)!);
}
