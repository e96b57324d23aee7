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
  /** What reads the leaf on the rig. */
  readonly band: Points;
  readonly sun: Points | null;
  /** What reads it in the field, where it is another band. */
  readonly fieldBand: Points | null;
}

/** What rig and device see of a leaf, under the lamp and under the sun, over the wavelengths that all spectra have. */
export function weigh(spectra: Spectra): object {
  const { leaf, lamp, band, sun, fieldBand } = spectra;
  const all = [leaf, lamp, band, sun, fieldBand].filter((points) => points !== null);
  const fromNm = Math.max(...all.map(({ wavelengthNm }) => wavelengthNm[0]!));
  const toNm = Math.min(...all.map(({ wavelengthNm }) => wavelengthNm.at(-1)!));
  if (!(fromNm < toNm)) throw new InputError('SPECTRUM_TOO_NARROW', 'leafId', `and the other spectra have no wavelength in common (from ${fromNm} to ${toNm} nm)`, 'Choose spectra of one band.');
  const under = (light: Points, absorptance: Points) => bandTransmittance({ transmittance: leaf, light, absorptance, fromNm, toNm });
  const onRig = under(lamp, band);
  const field = fieldOf(spectra);
  const inField = field && under(field.light, field.band);
  if (inField && !(onRig.transmittance > 0)) throw new InputError('NO_TRANSMITTANCE_IN_BAND', 'leafId', `lets through ${onRig.transmittance} of the band under the lamp`, 'Check dark and reference of the leaf’s spectrum.');
  return {
    fromNm, toNm,
    lamp: { transmittance: onRig.transmittance, centreNm: onRig.centreNm },
    sun: inField && { transmittance: inField.transmittance, centreNm: inField.centreNm },
    mismatch: inField && inField.transmittance / onRig.transmittance,
    bandsOverlap: fieldBand && bandOverlap(band, fieldBand, fromNm, toNm),
    waterOverlap: waterOverlapOf(fieldBand ?? band),
    drawn: drawnOf(spectra, fromNm, toNm),
  };
}

/** Light and band in the field; null where both are those of the rig. */
const fieldOf = ({ lamp, band, sun, fieldBand }: Spectra): { light: Points; band: Points } | null => (sun || fieldBand ? { light: sun ?? lamp, band: fieldBand ?? band } : null);

function drawnOf(spectra: Spectra, fromNm: number, toNm: number): object[] {
  const { leaf, lamp, band, sun, fieldBand } = spectra;
  const water = waterBand();
  const grid = unionGrid([leaf, lamp, band, ...(sun ? [sun] : []), ...(fieldBand ? [fieldBand] : []), water], fromNm, toNm);
  const places = grid.length <= DRAWN_MOST ? grid : Array.from({ length: DRAWN_MOST }, (_, i) => fromNm + ((toNm - fromNm) * i) / (DRAWN_MOST - 1));
  const largest = (points: Points): number => Math.max(...places.map((nm) => spectrumAt(points, nm)), Number.MIN_VALUE);
  const [lampTop, sunTop, bandTop, waterTop] = [largest(lamp), sun ? largest(sun) : 1, largest(band), Math.max(...water.values)];
  const field = fieldOf(spectra);
  const rigArea = integrateProduct({ lamp, band }, fromNm, toNm);
  const fieldArea = field ? integrateProduct(field, fromNm, toNm) : 1;
  return places.map((nm) => {
    const [e, a] = [spectrumAt(lamp, nm), spectrumAt(band, nm)];
    return {
      nm, leaf: spectrumAt(leaf, nm), lamp: e / lampTop, sun: sun && spectrumAt(sun, nm) / sunTop, band: a / bandTop,
      lampWeight: (e * a) / rigArea, sunWeight: field && (spectrumAt(field.light, nm) * spectrumAt(field.band, nm)) / fieldArea,
      water: nm >= WATER_NM[0] && nm <= WATER_NM[1] ? spectrumAt(water, nm) / waterTop : null,
    };
  });
}
