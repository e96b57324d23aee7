import { studentTQuantile } from '#libs/numeric';
import { formatPercentPlain, InputError } from '#libs/quantity';
import {
  families, familyOf, fitFamily, fitLeaves, inversePredict, invertedLeafInterval, leafEffectsOf, leafIntervalAt, leafTermsAt, responseAt, responseOf, responseSlopeAt, rwcAtResponse, transmittanceOf,
  type FamilyFit, type FamilyName, type InvertedInterval, type LeafCurve, type LeafEffect, type LeafFit, type LeafLine,
} from '#libs/regression';
import type { CalibrationFamily, Flag, LeafEffects } from '../../generated/schema.js';
import type { CalibrationDocument, CurveSpread, FrozenFit } from './calibration-document.js';

type Points = CalibrationDocument['points'];

/** Fewer leaves than this say nothing of how leaves differ. */
const LEAST_LEAVES = 3;
/** From here on leaves may differ in slope too; below, the data cannot tell. Common practice, no source. */
export const LEAVES_FOR_SLOPES = 6;
/** Fewer leaves than this earn a remark. Common practice, no source. */
const FEW_LEAVES = 8;
const CURVE_STEPS = 40;

export const familyName: Readonly<Record<CalibrationFamily, FamilyName>> = {
  LOG_LINEAR: 'log-linear',
  LINEAR: 'linear',
  EXPONENTIAL: 'exponential',
  POWER: 'power',
  LOGISTIC: 'logistic',
};

const isLine = (family: CalibrationFamily): boolean => family === 'LOG_LINEAR' || family === 'LINEAR';

/**
 * A fit with leaf effects, straight in RWC or not, where there are leaves enough; else a curve through all readings alike, as it is of
 * versions from before curves had leaf effects: its interval for a new leaf rests on how the leaves' mean residuals spread.
 */
export type CalibrationFit =
  | { readonly kind: 'leaf line'; readonly line: LeafLine; readonly points: Points }
  | { readonly kind: 'leaf curve'; readonly line: LeafCurve; readonly points: Points }
  | { readonly kind: 'curve'; readonly fit: FamilyFit; readonly points: Points; readonly leafSd: number | null; readonly leafCount: number };

const used = (points: Points): Points => points.filter((point) => point.used);

const own = (points: Points): Points => points.filter(({ besideId }) => besideId === undefined);

const leavesOf = (points: Points): Set<string> => new Set(points.map(({ leafId }) => leafId));

const EFFECT: Readonly<Record<Exclude<LeafEffects, 'AUTO'>, LeafEffect>> = {
  HEIGHT: 'intercept',
  HEIGHT_AND_SLOPE: 'intercept-and-slope',
  HEIGHT_AND_SLOPE_APART: 'independent-intercept-and-slope',
};

export const effectsTold: Readonly<Record<LeafEffect, LeafEffects>> = {
  intercept: 'HEIGHT',
  'intercept-and-slope': 'HEIGHT_AND_SLOPE',
  'independent-intercept-and-slope': 'HEIGHT_AND_SLOPE_APART',
};

/**
 * Fits the used points; the same points give the same fit, so a frozen version can be read back from its document.
 *
 * @param leafEffects in what leaves may differ; AUTO: in slope too from six leaves on, where the family lets them and AIC says so
 * @param curveSpread of a curve: as its document was made
 */
export function fitPoints(family: CalibrationFamily, all: Points, leafEffects: LeafEffects = 'AUTO', curveSpread: CurveSpread = 'LEAF_EFFECTS'): CalibrationFit {
  const points = used(all);
  const leafCount = leavesOf(points).size;
  if (leafCount >= LEAST_LEAVES && (isLine(family) || curveSpread === 'LEAF_EFFECTS')) {
    const line = fitWithLeaves(family, points, leafEffects, leafCount);
    return 'family' in line ? { kind: 'leaf curve', line, points } : { kind: 'leaf line', line, points };
  }
  const fit = fitFamily(familyName[family], points.map(({ rwc, transmittance, leafId }) => ({ rwc, transmittance, leafId })));
  return { kind: 'curve', fit, points, leafCount, leafSd: leafCount < LEAST_LEAVES ? null : spreadOfLeafMeans(fit, points) };
}

function fitWithLeaves(family: CalibrationFamily, points: Points, leafEffects: LeafEffects, leafCount: number): LeafFit {
  const offered = leafEffectsOf(familyName[family]);
  const fitWith = (leafEffect: LeafEffect): LeafFit => fitLeaves(familyName[family], points.map(({ leafId, rwc, transmittance, besideId }) => ({ leafId, rwc, transmittance, ...(besideId === undefined ? {} : { besideId }) })), {
    method: 'REML', leafEffect,
    // Independent effects are independent at one water content only: the middle of the readings.
    ...(leafEffect === 'independent-intercept-and-slope' ? { originRwc: middleOf(points) } : {}),
  });
  if (leafEffects !== 'AUTO') {
    if (offered.includes(EFFECT[leafEffects])) return atRest(family, fitWith(EFFECT[leafEffects]));
    throw new InputError('NOT_OFFERED', 'leafEffects', `are not fitted to a curve of the family ${familyName[family]} in this way`, offered.length === 1 ? 'Let leaves differ in height.' : 'Let leaves differ in height, or in height and slope.');
  }
  const plain = atRest(family, fitWith('intercept'));
  if (leafCount < LEAVES_FOR_SLOPES || !offered.includes('intercept-and-slope')) return plain;
  const sloped = fitWith('intercept-and-slope');
  return sloped.fit.convergence.converged && sloped.fit.aic < plain.fit.aic ? sloped : plain;
}

/** A curve with more parameters than the readings can tell is none to go by. Lines that come to no rest say so among their remarks. */
function atRest(family: CalibrationFamily, line: LeafFit): LeafFit {
  if (!('family' in line) || line.fit.convergence.converged) return line;
  throw new InputError('NO_REST', 'family', `${familyName[family]} finds no rest in these readings: they do not show so many bends`, 'Choose a family with fewer parameters, or read leaves over a wider range of RWC.');
}

export const middleOf = (points: readonly { readonly rwc: number }[]): number => points.reduce((sum, { rwc }) => sum + rwc, 0) / points.length;

/** Whether leaves were let differ in a version: without, it promises nothing of another leaf. */
export const hasLeafEffects = (family: CalibrationFamily, { leafCount, curveSpread }: Pick<CalibrationDocument, 'leafCount' | 'curveSpread'>): boolean =>
  leafCount >= LEAST_LEAVES && (isLine(family) || curveSpread === 'LEAF_EFFECTS');

/** The fit behind a frozen version: made again from its readings, or as it was taken over without them. */
export const fitOf = (family: CalibrationFamily, { frozen, points, leafEffects, curveSpread }: CalibrationDocument): CalibrationFit =>
  frozen ? { ...frozen, points: [] } : fitPoints(family, points, leafEffects, curveSpread ?? 'LEAF_MEANS');

/** A fit without what tells single leaves or readings. */
export function withoutReadings(result: CalibrationFit): FrozenFit {
  if (result.kind === 'curve') {
    const { fit, leafSd, leafCount } = result;
    return { kind: 'curve', fit: { ...fit, points: [], excluded: [] }, leafSd, leafCount };
  }
  const silent = ({ fit }: LeafFit): LeafFit['fit'] => ({ ...fit, fitted: [], residuals: [], levels: fit.levels.map((level) => ({ ...level, groups: [] })) });
  return result.kind === 'leaf line'
    ? { kind: 'leaf line', line: { ...result.line, fit: silent(result.line) } }
    : { kind: 'leaf curve', line: { ...result.line, fit: silent(result.line) } };
}

/** SD of the leaves' mean residuals on the fitted scale. */
function spreadOfLeafMeans(fit: FamilyFit, points: Points): number {
  const means = [...leavesOf(points)].map((leafId) => {
    const own = fit.points.filter((point) => points[point.index]!.leafId === leafId);
    return own.reduce((sum, { residual }) => sum + residual, 0) / own.length;
  });
  const centre = means.reduce((sum, value) => sum + value, 0) / means.length;
  return Math.sqrt(means.reduce((sum, value) => sum + (value - centre) ** 2, 0) / (means.length - 1));
}

export interface MeanLine {
  readonly parameters: readonly { readonly name: string; readonly value: number; readonly standardError: number }[];
  readonly covariance: readonly (readonly number[])[];
  readonly residualSd: number;
  readonly degreesOfFreedom: number;
}

export function meanLineOf(result: CalibrationFit): MeanLine {
  if (result.kind !== 'curve') {
    const { fixed, fixedCovariance, residualSd } = result.line.fit;
    const names = families[familyOf(result.line)].parameterNames;
    const values = result.kind === 'leaf curve' ? result.line.parameters : fixed.map(({ estimate }) => estimate);
    return {
      parameters: names.map((name, i) => ({ name, value: values[i]!, standardError: fixed[i]!.standardError })),
      covariance: fixedCovariance.slice(0, names.length).map((row) => row.slice(0, names.length)),
      residualSd,
      degreesOfFreedom: Math.min(...fixed.slice(0, names.length).map(({ degreesOfFreedom }) => degreesOfFreedom)),
    };
  }
  const { parameters, covariance, residualSd, degreesOfFreedom, family } = result.fit;
  return {
    parameters: parameters.map((value, i) => ({ name: families[family].parameterNames[i]!, value, standardError: Math.sqrt(covariance[i]![i]!) })),
    covariance,
    residualSd,
    degreesOfFreedom,
  };
}

/** Covariance of what one leaf adds to the parameters of a fit: its height to the first, which is a sum in every family, a slope to the second. */
export function leafCovariance(line: LeafFit): number[][] {
  const level = line.fit.levels.find(({ name }) => name === 'leaf')!;
  const names = families[familyOf(line)].parameterNames;
  return names.map((_, i) => names.map((__, j) => level.covariance[i]?.[j] ?? 0));
}

/** SD between leaves as RWC, at the middle of the range; null where leaves are too few to tell. */
function betweenLeafSdRwc(result: CalibrationFit, middle: number): number | null {
  if (result.kind !== 'curve') {
    const [[aa, ac], [, cc]] = leafCovariance(result.line) as [[number, number], [number, number]];
    const along = leafTermsAt(result.line, middle, result.line.fit.levels[0]!.sd.length)[1] ?? 0;
    return Math.sqrt(Math.max(0, aa + 2 * ac * along + cc * along ** 2)) / Math.abs(responseSlopeAt(result.line, middle));
  }
  if (result.leafSd === null) return null;
  return result.leafSd / Math.abs(slopeOnScale(result.fit, middle));
}

function slopeOnScale(fit: FamilyFit, rwc: number): number {
  const shape = families[fit.family];
  const slope = shape.slope(fit.parameters, rwc);
  return fit.errorScale === 'relative' ? slope / shape.predict(fit.parameters, rwc) : slope;
}

function curveOf(result: CalibrationFit, from: number, to: number): CalibrationDocument['curve'] {
  return Array.from({ length: CURVE_STEPS + 1 }, (_, i) => {
    const rwc = from + ((to - from) * i) / CURVE_STEPS;
    if (result.kind !== 'curve') {
      const mean = leafIntervalAt(result.line, 'confidence', rwc);
      const newLeaf = leafIntervalAt(result.line, 'prediction', rwc);
      return {
        rwc,
        transmittance: transmittanceOf(result.line.options.responseScale, responseAt(result.line, rwc)),
        meanLow: mean.transmittance.lower, meanHigh: mean.transmittance.upper,
        newLeafLow: newLeaf.transmittance.lower, newLeafHigh: newLeaf.transmittance.upper,
      };
    }
    return curvePoint(result, rwc);
  });
}

type Curve = CalibrationFit & { readonly kind: 'curve' };

/** Of the curve itself at an RWC, on the fitted scale, all readings taken as independent. */
function varianceOfCurve(fit: FamilyFit, rwc: number): number {
  const shape = families[fit.family];
  const toScale = fit.errorScale === 'relative' ? 1 / shape.predict(fit.parameters, rwc) : 1;
  const gradient = shape.gradient(fit.parameters, rwc).map((slope) => slope * toScale);
  return gradient.reduce((sum, gi, i) => sum + gradient.reduce((inner, gj, j) => inner + gi * gj * fit.covariance[i]![j]!, 0), 0);
}

/** SD of ln T of one new leaf around a curve, and of the curve itself, at an RWC; null where leaves are too few to tell. */
export function newLeafLogSd({ fit, leafSd, leafCount }: Curve, rwc: number): number | null {
  if (leafSd === null) return null;
  // The curve is at best known as well as the mean of the leaves.
  const onScale = Math.sqrt(Math.max(varianceOfCurve(fit, rwc), leafSd ** 2 / leafCount) + leafSd ** 2);
  return fit.errorScale === 'relative' ? onScale : onScale / families[fit.family].predict(fit.parameters, rwc);
}

function curvePoint({ fit, leafSd, leafCount: leaves }: Curve, rwc: number): CalibrationDocument['curve'][number] {
  const transmittance = families[fit.family].predict(fit.parameters, rwc);
  const variance = varianceOfCurve(fit, rwc);
  const band = (half: number): [number, number] =>
    fit.errorScale === 'relative' ? [transmittance * Math.exp(-half), transmittance * Math.exp(half)] : [transmittance - half, transmittance + half];
  const [meanLow, meanHigh] = band(studentTQuantile(0.975, fit.degreesOfFreedom) * Math.sqrt(variance));
  if (leafSd === null) return { rwc, transmittance, meanLow, meanHigh, newLeafLow: null, newLeafHigh: null };
  // The mean line is at best known as well as the mean of the leaves.
  const spread = Math.sqrt(Math.max(variance, leafSd ** 2 / leaves) + leafSd ** 2 + fit.residualSd ** 2);
  const [newLeafLow, newLeafHigh] = band(studentTQuantile(0.975, leaves - 1) * spread);
  return { rwc, transmittance, meanLow, meanHigh, newLeafLow, newLeafHigh };
}

/** Everything a version freezes, computed from its points. */
export function computeCalibration(
  family: CalibrationFamily, points: Points, dryingRunIds: readonly string[], leafEffects: LeafEffects = 'AUTO', parents: Pick<CalibrationDocument, 'adjustedFrom' | 'refitOf'> = {},
  curveSpread: CurveSpread = 'LEAF_EFFECTS',
): CalibrationDocument {
  const result = fitPoints(family, points, leafEffects, curveSpread);
  const rwcs = own(result.points).map(({ rwc }) => rwc);
  const [rwcMin, rwcMax] = [Math.min(...rwcs), Math.max(...rwcs)];
  const leafCount = leavesOf(result.points).size;
  const residuals = result.kind !== 'curve' ? result.line.fit.residuals : result.fit.points.map(({ residual }) => residual);
  let next = 0;
  return {
    ...meanLineOf(result),
    betweenLeafSdRwc: betweenLeafSdRwc(result, (rwcMin + rwcMax) / 2),
    leafCount,
    rwcMin,
    rwcMax,
    points: points.map((point) => ({ ...point, residual: point.used ? residuals[next++]! : null })),
    curve: curveOf(result, rwcMin, rwcMax),
    dryingRunIds,
    ...(leafEffects === 'AUTO' ? {} : { leafEffects }),
    ...(isLine(family) || curveSpread === 'LEAF_MEANS' ? {} : { curveSpread }),
    ...parents,
    remarks: remarksOf(result, leafCount),
  };
}

export function remarksOf(result: CalibrationFit, leafCount: number): Flag[] {
  const remarks: Flag[] = [];
  const warn = (code: string, message: string): void => { remarks.push({ code, severity: 'WARN', message }); };
  if (leafCount < FEW_LEAVES) {
    warn('FEW_LEAVES', `Only ${leafCount} ${leafCount === 1 ? 'leaf was' : 'leaves were'} used: how leaves differ is hardly known. More leaves help more than more readings.`);
  }
  const beside = leafCount - leavesOf(own(result.points)).size;
  if (beside > 0) {
    warn('ADJUSTED', `Slope and spread rest on ${leafCount} leaves, ${beside} of them of the given calibration; its height rests on the ${leafCount - beside} own leaves alone.`);
  }
  const taken = leavesOf(result.points.filter(({ parentId }) => parentId !== undefined)).size;
  if (taken > 0) warn('REFIT', `${taken} of the ${leafCount} leaves were measured for the version that this one was refitted from.`);
  if (result.kind !== 'curve') for (const note of result.line.fit.notes) warn('LEAF_EFFECTS', note);
  else {
    if (leafCount >= LEAST_LEAVES) {
      warn('NAIVE_MEAN_BAND', 'This family is fitted to all readings alike: the band of the mean line is too narrow, the band for a new leaf counts.');
    }
    for (const { sentence } of result.fit.warnings) warn('FIT', sentence);
  }
  return remarks;
}

export interface RwcReadBack {
  readonly rwc: number;
  readonly meanLow: number | null;
  readonly meanHigh: number | null;
  readonly newLeafLow: number | null;
  readonly newLeafHigh: number | null;
  readonly fiellerG: number | null;
  /** Why there is no use in it, or null. */
  readonly refused: string | null;
}

const NO_READING = { rwc: NaN, meanLow: null, meanHigh: null, newLeafLow: null, newLeafHigh: null } as const;

/** RWC read back from a transmittance by a frozen version. */
export function readBack(family: CalibrationFamily, document: CalibrationDocument, transmittance: number, level: number): RwcReadBack {
  const result = fitOf(family, document);
  const outside = (rwc: number): string | null =>
    rwc < document.rwcMin || rwc > document.rwcMax
      ? `RWC ${formatPercentPlain(rwc, 1)} lies outside ${formatPercentPlain(document.rwcMin, 1)} to ${formatPercentPlain(document.rwcMax, 1)}, which this version was fitted on.`
      : null;
  if (result.kind !== 'curve') {
    const confidence = invertedLeafInterval(result.line, 'confidence', transmittance, { level });
    const prediction = invertedLeafInterval(result.line, 'prediction', transmittance, { level });
    const rwc = rwcAtResponse(result.line, responseOf(result.line.options.responseScale, transmittance));
    if (rwc === null) return { ...NO_READING, fiellerG: confidence.g, refused: `The ${familyName[family]} curve never takes the transmittance ${transmittance.toPrecision(3)}, so there is no water content to give.` };
    const endless = result.kind === 'leaf line' ? confidence.g >= 1 : confidence.accepted.kind !== 'interval';
    return {
      rwc, ...named('mean', confidence.accepted), ...named('newLeaf', prediction.accepted), fiellerG: confidence.g,
      refused: endless ? confidence.sentence : outside(rwc),
    } as RwcReadBack;
  }
  const answer = inversePredict(result.fit, { transmittance, readingUncertainty: 'exact', level });
  if (answer.verdict === 'refused') {
    return { ...NO_READING, fiellerG: answer.g, refused: answer.sentence };
  }
  const rwc = answer.estimate;
  return { rwc, ...named('mean', answer.accepted), ...newLeafAround(result, rwc, level), fiellerG: answer.g, refused: outside(rwc) } as RwcReadBack;
}

function newLeafAround(result: CalibrationFit & { kind: 'curve' }, rwc: number, level: number): Pick<RwcReadBack, 'newLeafLow' | 'newLeafHigh'> {
  if (result.leafSd === null) return { newLeafLow: null, newLeafHigh: null };
  const leaves = result.leafCount;
  const spread = Math.sqrt(result.leafSd ** 2 * (1 + 1 / leaves) + result.fit.residualSd ** 2) / Math.abs(slopeOnScale(result.fit, rwc));
  const half = studentTQuantile((1 + level) / 2, leaves - 1) * spread;
  return { newLeafLow: rwc - half, newLeafHigh: rwc + half };
}

const named = (name: 'mean' | 'newLeaf', set: InvertedInterval['accepted']): Record<string, number | null> => ({
  [`${name}Low`]: 'lower' in set && set.kind === 'interval' ? set.lower : null,
  [`${name}High`]: 'upper' in set && set.kind === 'interval' ? set.upper : null,
});
