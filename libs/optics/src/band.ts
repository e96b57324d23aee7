import { InputError, requirePositive } from '#libs/quantity';
import { LEAF_COEFFICIENTS } from './leaf-coefficients.js';
import { integrateProduct, requireSpectrum, Spectrum, spectrumAt, unionGrid } from './spectrum.js';

export interface BandInput {
  /** T(λ) of the leaf, fraction */
  readonly transmittance: Spectrum;
  /** E(λ) of lamp or sun; only its shape counts for T_band */
  readonly light: Spectrum;
  /** A(λ) of the device or, on a rig, filter times meter response; only its shape counts for T_band */
  readonly absorptance: Spectrum;
  /** the band; left out, it is the range of `absorptance` */
  readonly fromNm?: number;
  readonly toNm?: number;
}

export interface BandTransmittance {
  /** T_band, fraction */
  readonly transmittance: number;
  /** ∫ E A dλ: light's unit × nm */
  readonly incident: number;
  /** ∫ E T A dλ: light's unit × nm; for E in W m⁻² nm⁻¹ the irradiance the device takes up through the leaf */
  readonly absorbed: number;
  /** where the weight E·A has its centre, nm */
  readonly centreNm: number;
  readonly fromNm: number;
  readonly toNm: number;
}

/**
 * Transmittance of a leaf as a device sees it, T_band = ∫E T A dλ / ∫E A dλ, the spectra each on their own grid.
 * Lamp and sun give different values for one leaf: say which light it is for.
 *
 * @throws InputError SPECTRUM_TOO_NARROW (a spectrum does not cover the band), NO_LIGHT_IN_BAND and those of `integrateProduct`
 * @example
 * const flat = (value) => ({ wavelengthNm: [1400, 1500], values: [value, value] });
 * bandTransmittance({ transmittance: { wavelengthNm: [1400, 1500], values: [0.1, 0.3] }, light: flat(2), absorptance: flat(0.9) }).transmittance.toFixed(3) // => '0.200'
 */
export function bandTransmittance({ transmittance, light, absorptance, ...band }: BandInput): BandTransmittance {
  requireSpectrum('absorptance', absorptance);
  const fromNm = band.fromNm ?? absorptance.wavelengthNm[0]!;
  const toNm = band.toNm ?? absorptance.wavelengthNm.at(-1)!;
  const incident = integrateProduct({ light, absorptance }, fromNm, toNm);
  if (!(incident > 0)) {
    throw new InputError('NO_LIGHT_IN_BAND', 'light', `∫E·A from ${fromNm} to ${toNm} nm is ${incident}`, 'Check that both spectra have the same wavelengths and no offset below zero.');
  }
  const absorbed = integrateProduct({ light, transmittance, absorptance }, fromNm, toNm);
  const ramp = { wavelengthNm: [fromNm, toNm], values: [fromNm, toNm] };
  return {
    transmittance: absorbed / incident, incident, absorbed,
    centreNm: integrateProduct({ light, absorptance, ramp }, fromNm, toNm) / incident, fromNm, toNm,
  };
}

export interface SpectralMismatch {
  readonly lamp: BandTransmittance;
  readonly sun: BandTransmittance;
  /** T_band under the sun over T_band under the lamp: what a bench value is multiplied by for the field */
  readonly factor: number;
}

/**
 * Spectral mismatch of a leaf between lamp and sun, M = T_band(sun)/T_band(lamp) for one device; the idea is that of
 * the mismatch factor of photovoltaic devices (IEC 60904-7; from memory). M changes with the leaf's water: give it
 * near the target RWC, and store it with the calibration.
 *
 * @throws InputError as {@link bandTransmittance}, NO_TRANSMITTANCE_IN_BAND
 * @example
 * const flat = { wavelengthNm: [1400, 1500], values: [1, 1] };
 * spectralMismatch({ transmittance: flat, lamp: flat, sun: flat, absorptance: flat }).factor // => 1
 */
export function spectralMismatch(
  { lamp, sun, ...shared }: Omit<BandInput, 'light'> & { readonly lamp: Spectrum; readonly sun: Spectrum },
): SpectralMismatch {
  const underLamp = bandTransmittance({ ...shared, light: lamp });
  const underSun = bandTransmittance({ ...shared, light: sun });
  if (!(underLamp.transmittance > 0)) {
    throw new InputError('NO_TRANSMITTANCE_IN_BAND', 'transmittance', `T_band under the lamp is ${underLamp.transmittance}`, 'Check the dark and reference of the leaf\'s spectrum.');
  }
  return { lamp: underLamp, sun: underSun, factor: underSun.transmittance / underLamp.transmittance };
}

/**
 * How far two bands lie over each other: ∫ min(a/∫a, b/∫b) dλ over the wavelengths they have in common, 0 for bands apart and 1 for bands of
 * one shape; only the shapes count. Exact for spectra of straight lines: panels are parted where the two cross.
 *
 * @throws InputError SPECTRUM_TOO_NARROW, EMPTY_BAND, NO_LIGHT_IN_BAND and those of `requireSpectrum`
 * Source: the overlapping coefficient of two densities (M. S. Weitzman, 1970; from memory).
 * @example
 * const tent = (centre) => ({ wavelengthNm: [1400, centre, 1500], values: [0, 1, 0] });
 * [bandOverlap(tent(1450), tent(1450), 1400, 1500), bandOverlap(tent(1440), tent(1460), 1400, 1500).toFixed(3)] // => [1, '0.833']
 */
export function bandOverlap(a: Spectrum, b: Spectrum, fromNm: number, toNm: number): number {
  const areas = [integrateProduct({ a }, fromNm, toNm), integrateProduct({ b }, fromNm, toNm)] as const;
  areas.forEach((area, i) => {
    if (!(area > 0)) throw new InputError('NO_LIGHT_IN_BAND', ['a', 'b'][i]!, `its area from ${fromNm} to ${toNm} nm is ${area}`, 'Take a spectrum that is above zero in the band.');
  });
  const shareAt = (nm: number): readonly [number, number] => [spectrumAt(a, nm, 'a') / areas[0], spectrumAt(b, nm, 'b') / areas[1]];
  const grid = unionGrid([a, b], fromNm, toNm);
  let sum = 0;
  for (let i = 1; i < grid.length; i += 1) {
    const width = grid[i]! - grid[i - 1]!;
    const [p0, q0] = shareAt(grid[i - 1]!);
    const [p1, q1] = shareAt(grid[i]!);
    const [d0, d1] = [p0 - q0, p1 - q1];
    // Where they cross inside the panel the smaller one has a corner.
    const at = d0 * d1 < 0 ? d0 / (d0 - d1) : 1;
    const corner = p0 + (p1 - p0) * at;
    sum += at === 1 ? (width * (Math.min(p0, q0) + Math.min(p1, q1))) / 2 : (width * (at * (Math.min(p0, q0) + corner) + (1 - at) * (corner + Math.min(p1, q1)))) / 2;
  }
  return Math.min(sum, 1);
}

/**
 * Absorption of water round its band near 1450 nm, cm⁻¹, 1400 to 1600 nm: where a device must look to see water. From {@link LEAF_COEFFICIENTS}.
 *
 * @example
 * waterBand().values[14] // => 28
 */
export const waterBand = (): Spectrum => ({ wavelengthNm: LEAF_COEFFICIENTS.map(([nm]) => nm), values: LEAF_COEFFICIENTS.map(([,, water]) => water) });

export interface BandShape {
  /** where the largest value stands, nm, and that value */
  readonly peakNm: number;
  readonly peak: number;
  /** middle between the two half maxima, nm */
  readonly centreNm: number;
  /** full width at half maximum, nm */
  readonly widthNm: number;
}

/**
 * Where a band lies: the half maxima on either side of its peak, the centre between them and their distance. A second peak counts
 * only where the band does not fall below half in between.
 *
 * @param band values with their zero where nothing is taken up
 * @throws InputError BAND_CUT_OFF (it does not fall below half of its peak within the measured wavelengths), EMPTY_BAND and those of `requireSpectrum`
 * @example
 * bandShape({ wavelengthNm: [1400, 1450, 1520], values: [0, 1, 0] }) // => { peakNm: 1450, peak: 1, centreNm: 1455, widthNm: 60 }
 */
export function bandShape(band: Spectrum): BandShape {
  const { wavelengthNm, values } = requireSpectrum('band', band);
  const top = values.reduce((best, value, i) => (value > values[best]! ? i : best), 0);
  const peak = values[top]!;
  if (!(peak > 0)) throw new InputError('EMPTY_BAND', 'band', `has no value above zero; its largest is ${peak}`, 'Take a spectrum of what is absorbed or let through, not of what is reflected.');
  const halfBeyond = (step: 1 | -1): number => {
    for (let i = top + step; i >= 0 && i < values.length; i += step) {
      const [inner, outer] = [values[i - step]!, values[i]!];
      if (outer <= peak / 2) return wavelengthNm[i]! + ((wavelengthNm[i - step]! - wavelengthNm[i]!) * (peak / 2 - outer)) / (inner - outer);
    }
    const end = step < 0 ? wavelengthNm[0]! : wavelengthNm.at(-1)!;
    throw new InputError('BAND_CUT_OFF', 'band', `does not fall to half of its peak (${peak} at ${wavelengthNm[top]} nm) before ${end} nm`, 'Measure further out, until it is below half of its peak on both sides.');
  };
  const [below, above] = [halfBeyond(-1), halfBeyond(1)];
  return { peakNm: wavelengthNm[top]!, peak, centreNm: (below + above) / 2, widthNm: above - below };
}

/** So many points on either side of the centre of a bell, out to two full widths, where it is below 2e-5. */
const BELL_POINTS = 60;

/**
 * A band of which only centre and full width at half maximum are known, taken as a bell: exp(−4 ln 2 ((λ − centre)/width)²).
 *
 * @param centreNm above 0 @param widthNm full width at half maximum, above 0
 * @example
 * const { centreNm, widthNm } = bandShape(bellBand(1470, 12));
 * [centreNm, widthNm.toFixed(1)] // => [1470, '12.0']
 */
export function bellBand(centreNm: number, widthNm: number): Spectrum {
  requirePositive('centreNm', centreNm);
  requirePositive('widthNm', widthNm);
  const offsets = Array.from({ length: 2 * BELL_POINTS + 1 }, (_, i) => (2 * (i - BELL_POINTS)) / BELL_POINTS);
  return { wavelengthNm: offsets.map((x) => centreNm + x * widthNm), values: offsets.map(bell) };
}

/**
 * A bell of height 1 at so many full widths at half maximum from its centre: exp(−4 ln 2 x²).
 *
 * @example
 * bell(0.5) // => 0.5
 */
export const bell = (widths: number): number => Math.exp(-4 * Math.LN2 * widths * widths);
