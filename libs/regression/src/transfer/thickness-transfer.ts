import { studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { ewtCm } from '#libs/leaf-water';
import type { FittedCurve } from '../families/fit-family.js';
import { responseScaleOf } from '../inverse/response-scale.js';
import { requireFraction } from '../mixed/tolerance-factor.js';

/** A disc of the new crop, weighed turgid and dry; no light needed. Masses in mg, area of the turgid disc in cm². */
export interface TurgidDisc {
  readonly leafId: string;
  readonly turgidMassMg: number;
  readonly dryMassMg: number;
  readonly areaCm2: number;
  readonly uTurgidMg: number;
  readonly uDryMg: number;
  readonly uAreaCm2: number;
}

export interface ThicknessRequest {
  readonly rwc: readonly number[];
  /** Area of a disc at this RWC over that when turgid; default 1 at any RWC: discs that do not shrink. */
  readonly areaRatioAt?: (rwc: number) => number;
  /**
   * SD of ln T that crops of one water thickness still differ by (leaf structure, dry matter); a model of leaves says that ten per cent of
   * structure move ln T by about 0.08. Stated by the caller: nothing measured here tells it.
   */
  readonly structureSd: number;
  /** Default 0.95. */
  readonly level?: number;
  /** g/cm³; default 1, by convention. */
  readonly waterDensityGPerCm3?: number;
}

/** The curve that the new crop is expected to have, at one RWC. Uncertainties are standard, of ln T. */
export interface PredictedAt {
  readonly rwc: number;
  readonly ewtUm: number;
  readonly transmittance: number;
  /** Of the crop's average leaf: calibration, mean thickness and structure. */
  readonly uLn: number;
  readonly parts: { readonly calibration: number; readonly thickness: number; readonly structure: number };
  /** Of one new leaf of the crop: what leaves differ by in thickness added. */
  readonly uLnNewLeaf: number;
  readonly interval: { readonly lower: number; readonly upper: number };
  readonly newLeafInterval: { readonly lower: number; readonly upper: number };
  /** Half of the new-leaf interval, in points of RWC along the predicted curve. */
  readonly newLeafHalfWidthPoints: number;
  /** The water thickness lies outside what the calibration saw. */
  readonly extrapolated: boolean;
}

export interface ThicknessTransfer {
  /** Mean over leaves of the turgid water thickness, µm, its standard uncertainty, and the SD between leaves. */
  readonly ewtTurgidUm: number;
  readonly uEwtTurgidUm: number;
  readonly betweenLeavesUm: number;
  readonly leaves: number;
  readonly curve: readonly PredictedAt[];
  readonly sentence: string;
}

/**
 * The curve of a crop that was never put in the light, from masses and area alone: light knows water by its thickness, so a calibration
 * of transmittance on EWT is read at EWT(R) = R·EWT_turgid/(A/A_turgid).
 *
 * u²(ln T) = u²_fit + (dlnT/dEWT·EWT(R)·u(EWT_turgid)/EWT_turgid)² + structure²; for a new leaf the SD of EWT between leaves comes in
 * place of its uncertainty. Factor: Student's t, leaves − 1, or of the fit where that knows less.
 *
 * @param fit a calibration whose predictor is water thickness (`predictor: 'ewt'`, `response: 'transmittance'`)
 * @param discs of two leaves of the new crop or more; discs of one leaf are averaged first
 * @throws InputError `NOT_ON_THICKNESS`, `NOT_CONVERGED`, `TOO_FEW_LEAVES`, `NOT_FINITE`, `NOT_POSITIVE`, `NEGATIVE`, `NOT_A_FRACTION`, `OUT_OF_CURVE` where the
 *   curve gives no transmittance above zero, and those of `ewtCm`
 *
 * Source: derived; the physics is absorption along a path (plate model, see #libs/optics), with structure and dry matter taken as those of
 * the calibration's leaves but for `structureSd`. It plans and it warns; it is no calibration.
 *
 * @example
 * const points = [180, 160, 140, 120, 100, 80].map((ewtUm, i) => ({ rwc: ewtUm / 180, ewtUm, transmittance: Math.exp(-0.9 - 0.0055 * ewtUm + 0.001 * (i % 2)) }));
 * const fit = fitFamily('log-linear', points, { predictor: 'ewt' });
 * const discs = ['a', 'b', 'c'].map((leafId, i) => ({ leafId, turgidMassMg: 70 + i, dryMassMg: 12, areaCm2: 4, uTurgidMg: 0.3, uDryMg: 0.1, uAreaCm2: 0.02 }));
 * const { ewtTurgidUm, curve } = transferByThickness(fit, discs, { rwc: [0.8], structureSd: 0.08 });
 * [ewtTurgidUm.toFixed(1), curve[0].ewtUm.toFixed(1), curve[0].transmittance.toFixed(3), curve[0].uLn.toFixed(3)] // => ['147.5', '118.0', '0.213', '0.080']
 */
export function transferByThickness(fit: FittedCurve, discs: readonly TurgidDisc[], request: ThicknessRequest): ThicknessTransfer {
  requireThicknessFit(fit);
  const level = requireFraction('level', request.level ?? 0.95);
  if (requireFinite('structureSd', request.structureSd) < 0) throw new InputError('NEGATIVE', 'structureSd', `${request.structureSd} is below zero`, 'Give an SD of ln T from 0.');
  const thickness = thicknessOf(discs, request.waterDensityGPerCm3 ?? 1);
  const df = Math.min(thickness.leaves - 1, fit.covarianceBasis === 'stated' ? Infinity : fit.degreesOfFreedom);
  const factor = studentTQuantile((1 + level) / 2, df);
  const curve = request.rwc.map((rwc, i) => {
    const areaRatio = requirePositive(`areaRatioAt(${rwc})`, request.areaRatioAt?.(rwc) ?? 1);
    return predictAt(fit, thickness, requirePositive(`rwc[${i}]`, rwc), areaRatio, request.structureSd, factor);
  });
  const outside = curve.filter((at) => at.extrapolated).length;
  return {
    ...thickness, curve,
    sentence: `Expected from ${thickness.leaves} leaves of ${thickness.ewtTurgidUm.toFixed(0)} µm turgid water thickness.${outside === 0 ? '' : ` ${outside} of ${curve.length} water contents lie outside the thickness that the calibration saw.`} No light was put through this crop: measure own leaves before a device rests on it.`,
  };
}

type Thickness = Pick<ThicknessTransfer, 'ewtTurgidUm' | 'uEwtTurgidUm' | 'betweenLeavesUm' | 'leaves'>;

const UM_PER_CM = 1e4;

function thicknessOf(discs: readonly TurgidDisc[], waterDensityGPerCm3: number): Thickness {
  const byLeaf = new Map<string, { value: number; u: number }[]>();
  for (const { leafId, turgidMassMg, dryMassMg, areaCm2, uTurgidMg, uDryMg, uAreaCm2 } of discs) {
    const { value, u } = ewtCm({ freshMassMg: turgidMassMg, dryMassMg, uFreshMg: uTurgidMg, uDryMg, areaCm2, uAreaCm2, waterDensityGPerCm3 });
    byLeaf.set(leafId, [...(byLeaf.get(leafId) ?? []), { value: UM_PER_CM * value, u: UM_PER_CM * u }]);
  }
  const leaves = [...byLeaf.values()].map((own) => ({ mean: own.reduce((sum, { value }) => sum + value, 0) / own.length, u: Math.sqrt(own.reduce((sum, { u }) => sum + u * u, 0)) / own.length }));
  const n = leaves.length;
  if (n < 2) throw new InputError('TOO_FEW_LEAVES', 'discs', `${n} leaf says nothing of how leaves differ`, 'Weigh discs of two leaves or more.');
  const ewtTurgidUm = leaves.reduce((sum, { mean }) => sum + mean, 0) / n;
  const betweenLeavesUm = Math.sqrt(leaves.reduce((sum, { mean }) => sum + (mean - ewtTurgidUm) ** 2, 0) / (n - 1));
  // Scatter between leaves has the errors of weighing in it; where leaves agree better than the balance, the balance's share stays.
  const ofWeighing = Math.sqrt(leaves.reduce((sum, { u }) => sum + u * u, 0)) / n;
  return { ewtTurgidUm, uEwtTurgidUm: Math.max(betweenLeavesUm / Math.sqrt(n), ofWeighing), betweenLeavesUm, leaves: n };
}

function predictAt(fit: FittedCurve, thickness: Thickness, rwc: number, areaRatio: number, structure: number, factor: number): PredictedAt {
  const { ewtTurgidUm, uEwtTurgidUm, betweenLeavesUm } = thickness;
  const ewtUm = (rwc * ewtTurgidUm) / areaRatio;
  const scale = responseScaleOf(fit);
  const transmittance = scale.transmittanceAt(scale.at(ewtUm));
  if (!(transmittance > 0)) throw new InputError('OUT_OF_CURVE', 'fit', `the ${fit.family} curve gives ${transmittance} at ${ewtUm.toFixed(0)} µm`, 'Take a family that stays above zero, or a crop of less water.');
  // On the scale of T both are divided by T to speak of ln T.
  const perLn = fit.errorScale === 'relative' ? 1 : 1 / transmittance;
  const calibration = Math.sqrt(scale.varianceAt(ewtUm)) * perLn;
  const slopeLn = scale.slopeAt(ewtUm) * perLn;
  const moved = (umTurgid: number): number => Math.abs(slopeLn * ewtUm * umTurgid) / ewtTurgidUm;
  const parts = { calibration, thickness: moved(uEwtTurgidUm), structure };
  const uLn = Math.hypot(parts.calibration, parts.thickness, structure);
  const uLnNewLeaf = Math.hypot(uLn, moved(betweenLeavesUm));
  const around = (u: number) => ({ lower: transmittance * Math.exp(-factor * u), upper: transmittance * Math.exp(factor * u) });
  return {
    rwc, ewtUm, transmittance, uLn, parts, uLnNewLeaf,
    interval: around(uLn), newLeafInterval: around(uLnNewLeaf),
    newLeafHalfWidthPoints: (100 * factor * uLnNewLeaf) / Math.abs((slopeLn * ewtUm) / rwc),
    extrapolated: ewtUm < fit.range.from || ewtUm > fit.range.to,
  };
}

function requireThicknessFit(fit: FittedCurve): void {
  if (fit.predictor !== 'ewt' || fit.response !== 'transmittance') {
    throw new InputError('NOT_ON_THICKNESS', 'fit', `it reads ${fit.response} on ${fit.predictor}`, 'Fit plain transmittance against water thickness (predictor "ewt").');
  }
  if (!fit.convergence.converged) throw new InputError('NOT_CONVERGED', 'fit', `the ${fit.family} fit did not come to rest`, 'Fit a family with fewer parameters, or add points.');
}
