import { formatNumber, InputError, requireFinite } from '#libs/quantity';

/** Values at rising wavelengths, straight lines between them. */
export interface Spectrum {
  /** n wavelengths, nm, strictly rising, n ≥ 2 */
  readonly wavelengthNm: readonly number[];
  /** n values; the unit is the caller's */
  readonly values: readonly number[];
}

/**
 * Refuses what is no spectrum and returns it otherwise.
 * @throws InputError LENGTHS_DIFFER, TOO_FEW_POINTS, UNSORTED_WAVELENGTHS, NOT_FINITE
 */
export function requireSpectrum(field: string, spectrum: Spectrum): Spectrum {
  const { wavelengthNm, values } = spectrum;
  if (wavelengthNm.length !== values.length) {
    throw new InputError('LENGTHS_DIFFER', field, `${wavelengthNm.length} wavelengths and ${values.length} values`, 'Give one value for each wavelength.');
  }
  if (wavelengthNm.length < 2) {
    throw new InputError('TOO_FEW_POINTS', field, `${wavelengthNm.length} points make no spectrum`, 'Give at least two.');
  }
  wavelengthNm.forEach((nm, i) => {
    requireFinite(`${field}.wavelengthNm[${i}]`, nm);
    requireFinite(`${field}.values[${i}]`, values[i]!);
    if (i > 0 && nm <= wavelengthNm[i - 1]!) {
      throw new InputError('UNSORTED_WAVELENGTHS', `${field}.wavelengthNm[${i}]`, `${nm} nm is not above ${wavelengthNm[i - 1]} nm`, 'Give wavelengths in rising order, each once.');
    }
  });
  return spectrum;
}

/** Position of the last grid point that is not above `nm`, at most the second to last. */
function segmentOf(grid: readonly number[], nm: number): number {
  let [low, high] = [0, grid.length - 2];
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (grid[middle]! <= nm) low = middle;
    else high = middle - 1;
  }
  return low;
}

/**
 * Value of a spectrum at a wavelength, on the straight line between its points; beyond its ends it is refused.
 * @throws InputError SPECTRUM_TOO_NARROW
 * @example
 * spectrumAt({ wavelengthNm: [1400, 1500], values: [0, 1] }, 1450) // => 0.5
 */
export function spectrumAt({ wavelengthNm, values }: Spectrum, nm: number, field = 'spectrum'): number {
  const [first, last] = [wavelengthNm[0]!, wavelengthNm.at(-1)!];
  if (!(nm >= first && nm <= last)) {
    throw new InputError('SPECTRUM_TOO_NARROW', field, `it runs from ${formatNumber(first, 3)} to ${formatNumber(last, 3)} nm, not to ${formatNumber(nm, 3)} nm`, 'Measure it over the whole band, or narrow the band.');
  }
  const i = segmentOf(wavelengthNm, nm);
  const w = (nm - wavelengthNm[i]!) / (wavelengthNm[i + 1]! - wavelengthNm[i]!);
  // Both end values are met exactly, which v₀ + w·(v₁ − v₀) would miss by a rounding at w = 1.
  return (1 - w) * values[i]! + w * values[i + 1]!;
}

/** The wavelengths of all spectra within [fromNm, toNm], with both ends. */
export function unionGrid(spectra: readonly Spectrum[], fromNm: number, toNm: number): number[] {
  const all = new Set([fromNm, toNm]);
  for (const { wavelengthNm } of spectra) for (const nm of wavelengthNm) if (nm > fromNm && nm < toNm) all.add(nm);
  return [...all].sort((a, b) => a - b);
}

/**
 * ∫ of the product of up to three spectra over [fromNm, toNm]. On each panel of the union of their grids every spectrum
 * is a straight line, so their product is a cubic at most and Simpson's rule is exact: the result depends on the
 * spectra alone, not on whose grid is finer.
 * @returns the product's unit times nm
 * @throws InputError as {@link requireSpectrum}, SPECTRUM_TOO_NARROW, EMPTY_BAND, TOO_MANY_SPECTRA
 * @example
 * const ramp = { wavelengthNm: [0, 1], values: [0, 1] };
 * integrateProduct({ a: ramp, b: ramp }, 0, 1) // => 0.3333333333333333
 */
export function integrateProduct(spectra: Readonly<Record<string, Spectrum>>, fromNm: number, toNm: number): number {
  const named = Object.entries(spectra);
  if (named.length > 3) {
    throw new InputError('TOO_MANY_SPECTRA', 'spectra', `${named.length} were given`, 'The rule is exact for three at most: multiply two beforehand.');
  }
  if (!(fromNm < toNm)) {
    throw new InputError('EMPTY_BAND', 'toNm', `the band from ${fromNm} to ${toNm} nm is empty`, 'Give a band whose end lies above its start.');
  }
  for (const [field, spectrum] of named) {
    requireSpectrum(field, spectrum);
    spectrumAt(spectrum, fromNm, field);
    spectrumAt(spectrum, toNm, field);
  }
  const product = (nm: number) => named.reduce((value, [field, spectrum]) => value * spectrumAt(spectrum, nm, field), 1);
  const grid = unionGrid(named.map(([, spectrum]) => spectrum), fromNm, toNm);
  let sum = 0;
  for (let i = 1; i < grid.length; i += 1) {
    const [a, b] = [grid[i - 1]!, grid[i]!];
    sum += ((b - a) / 6) * (product(a) + 4 * product(a + (b - a) / 2) + product(b));
  }
  return sum;
}
