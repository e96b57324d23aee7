import { combineContributions, Contribution, InputError, requirePositive, sharedCovariance } from '#libs/quantity';
import { CommonError, commonContribution, rwcOf, rwcSensitivities, turgidWaterMg } from './rwc.js';

export interface RwcSeriesInput {
  readonly turgidMassMg: number;
  readonly dryMassMg: number;
  readonly uTurgidMg: number;
  readonly uDryMg: number;
  readonly points: readonly {
    readonly freshMassMg: number;
    readonly uFreshMg: number;
    /** this very weighing gave the turgid mass: RWC is 1 by definition and has no uncertainty */
    readonly isTurgidMass?: boolean;
  }[];
  /** errors shared by masses beyond the uncertainties above; one that names `fresh` is shared by every point */
  readonly commonErrors?: readonly CommonError[];
}

export interface RwcSeries {
  /** n fractions, in the order of the points */
  readonly rwc: readonly number[];
  /** n standard uncertainties */
  readonly u: readonly number[];
  /** n×n covariance of rwc: independent part on the diagonal plus common part everywhere */
  readonly covariance: readonly (readonly number[])[];
  /** n standard uncertainties from each point's own mass alone */
  readonly uIndependent: readonly number[];
  /** n standard uncertainties from what all points share: T, D and common errors */
  readonly uCommon: readonly number[];
}

/**
 * RWC of one disc followed through drying: every point shares T and D, so the points are correlated,
 * cov(Rᵢ, Rⱼ) = (RᵢRⱼu_T² + (1 − Rᵢ)(1 − Rⱼ)u_D²)/W² + δᵢⱼ u_Fᵢ²/W², plus the common errors.
 * A fit that treats the points as independent makes its slope look better known than it is.
 *
 * @throws InputError NO_POINTS, TURGID_MASS_DIFFERS and those of `relativeWaterContent`
 * @example
 * const s = rwcSeries({ turgidMassMg: 70, dryMassMg: 12, uTurgidMg: 0.7, uDryMg: 0.16,
 *   points: [{ freshMassMg: 70, uFreshMg: 0.1 }, { freshMassMg: 41, uFreshMg: 0.1 }] });
 * s.rwc // => [1, 0.5]
 * s.uCommon.map((u) => u.toFixed(4)) // => ['0.0121', '0.0062']
 */
export function rwcSeries(input: RwcSeriesInput): RwcSeries {
  if (input.points.length === 0) {
    throw new InputError('NO_POINTS', 'points', 'there is no mass', 'Give at least one weighing of the disc.');
  }
  const spanMg = turgidWaterMg(input);
  const { turgidMassMg, dryMassMg } = input;
  const results = input.points.map(({ freshMassMg, uFreshMg, isTurgidMass }, i) => {
    requirePositive(`points[${i}].freshMassMg`, freshMassMg);
    if (isTurgidMass && (freshMassMg !== turgidMassMg || uFreshMg !== input.uTurgidMg)) {
      throw new InputError(
        'TURGID_MASS_DIFFERS', `points[${i}]`, `it is marked as the turgid mass but reads ${freshMassMg} mg with u ${uFreshMg}, not ${turgidMassMg} mg with u ${input.uTurgidMg}`,
        'Mark only the weighing that gave the turgid mass, with the same uncertainty.',
      );
    }
    const rwc = rwcOf({ freshMassMg, turgidMassMg, dryMassMg });
    const c = rwcSensitivities(rwc, spanMg);
    const masses = { fresh: freshMassMg, turgid: turgidMassMg, dry: dryMassMg };
    // The turgid weighing has no error of its own beside T's.
    const own: Contribution = { source: `fresh mass of points[${i}]`, sensitivity: isTurgidMass ? 0 : c.fresh, u: uFreshMg };
    const common: Contribution[] = [
      { source: 'turgid mass', sensitivity: isTurgidMass ? c.fresh + c.turgid : c.turgid, u: input.uTurgidMg },
      { source: 'dry mass', sensitivity: c.dry, u: input.uDryMg },
      ...(input.commonErrors ?? []).map((error) => commonContribution(error, c, masses)),
    ];
    return { rwc, own, common, uIndependent: combineContributions([own]).u, uCommon: combineContributions(common).u };
  });
  const covariance = sharedCovariance(results.map(({ own, common }) => [own, ...common]));
  return {
    rwc: results.map((r) => r.rwc),
    u: covariance.map((row, i) => Math.sqrt(row[i]!)),
    covariance,
    uIndependent: results.map((r) => r.uIndependent),
    uCommon: results.map((r) => r.uCommon),
  };
}
