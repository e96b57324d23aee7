import { raise } from '#libs/numeric';
import { InputError, requireFinite } from '#libs/quantity';
import { bandShape, bandTransmittance, type BandShape } from './band.js';
import { LEAF_COEFFICIENTS } from './leaf-coefficients.js';
import type { Spectrum } from './spectrum.js';

export interface PlateLeaf {
  /** equivalent water thickness, µm */
  readonly ewtUm: number;
  /** leaf mass per area, g m⁻² */
  readonly lmaGm2: number;
  /** number of plates N the leaf scatters like: 1 compact, about 1.5 in cereals, 2 and more in spongy leaves */
  readonly structureN: number;
  /** 1400 to 1600 nm */
  readonly wavelengthNm: number;
}

export interface LeafOptics {
  /** hemispherical fractions for light within 40° of the normal */
  readonly transmittance: number;
  readonly reflectance: number;
}

/** Light of a lamp or the sky comes within this angle of the leaf's normal, the value the published coefficients were fitted with. */
const INCIDENCE_DEG = 40;

/**
 * Transmittance of a leaf by the generalised plate model (Allen 1969; Jacquemoud & Baret, Remote Sens. Environ. 34
 * (1990) 75-91) with the coefficients of {@link LEAF_COEFFICIENTS}: one plate of absorption k = (k_w·EWT + k_m·LMA)/N
 * and rough surfaces, then N of them stacked by Stokes's solution. Scattering lengthens the path, so T falls faster
 * with water than Beer-Lambert says. A model leaf: for simulation and planning, never in place of a calibration.
 *
 * @returns a fraction
 * @throws InputError NOT_FINITE, NEGATIVE_AMOUNT, STRUCTURE_BELOW_ONE, WAVELENGTH_OUT_OF_RANGE
 * @example
 * leafTransmittance({ ewtUm: 180, lmaGm2: 40, structureN: 1.5, wavelengthNm: 1470 }).toFixed(3) // => '0.151'
 */
export function leafTransmittance(leaf: PlateLeaf): number {
  return leafOptics(leaf).transmittance;
}

/**
 * Transmittance and reflectance of the same model; what is left to 1 is absorbed.
 * @throws InputError as {@link leafTransmittance}
 * @example
 * const { transmittance, reflectance } = leafOptics({ ewtUm: 0, lmaGm2: 0, structureN: 2, wavelengthNm: 1500 });
 * transmittance + reflectance // => 1
 */
export function leafOptics(leaf: PlateLeaf): LeafOptics {
  requireLeaf(leaf);
  const { refractiveIndex, waterPerCm, dryCm2PerG } = leafCoefficients(leaf.wavelengthNm);
  const absorption = (waterPerCm * leaf.ewtUm * 1e-4 + dryCm2PerG * leaf.lmaGm2 * 1e-4) / leaf.structureN;
  return stack(plate(refractiveIndex, isotropicTransmission(absorption)), leaf.structureN);
}

/**
 * Refractive index, water absorption and dry-matter absorption of leaf tissue at a wavelength from 1400 to 1600 nm.
 * @throws InputError WAVELENGTH_OUT_OF_RANGE, NOT_FINITE
 * @example
 * leafCoefficients(1470).waterPerCm // => 28
 */
export function leafCoefficients(wavelengthNm: number): {
  readonly refractiveIndex: number; readonly waterPerCm: number; readonly dryCm2PerG: number;
} {
  requireFinite('wavelengthNm', wavelengthNm);
  const [lowest, highest] = [LEAF_COEFFICIENTS[0]![0], LEAF_COEFFICIENTS.at(-1)![0]];
  if (wavelengthNm < lowest || wavelengthNm > highest) {
    throw new InputError(
      'WAVELENGTH_OUT_OF_RANGE', 'wavelengthNm', `${wavelengthNm} nm is outside ${lowest} to ${highest} nm`, 'Give a wavelength within the tabulated water band.',
    );
  }
  const upper = Math.max(1, LEAF_COEFFICIENTS.findIndex(([nm]) => nm >= wavelengthNm));
  const [a, b] = [LEAF_COEFFICIENTS[upper - 1]!, LEAF_COEFFICIENTS[upper]!];
  const w = (wavelengthNm - a[0]) / (b[0] - a[0]);
  const between = (column: 1 | 2 | 3) => a[column] + w * (b[column] - a[column]);
  return { refractiveIndex: between(1), waterPerCm: between(2), dryCm2PerG: between(3) };
}

interface Plate {
  /** first plate, light within the incidence cone */
  readonly top: LeafOptics;
  /** plates below, diffuse light */
  readonly inner: LeafOptics;
}

/** A single absorbing plate with rough surfaces (Allen, Gausman, Richardson & Thomas, J. Opt. Soc. Am. 59 (1969) 1376-1379). */
function plate(n: number, transmission: number): Plate {
  const entering = surfaceTransmission(n, INCIDENCE_DEG);
  const diffuse = surfaceTransmission(n, 90);
  const leaving = diffuse / n ** 2;
  const back = 1 - leaving;
  const round = 1 - back ** 2 * transmission ** 2;
  const through = (first: number) => (first * transmission * leaving) / round;
  const side = (first: number): LeafOptics => ({ transmittance: through(first), reflectance: 1 - first + back * transmission * through(first) });
  return { top: side(entering), inner: side(diffuse) };
}

/** N plates, N not necessarily whole (Stokes, Proc. R. Soc. Lond. 11 (1862) 545-556). */
function stack({ top, inner }: Plate, plates: number): LeafOptics {
  const below = pile(inner, plates - 1);
  const round = 1 - below.reflectance * inner.reflectance;
  return {
    transmittance: (top.transmittance * below.transmittance) / round,
    reflectance: top.reflectance + (top.transmittance * below.reflectance * inner.transmittance) / round,
  };
}

function pile({ transmittance: t, reflectance: r }: LeafOptics, plates: number): LeafOptics {
  // Without absorption the general solution is 0/0; its limit is this.
  if (r + t >= 1 - 1e-12) {
    const through = t / (t + (1 - t) * plates);
    return { transmittance: through, reflectance: 1 - through };
  }
  const delta = Math.sqrt((1 + r + t) * (1 + r - t) * (1 - r + t) * (1 - r - t));
  const a = (1 + r ** 2 - t ** 2 + delta) / (2 * r);
  const b = raise((1 - r ** 2 + t ** 2 + delta) / (2 * t), plates);
  const denominator = a ** 2 * b ** 2 - 1;
  return { transmittance: (b * (a ** 2 - 1)) / denominator, reflectance: (a * (b ** 2 - 1)) / denominator };
}

/** Diffuse light through a layer of optical depth k: (1 − k)e⁻ᵏ + k²E₁(k). */
function isotropicTransmission(k: number): number {
  return k === 0 ? 1 : (1 - k) * Math.exp(-k) + k ** 2 * exponentialIntegral(k);
}

/**
 * E₁(x) = ∫ₓ^∞ e⁻ᵗ/t dt for x > 0: power series to 1, continued fraction beyond (Abramowitz & Stegun 5.1.11, 5.1.22).
 * @throws InputError NOT_POSITIVE_ARGUMENT
 * @example
 * exponentialIntegral(1).toFixed(9) // => '0.219383934'
 */
export function exponentialIntegral(x: number): number {
  if (!(x > 0)) throw new InputError('NOT_POSITIVE_ARGUMENT', 'x', `expected a number above zero, got ${x}`, 'Give a positive argument.');
  if (x <= 1) {
    const EULER = 0.5772156649015329;
    let term = 1;
    let sum = 0;
    for (let k = 1; k <= 30; k += 1) {
      term *= -x / k;
      sum -= term / k;
    }
    return -EULER - Math.log(x) + sum;
  }
  // Evaluated from the tail: 120 levels are enough for every x above 1.
  let tail = 0;
  for (let k = 120; k >= 1; k -= 1) tail = k / (1 + k / (x + tail));
  return Math.exp(-x) / (x + tail);
}

/**
 * Share of isotropic unpolarised light within a cone that enters a dielectric of index n: Stern, Appl. Opt. 3 (1964)
 * 111-113, the closed form of the Fresnel average; 90° is the half-space.
 */
function surfaceTransmission(n: number, coneDeg: number): number {
  const n2 = n ** 2;
  const np = n2 + 1;
  const nm = n2 - 1;
  const a = (n + 1) ** 2 / 2;
  const k = -(nm ** 2) / 4;
  const sine2 = Math.sin((coneDeg * Math.PI) / 180) ** 2;
  const b2 = sine2 - np / 2;
  const b1 = coneDeg === 90 ? 0 : Math.sqrt(b2 ** 2 + k);
  const b = b1 - b2;
  const ts = k ** 2 / (6 * raise(b, 3)) + k / b - b / 2 - (k ** 2 / (6 * raise(a, 3)) + k / a - a / 2);
  const tp1 = (-2 * n2 * (b - a)) / np ** 2;
  const tp2 = (-2 * n2 * np * Math.log(b / a)) / nm ** 2;
  const tp3 = (n2 * (1 / b - 1 / a)) / 2;
  const tp4 = (16 * n2 ** 2 * (n2 ** 2 + 1) * Math.log((2 * np * b - nm ** 2) / (2 * np * a - nm ** 2))) / (raise(np, 3) * nm ** 2);
  const tp5 = (16 * raise(n2, 3) * (1 / (2 * np * b - nm ** 2) - 1 / (2 * np * a - nm ** 2))) / raise(np, 3);
  return (ts + tp1 + tp2 + tp3 + tp4 + tp5) / (2 * sine2);
}

function requireLeaf({ ewtUm, lmaGm2, structureN }: PlateLeaf): void {
  for (const [field, value] of [['ewtUm', ewtUm], ['lmaGm2', lmaGm2]] as const) {
    if (requireFinite(field, value) < 0) {
      throw new InputError('NEGATIVE_AMOUNT', field, `${value} is below zero`, 'Give zero or more.');
    }
  }
  if (requireFinite('structureN', structureN) < 1) {
    throw new InputError('STRUCTURE_BELOW_ONE', 'structureN', `${structureN} is below 1`, 'A leaf is at least one plate: give 1 or more.');
  }
}

/** Leaves of a crop between thin and thick: water at full turgor µm, mass per area, plates. Common practice, no source. */
const USUAL_LEAF = { turgidEwtUm: 180, lmaGm2: 40, structureN: 1.5 } as const;

/**
 * Transmittance of the model leaf at an RWC, 1400 to 1600 nm, where its water is in proportion to RWC: what differs between two bands looking at one leaf.
 *
 * @param rwc fraction @param leaf left out, a leaf of 180 µm water at full turgor, 40 g m⁻² and N = 1.5
 * @throws InputError as {@link leafTransmittance}
 * @example
 * spectrumAt(modelLeaf(1), 1470).toFixed(3) // => '0.151'
 */
export function modelLeaf(rwc: number, leaf: { readonly turgidEwtUm: number; readonly lmaGm2: number; readonly structureN: number } = USUAL_LEAF): Spectrum {
  const { turgidEwtUm, ...rest } = leaf;
  const wavelengthNm = LEAF_COEFFICIENTS.map(([nm]) => nm);
  return { wavelengthNm, values: wavelengthNm.map((nm) => leafTransmittance({ ...rest, ewtUm: rwc * turgidEwtUm, wavelengthNm: nm })) };
}

/**
 * How far a unit trips from where it should because it looks at the leaf through another band than the calibration did: the change of
 * RWC that lets as much more through as the one band sees against the other, ΔR = ln(T_own/T_other)/b with b = −dlnT/dR, on the model leaf
 * in white light. Positive: it sees more light and trips on a wetter leaf.
 *
 * @param own   band of the unit @param other band of the calibration's rig
 * @param rwc   target, fraction, above 0.02
 * @returns ratio T_own/T_other, and ΔR as a fraction; null where a band does not lie within 1400 to 1600 nm by its half maxima
 * @throws InputError those of {@link bandShape} and {@link bandTransmittance}
 * Derived here from trip: T(R)·E = P.
 * @example
 * bandShift(bellBand(1470, 34), bellBand(1470, 34), 0.8) // => { ratio: 1, shiftRwc: 0 }
 */
export function bandShift(own: Spectrum, other: Spectrum, rwc: number): { readonly ratio: number; readonly shiftRwc: number } | null {
  const [from, to] = [LEAF_COEFFICIENTS[0]![0], LEAF_COEFFICIENTS.at(-1)![0]];
  const inside = ({ centreNm, widthNm }: BandShape): boolean => centreNm - widthNm / 2 >= from && centreNm + widthNm / 2 <= to;
  if (![own, other].map(bandShape).every(inside)) return null;
  const seen = (band: Spectrum, at: number): number => {
    const fromNm = Math.max(from, band.wavelengthNm[0]!);
    const toNm = Math.min(to, band.wavelengthNm.at(-1)!);
    return bandTransmittance({ transmittance: modelLeaf(at), light: { wavelengthNm: [from, to], values: [1, 1] }, absorptance: band, fromNm, toNm }).transmittance;
  };
  const ratio = seen(own, rwc) / seen(other, rwc);
  const b = -Math.log(seen(other, rwc + RWC_STEP) / seen(other, rwc - RWC_STEP)) / (2 * RWC_STEP);
  return { ratio, shiftRwc: Math.log(ratio) / b };
}

/** Either side of the RWC at which the slope is taken. */
const RWC_STEP = 0.01;
