import { Budget, combineContributions, Contribution, formatNumber, InputError, requireFinite, requirePositive } from '#libs/quantity';

/** The weighed state of a disc: fresh (or drying), turgid, dry. */
export type MassRole = 'fresh' | 'turgid' | 'dry';

/**
 * An error that one balance puts on several masses at once.
 * `zero`: the same number of mg on each; `span`: the same fraction of each.
 */
export interface CommonError {
  /** names it, e.g. `zero of balance B-2`; two that share a name are the same error */
  readonly source: string;
  readonly kind: 'zero' | 'span';
  /** standard uncertainty, mg for `zero`, a fraction for `span` */
  readonly u: number;
  /** the masses weighed with this error */
  readonly masses: readonly MassRole[];
}

/** Covariance of masses in mg², for those who have it as such rather than as common errors. */
export interface MassCovariance {
  readonly freshTurgidMg2?: number;
  readonly freshDryMg2?: number;
  readonly turgidDryMg2?: number;
}

export interface RwcInput {
  readonly freshMassMg: number;
  readonly turgidMassMg: number;
  readonly dryMassMg: number;
  /** standard uncertainties, mg */
  readonly uFreshMg: number;
  readonly uTurgidMg: number;
  readonly uDryMg: number;
  /** errors shared by masses, beyond the three uncertainties above */
  readonly commonErrors?: readonly CommonError[];
  /** covariances between the three masses whose variances are the three u² above */
  readonly covariance?: MassCovariance;
}

export type Sensitivities = Readonly<Record<MassRole, number>>;

export interface RwcResult {
  /** relative water content as a fraction; may be below 0 or above 1: that is a flag, not an error */
  readonly rwc: number;
  /** standard uncertainty of rwc */
  readonly u: number;
  /** ∂R/∂F, ∂R/∂T, ∂R/∂D in mg⁻¹; they sum to zero */
  readonly sensitivities: Sensitivities;
  readonly budget: Budget;
  /** 2 Σ cᵢcⱼ u(xᵢ,xⱼ): what the given covariances add to u² (negative where they cancel) */
  readonly covarianceTerm: number;
}

/**
 * Relative water content R = (F − D)/(T − D).
 * @returns a fraction
 * @throws InputError NOT_POSITIVE (any mass), DRY_NOT_BELOW_TURGID (no RWC exists)
 * @example
 * rwcOf({ freshMassMg: 41, turgidMassMg: 70, dryMassMg: 12 }) // => 0.5
 */
export function rwcOf(masses: Pick<RwcInput, 'freshMassMg' | 'turgidMassMg' | 'dryMassMg'>): number {
  const span = turgidWaterMg(masses);
  return (requirePositive('freshMassMg', masses.freshMassMg) - masses.dryMassMg) / span;
}

/** W = T − D in mg: the water of the turgid disc. */
export function turgidWaterMg(masses: Pick<RwcInput, 'turgidMassMg' | 'dryMassMg'>): number {
  const turgid = requirePositive('turgidMassMg', masses.turgidMassMg);
  const dry = requirePositive('dryMassMg', masses.dryMassMg);
  if (dry >= turgid) {
    throw new InputError(
      'DRY_NOT_BELOW_TURGID', 'dryMassMg', `dry mass ${formatNumber(dry, 4)} mg is not below turgid mass ${formatNumber(turgid, 4)} mg, so no RWC exists`,
      'Check that both weighings belong to this disc and that neither state was mistaken for the other.',
    );
  }
  return turgid - dry;
}

/** ∂R/∂F = 1/W, ∂R/∂T = −R/W, ∂R/∂D = −(1 − R)/W. */
export function rwcSensitivities(rwc: number, spanMg: number): Sensitivities {
  return { fresh: 1 / spanMg, turgid: -rwc / spanMg, dry: -(1 - rwc) / spanMg };
}

/**
 * What one common error does to R: for a zero error the sensitivities are summed, for a span error each is weighted by
 * its mass. Over all three masses both sums are exactly zero, since R is unchanged by adding or multiplying the same to
 * F, T and D; the sums here leave rounding noise of the order of 1e-17 instead, which is put to zero.
 */
export function commonContribution(
  error: CommonError, sensitivities: Sensitivities, masses: Readonly<Record<MassRole, number>>,
): Contribution {
  const roles = new Set(error.masses);
  if (roles.size === 0) {
    throw new InputError('NO_MASSES', `commonErrors: ${error.source}`, 'it names no mass', 'Name the masses weighed with this error.');
  }
  const effect = (role: MassRole) => (error.kind === 'zero' ? 1 : masses[role]);
  const sensitivity = roles.size === 3 ? 0 : [...roles].reduce((sum, role) => sum + sensitivities[role] * effect(role), 0);
  return { source: error.source, sensitivity, u: error.u };
}

/**
 * RWC with its standard uncertainty.
 *
 * u²(R) = Σ cᵢ²uᵢ² + 2 Σ cᵢcⱼ u(xᵢ,xⱼ) (JCGM 100:2008, 5.2.2) with c_F = 1/W, c_T = −R/W, c_D = −(1 − R)/W, W = T − D.
 * First order; good while u(T), u(D) are small beside W (see README). Bias, such as over-hydration of T, is not in u.
 *
 * @returns rwc as a fraction, u as a fraction, sensitivities in mg⁻¹
 * @throws InputError NOT_POSITIVE, DRY_NOT_BELOW_TURGID, NEGATIVE_UNCERTAINTY, IMPOSSIBLE_COVARIANCE, NO_MASSES
 * @example
 * const r = relativeWaterContent({ freshMassMg: 60, turgidMassMg: 70, dryMassMg: 12, uFreshMg: 0.138, uTurgidMg: 0.708, uDryMg: 0.161 });
 * r.rwc.toFixed(4) // => '0.8276'
 * r.u.toFixed(4) // => '0.0104'
 */
export function relativeWaterContent(input: RwcInput): RwcResult {
  const spanMg = turgidWaterMg(input);
  const rwc = rwcOf(input);
  const c = rwcSensitivities(rwc, spanMg);
  const masses = { fresh: input.freshMassMg, turgid: input.turgidMassMg, dry: input.dryMassMg };
  const independent = combineContributions([
    { source: 'fresh mass', sensitivity: c.fresh, u: input.uFreshMg },
    { source: 'turgid mass', sensitivity: c.turgid, u: input.uTurgidMg },
    { source: 'dry mass', sensitivity: c.dry, u: input.uDryMg },
    ...(input.commonErrors ?? []).map((error) => commonContribution(error, c, masses)),
  ]);
  const covarianceTerm = covarianceShare(input, c);
  // The matrix was checked; what is left below zero is rounding where the masses' errors cancel altogether.
  const u = covarianceTerm === 0 ? independent.u : Math.sqrt(Math.max(0, independent.u ** 2 + covarianceTerm));
  return { rwc, u, sensitivities: c, budget: { u, lines: independent.lines }, covarianceTerm };
}

function covarianceShare(input: RwcInput, c: Sensitivities): number {
  if (input.covariance === undefined) return 0;
  const ft = requireFinite('covariance.freshTurgidMg2', input.covariance.freshTurgidMg2 ?? 0);
  const fd = requireFinite('covariance.freshDryMg2', input.covariance.freshDryMg2 ?? 0);
  const td = requireFinite('covariance.turgidDryMg2', input.covariance.turgidDryMg2 ?? 0);
  requireCovariance(input, ft, fd, td);
  return 2 * (c.fresh * c.turgid * ft + c.fresh * c.dry * fd + c.turgid * c.dry * td);
}

/** A covariance matrix has no negative principal minor; relative slack for figures that were rounded when written down. */
function requireCovariance({ uFreshMg, uTurgidMg, uDryMg }: RwcInput, ft: number, fd: number, td: number): void {
  const [vf, vt, vd] = [uFreshMg ** 2, uTurgidMg ** 2, uDryMg ** 2];
  const slack = 1e-9;
  const pair = (field: string, cov: number, a: number, b: number) => {
    if (cov ** 2 > a * b * (1 + slack)) {
      throw new InputError(
        'IMPOSSIBLE_COVARIANCE', `covariance.${field}`, `${cov} mg² is beyond ±u·u = ${formatNumber(Math.sqrt(a * b), 9)} mg²`,
        'A covariance cannot exceed the product of the two standard uncertainties.',
      );
    }
  };
  pair('freshTurgidMg2', ft, vf, vt);
  pair('freshDryMg2', fd, vf, vd);
  pair('turgidDryMg2', td, vt, vd);
  const determinant = vf * (vt * vd - td ** 2) - ft * (ft * vd - td * fd) + fd * (ft * td - vt * fd);
  if (determinant < -slack * vf * vt * vd) {
    throw new InputError('IMPOSSIBLE_COVARIANCE', 'covariance', 'the three covariances contradict one another', 'Give covariances from one set of common errors.');
  }
}
