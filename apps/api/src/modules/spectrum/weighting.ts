import { bandOverlap, bandTransmittance, integrateProduct, spectrumAt, unionGrid, waterBand, type Spectrum as Points } from '#libs/optics';
import { InputError } from '#libs/quantity';

const DRAWN_MOST = 400;
const WATER_NM = [1400, 1600] as const;

/** How far a band lies over that of water; null where it does not cover it. */
export function waterOverlapOf(band: Points): number | null {
  const [from, to] = WATER_NM;
  return band.wavelengthNm[0]! <= from && band.wavelengthNm.at(-1)! >= to ? bandOverlap(band, waterBand(), from, to) : null;
}

interface Spectra {
  readonly leaf: Points;
  readonly lamp: Points;
  readonly band: Points;
  readonly sun: Points | null;
}

/** What a device sees of a leaf, under the lamp and under the sun, over the wavelengths that all spectra have. */
export function weigh({ leaf, lamp, band, sun }: Spectra): object {
  const all = [leaf, lamp, band, ...(sun ? [sun] : [])];
  const fromNm = Math.max(...all.map(({ wavelengthNm }) => wavelengthNm[0]!));
  const toNm = Math.min(...all.map(({ wavelengthNm }) => wavelengthNm.at(-1)!));
  if (!(fromNm < toNm)) throw new InputError('SPECTRUM_TOO_NARROW', 'leafId', `and the other spectra have no wavelength in common (from ${fromNm} to ${toNm} nm)`, 'Choose spectra of one band.');
  const under = (light: Points) => bandTransmittance({ transmittance: leaf, light, absorptance: band, fromNm, toNm });
  const [underLamp, underSun] = [under(lamp), sun ? under(sun) : null];
  if (underSun && !(underLamp.transmittance > 0)) throw new InputError('NO_TRANSMITTANCE_IN_BAND', 'leafId', `lets through ${underLamp.transmittance} of the band under the lamp`, 'Check dark and reference of the leaf’s spectrum.');
  return {
    fromNm, toNm,
    lamp: { transmittance: underLamp.transmittance, centreNm: underLamp.centreNm },
    sun: underSun && { transmittance: underSun.transmittance, centreNm: underSun.centreNm },
    mismatch: underSun && underSun.transmittance / underLamp.transmittance,
    waterOverlap: waterOverlapOf(band),
    drawn: drawnOf({ leaf, lamp, band, sun }, fromNm, toNm),
  };
}

function drawnOf({ leaf, lamp, band, sun }: Spectra, fromNm: number, toNm: number): object[] {
  const water = waterBand();
  const grid = unionGrid([leaf, lamp, band, ...(sun ? [sun] : []), water], fromNm, toNm);
  const places = grid.length <= DRAWN_MOST ? grid : Array.from({ length: DRAWN_MOST }, (_, i) => fromNm + ((toNm - fromNm) * i) / (DRAWN_MOST - 1));
  const largest = (points: Points): number => Math.max(...places.map((nm) => spectrumAt(points, nm)), Number.MIN_VALUE);
  const [lampTop, sunTop, bandTop, waterTop] = [largest(lamp), sun ? largest(sun) : 1, largest(band), Math.max(...water.values)];
  const [lampArea, sunArea] = [integrateProduct({ lamp, band }, fromNm, toNm), sun ? integrateProduct({ sun, band }, fromNm, toNm) : 1];
  return places.map((nm) => {
    const [e, a] = [spectrumAt(lamp, nm), spectrumAt(band, nm)];
    const s = sun && spectrumAt(sun, nm);
    return {
      nm, leaf: spectrumAt(leaf, nm), lamp: e / lampTop, sun: s === null ? null : s / sunTop, band: a / bandTop,
      lampWeight: (e * a) / lampArea, sunWeight: s === null ? null : (s * a) / sunArea,
      water: nm >= WATER_NM[0] && nm <= WATER_NM[1] ? spectrumAt(water, nm) / waterTop : null,
    };
  });
}
