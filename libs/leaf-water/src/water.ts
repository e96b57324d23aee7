import { Budget, combineContributions, formatNumber, InputError, requireFinite, requirePositive } from '#libs/quantity';
import { rwcOf, RwcInput, RwcResult } from './rwc.js';

/** A derived quantity with its standard uncertainty, both in the unit the function states. */
export interface Derived {
  readonly value: number;
  readonly u: number;
  readonly budget: Budget;
}

/** 1 g cm⁻³: the density taken by convention when water mass is turned into thickness (true at 4 °C; 0.9982 at 20 °C). */
export const CONVENTIONAL_WATER_DENSITY_G_PER_CM3 = 1;

interface MassPair {
  readonly freshMassMg: number;
  readonly dryMassMg: number;
  readonly uFreshMg: number;
  readonly uDryMg: number;
}

interface Area {
  readonly areaCm2: number;
  readonly uAreaCm2: number;
}

const lines = (...rows: readonly [string, number, number][]): Budget =>
  combineContributions(rows.map(([source, sensitivity, u]) => ({ source, sensitivity, u })));

const derived = (value: number, budget: Budget): Derived => ({ value, u: budget.u, budget });

function waterMg({ freshMassMg, dryMassMg }: MassPair): number {
  const fresh = requirePositive('freshMassMg', freshMassMg);
  const dry = requirePositive('dryMassMg', dryMassMg);
  if (dry >= fresh) {
    throw new InputError(
      'DRY_NOT_BELOW_FRESH', 'dryMassMg', `dry mass ${formatNumber(dry, 4)} mg is not below fresh mass ${formatNumber(fresh, 4)} mg, so no water is left to state`,
      'Check that both weighings belong to this disc.',
    );
  }
  return fresh - dry;
}

/**
 * Equivalent water thickness EWT = (F − D)/(ρ·A).
 * @returns cm (numerically g cm⁻² at ρ = 1 g cm⁻³)
 * @throws InputError NOT_POSITIVE, DRY_NOT_BELOW_FRESH
 * @example
 * ewtCm({ freshMassMg: 60, dryMassMg: 12, uFreshMg: 0, uDryMg: 0, areaCm2: 3, uAreaCm2: 0, waterDensityGPerCm3: 1 }).value // => 0.016
 */
export function ewtCm(input: MassPair & Area & { readonly waterDensityGPerCm3: number }): Derived {
  const perMg = 1 / (1000 * requirePositive('waterDensityGPerCm3', input.waterDensityGPerCm3) * requirePositive('areaCm2', input.areaCm2));
  const value = waterMg(input) * perMg;
  return derived(value, lines(
    ['fresh mass', perMg, input.uFreshMg], ['dry mass', -perMg, input.uDryMg], ['area', -value / input.areaCm2, input.uAreaCm2],
  ));
}

/**
 * EWT at an RWC of a disc known when turgid: EWT = RWC·EWT_turgid·(A_turgid/A), since area shrinks as the disc dries.
 * @returns cm
 * @throws InputError NOT_POSITIVE, NOT_FINITE
 * @example
 * ewtAtRwcCm({ rwc: 0.8, uRwc: 0, ewtTurgidCm: 0.02, uEwtTurgidCm: 0, areaRatio: 0.8, uAreaRatio: 0 }).value // => 0.02
 */
export function ewtAtRwcCm(input: {
  readonly rwc: number;
  readonly uRwc: number;
  readonly ewtTurgidCm: number;
  readonly uEwtTurgidCm: number;
  /** A/A_turgid: 1 if the disc did not shrink */
  readonly areaRatio: number;
  readonly uAreaRatio: number;
}): Derived {
  const { rwc, ewtTurgidCm, areaRatio } = input;
  requireFinite('rwc', rwc);
  requirePositive('ewtTurgidCm', ewtTurgidCm);
  requirePositive('areaRatio', areaRatio);
  const value = (rwc * ewtTurgidCm) / areaRatio;
  return derived(value, lines(
    ['RWC', ewtTurgidCm / areaRatio, input.uRwc],
    ['turgid EWT', rwc / areaRatio, input.uEwtTurgidCm],
    ['area ratio', -value / areaRatio, input.uAreaRatio],
  ));
}

/**
 * Leaf water content on the fresh base, LWC = (F − D)/F.
 * @returns a fraction of the fresh mass
 * @throws InputError NOT_POSITIVE, DRY_NOT_BELOW_FRESH
 * @example
 * leafWaterContent({ freshMassMg: 60, dryMassMg: 12, uFreshMg: 0, uDryMg: 0 }).value // => 0.8
 */
export function leafWaterContent(input: MassPair): Derived {
  const { freshMassMg: f, dryMassMg: d } = input;
  return derived(waterMg(input) / f, lines(['fresh mass', d / f ** 2, input.uFreshMg], ['dry mass', -1 / f, input.uDryMg]));
}

/**
 * Moisture on the dry base, FMC = (F − D)/D (fuel moisture content; of live leaves also LFMC).
 * @returns a fraction of the dry mass
 * @throws InputError NOT_POSITIVE, DRY_NOT_BELOW_FRESH
 * @example
 * fuelMoistureContent({ freshMassMg: 60, dryMassMg: 12, uFreshMg: 0, uDryMg: 0 }).value // => 4
 */
export function fuelMoistureContent(input: MassPair): Derived {
  const { freshMassMg: f, dryMassMg: d } = input;
  return derived(waterMg(input) / d, lines(['fresh mass', 1 / d, input.uFreshMg], ['dry mass', -f / d ** 2, input.uDryMg]));
}

/**
 * Leaf dry-matter content LDMC = D/T.
 * @returns a fraction of the turgid mass
 * @throws InputError NOT_POSITIVE, DRY_NOT_BELOW_TURGID
 * @example
 * leafDryMatterContent({ turgidMassMg: 60, dryMassMg: 12, uTurgidMg: 0, uDryMg: 0 }).value // => 0.2
 */
export function leafDryMatterContent(input: Pick<RwcInput, 'turgidMassMg' | 'dryMassMg' | 'uTurgidMg' | 'uDryMg'>): Derived {
  const { turgidMassMg: t, dryMassMg: d } = input;
  rwcOf({ ...input, freshMassMg: t });
  return derived(d / t, lines(['turgid mass', -d / t ** 2, input.uTurgidMg], ['dry mass', 1 / t, input.uDryMg]));
}

/**
 * Leaf mass per area LMA = D/A. The area is that of the fresh or turgid disc: say which where it is shown.
 * @returns g m⁻²
 * @throws InputError NOT_POSITIVE
 * @example
 * leafMassPerAreaGm2({ dryMassMg: 12, uDryMg: 0, areaCm2: 3, uAreaCm2: 0 }).value // => 40
 */
export function leafMassPerAreaGm2(input: Pick<MassPair, 'dryMassMg' | 'uDryMg'> & Area): Derived {
  // 1 mg cm⁻² is 10 g m⁻².
  const perMg = 10 / requirePositive('areaCm2', input.areaCm2);
  const value = requirePositive('dryMassMg', input.dryMassMg) * perMg;
  return derived(value, lines(['dry mass', perMg, input.uDryMg], ['area', -value / input.areaCm2, input.uAreaCm2]));
}

/**
 * Water saturation deficit WSD = 1 − RWC; its uncertainty is that of RWC.
 * @returns a fraction
 * @example
 * waterSaturationDeficit({ rwc: 0.75, u: 0.01 }) // => { value: 0.25, u: 0.01 }
 */
export function waterSaturationDeficit({ rwc, u }: Pick<RwcResult, 'rwc' | 'u'>): { readonly value: number; readonly u: number } {
  return { value: 1 - requireFinite('rwc', rwc), u };
}
