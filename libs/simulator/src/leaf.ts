import { leafTransmittance } from '#libs/optics';
import type { RandomStream } from '#libs/numeric';

/** How leaves of a crop spread about their mean: structure, water at full turgor, dry matter (relative SDs). */
export interface LeafPopulation {
  readonly ewtTurgidUm: number;
  readonly ewtRelativeSd: number;
  readonly lmaGm2: number;
  readonly lmaRelativeSd: number;
  readonly structureN: number;
  readonly structureRelativeSd: number;
}

/** What a leaf really is. */
export interface TrueLeaf {
  /** Equivalent water thickness at full turgor, µm. */
  readonly ewtTurgidUm: number;
  /** Leaf mass per area, g m⁻². */
  readonly lmaGm2: number;
  /** N of the plate model. */
  readonly structureN: number;
}

/** Draws one leaf of a population; three draws of the stream. */
export function drawLeaf(population: LeafPopulation, stream: RandomStream): TrueLeaf {
  const spread = (mean: number, relativeSd: number): number => mean * Math.exp(relativeSd * stream.normal());
  return {
    ewtTurgidUm: spread(population.ewtTurgidUm, population.ewtRelativeSd),
    lmaGm2: spread(population.lmaGm2, population.lmaRelativeSd),
    structureN: spread(population.structureN, population.structureRelativeSd),
  };
}

/** True transmittance of a leaf at an RWC (both fractions) in a narrow band: the plate model with water in proportion to RWC and a constant area. */
export function trueTransmittance(leaf: TrueLeaf, rwc: number, wavelengthNm: number): number {
  return leafTransmittance({ ewtUm: leaf.ewtTurgidUm * rwc, lmaGm2: leaf.lmaGm2, structureN: leaf.structureN, wavelengthNm });
}

/**
 * True masses of a disc of an area (mm²): 1 µm of water on 1 mm² weighs 1 µg, 1 g m⁻² of dry matter likewise.
 *
 * @example
 * trueDiscMasses({ ewtTurgidUm: 200, lmaGm2: 50, structureN: 1.5 }, 100) // => { dryMassMg: 5, turgidMassMg: 25 }
 */
export function trueDiscMasses(leaf: TrueLeaf, areaMm2: number): { readonly turgidMassMg: number; readonly dryMassMg: number } {
  const dryMassMg = (leaf.lmaGm2 * areaMm2) / 1000;
  return { dryMassMg, turgidMassMg: dryMassMg + (leaf.ewtTurgidUm * areaMm2) / 1000 };
}

/** How a disc dries: loss rate (of its water, per minute) falls from open to closed stomata. */
export interface DryingRate {
  readonly openPerMin: number;
  readonly closedPerMin: number;
  readonly closingMin: number;
}

/**
 * RWC of a drying disc after some minutes: exp(−∫rate), rate = closed + (open − closed)·exp(−t/closing).
 *
 * @example
 * dryingRwc({ openPerMin: 0.01, closedPerMin: 0.01, closingMin: 20 }, 100) // => Math.exp(-1)
 */
export function dryingRwc(rate: DryingRate, minutes: number): number {
  const early = (rate.openPerMin - rate.closedPerMin) * rate.closingMin * (1 - Math.exp(-minutes / rate.closingMin));
  return Math.exp(-rate.closedPerMin * minutes - early);
}
