import { Budget, combineContributions, Contribution, InputError, requireFinite, requirePositive } from '#libs/quantity';

/** What is known of a balance near the load in question. Leave out what was not determined; nothing is assumed for it. */
export interface BalanceTerms {
  /** smallest step of the display d */
  readonly resolutionMg: number;
  /** standard deviation of repeated weighings of one load */
  readonly repeatabilityMg?: number;
  /** largest error of the scale left after adjustment: half-width, rectangular */
  readonly linearityMg?: number;
  /** largest change since the last adjustment: half-width, rectangular */
  readonly driftMg?: number;
  /** largest difference between off-centre and centre: half-width, rectangular */
  readonly eccentricityMg?: number;
}

const SQRT_3 = Math.sqrt(3);

function optionalWidth(field: string, value: number | undefined): number | undefined {
  if (value === undefined) return undefined;
  if (requireFinite(field, value) < 0) {
    throw new InputError('NEGATIVE_TERM', field, `${value} mg is below zero`, 'Give the term in mg, zero or more.');
  }
  return value;
}

/** The independent error sources of one net weighing, in mg. */
function balanceContributions(terms: BalanceTerms): Contribution[] {
  requirePositive('resolutionMg', terms.resolutionMg);
  const rectangular = (source: string, field: string, halfWidth: number | undefined): Contribution[] => {
    const width = optionalWidth(field, halfWidth);
    return width === undefined ? [] : [{ source, sensitivity: 1, u: width / SQRT_3 }];
  };
  const repeatability = optionalWidth('repeatabilityMg', terms.repeatabilityMg);
  return [
    { source: 'resolution at zero', sensitivity: 1, u: terms.resolutionMg / 2 / SQRT_3 },
    { source: 'resolution at load', sensitivity: 1, u: terms.resolutionMg / 2 / SQRT_3 },
    ...(repeatability === undefined ? [] : [{ source: 'repeatability', sensitivity: 1, u: repeatability }]),
    ...rectangular('linearity', 'linearityMg', terms.linearityMg),
    ...rectangular('drift since adjustment', 'driftMg', terms.driftMg),
    ...rectangular('eccentricity', 'eccentricityMg', terms.eccentricityMg),
  ];
}

/**
 * Standard uncertainty of one net mass (load minus zero) from the terms of EURAMET cg-18 (v4.0, 2015): resolution at
 * zero and at load, each d/(2√3); repeatability as a standard deviation; linearity, drift and eccentricity as
 * half-widths of rectangular distributions. Buoyancy is left out: it cancels in a ratio of masses of like density.
 *
 * @returns u in mg and its budget
 * @throws InputError NOT_POSITIVE (resolution), NEGATIVE_TERM, NOT_FINITE
 * @example
 * Math.round(uMassMg({ resolutionMg: 0.1, repeatabilityMg: 0.1 }).u * 1e4) / 1e4 // => 0.108
 */
export function uMassMg(terms: BalanceTerms): Budget {
  return combineContributions(balanceContributions(terms));
}

/** What handling adds to the balance's own uncertainty. The three are per state: only the one that applies is given. */
export interface HandlingTerms {
  readonly massMg: number;
  /** fresh or drying: water lost or gained between the moment meant and the moment read; half-width, rectangular */
  readonly evaporationMg?: number;
  /** turgid: standard deviation of the mass left by blotting, as a fraction of the turgid mass (0.01 is usual [C]) */
  readonly blottingFraction?: number;
  /** dry: standard deviation of the water left or taken up again, as a fraction of the dry mass */
  readonly residualMoistureFraction?: number;
}

/**
 * Standard uncertainty of the mass of a disc in one state: the balance's terms and those of handling.
 *
 * @returns u in mg and its budget
 * @throws InputError as {@link uMassMg}
 * @example
 * const balance = { resolutionMg: 0.1, repeatabilityMg: 0.1 };
 * uDiscMassMg(balance, { massMg: 70, blottingFraction: 0.01 }).u.toFixed(3) // => '0.708'
 */
export function uDiscMassMg(balance: BalanceTerms, handling: HandlingTerms): Budget {
  const massMg = requirePositive('massMg', handling.massMg);
  const lines = balanceContributions(balance);
  const evaporation = optionalWidth('evaporationMg', handling.evaporationMg);
  const blotting = optionalWidth('blottingFraction', handling.blottingFraction);
  const moisture = optionalWidth('residualMoistureFraction', handling.residualMoistureFraction);
  if (evaporation !== undefined) lines.push({ source: 'evaporation', sensitivity: 1, u: evaporation / SQRT_3 });
  if (blotting !== undefined) lines.push({ source: 'blotting', sensitivity: massMg, u: blotting });
  if (moisture !== undefined) lines.push({ source: 'residual moisture', sensitivity: massMg, u: moisture });
  return combineContributions(lines);
}

/**
 * Smallest net mass whose repeatability alone stays within the asked relative accuracy: 2000·s at 0.1 % (USP <41>),
 * where s counts as at least 0.41 d because a display cannot show less.
 * @returns mg
 * @throws InputError NOT_POSITIVE
 * @example
 * minimumMassMg({ resolutionMg: 0.1 }) // => 82
 */
export function minimumMassMg(terms: Pick<BalanceTerms, 'resolutionMg' | 'repeatabilityMg'>): number {
  const floor = 0.41 * requirePositive('resolutionMg', terms.resolutionMg);
  return 2000 * Math.max(floor, optionalWidth('repeatabilityMg', terms.repeatabilityMg) ?? 0);
}
