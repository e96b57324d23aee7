import { studentTQuantile } from '#libs/numeric';
import { formatPercentPlain, InputError } from '#libs/quantity';
import {
  adviseMeasurement, families, fitFamily, intervalsAtRwc, leafTermsAt, residualsBy, residualsInOrder, responseAt, responseOf, responseSlopeAt, rwcAtResponse, rwcAtTransmittance,
  type CalibrationPoint, type FamilyFit, type InvertedInterval, type LeafFit, type LeafInterval, type LeafIntervalOptions,
} from '#libs/regression';
import { effectsTold, familyName, fitPoints, meanLineOf, remarksOf, type CalibrationFit } from './compute.js';
import type { Ends, ResidualsTold, StudyCurvePoint, StudyDocument, StudyFigures, StudyInput, StudyLeaf, StudyPoint, StudyReadBack } from './study-document.js';

const CURVE_STEPS = 40;
/** The tolerance interval turned round costs ten milliseconds a step; between two steps the ends run straight to a hundredth of a point. */
const READ_BACK_STEPS = 24;

type WithLeaves = Exclude<CalibrationFit, { readonly kind: 'curve' }>;

/**
 * Everything the builder shows of one way of fitting, computed from readings. Fewer than three leaves have no interval for a new
 * leaf that could be stood by beforehand.
 *
 * @throws InputError where the readings do not allow the fit
 */
export function studyCalibration(input: StudyInput): StudyDocument {
  const fit = withLeaves(input, input.points);
  const used = input.points.filter((point) => point.used);
  const naive = fitFamily(familyName[input.family], used.map(asCalibrationPoint));
  const figures = figuresOf(fit, naive, input, fit.line);
  const anyOut = used.length < input.points.length;
  const all = anyOut ? input.points.map((point) => ({ ...point, used: true })) : null;
  const weighingPoints = 100 * Math.sqrt(used.reduce((sum, { uRwc }) => sum + uRwc ** 2, 0) / used.length);
  const tooNarrowTimes = figures.newLeafHalfWidthPoints / figures.naiveHalfWidthPoints;
  const slope = Math.abs(responseSlopeAt(fit.line, input.atRwc));
  const residuals = residualsOf(fit, naive, input.points, slope);
  return {
    figures,
    withAll: all && figuresOf(withLeaves(input, all), fitFamily(familyName[input.family], all.map(asCalibrationPoint)), input, fit.line),
    weighingPoints,
    tooNarrowTimes,
    finding: findingOf(figures, weighingPoints, tooNarrowTimes, input.level),
    leafEffects: effectsTold[fit.line.options.leafEffect],
    curve: curveOf(fit.line, input),
    readBack: readBackOf(fit.line, input),
    leaves: leavesOf(fit, used, input.atRwc),
    residuals,
    residualsBy: (['leaf', 'day', 'operator'] as const).map((by) => groupsOf(by, naive, used, slope)),
    inOrder: orderOf(naive, used),
    lackOfFit: naive.lackOfFit.kind === 'tested' ? { pValue: naive.lackOfFit.pValue } : { reason: naive.lackOfFit.reason },
    advice: adviseMeasurement(fit.line, {
      rwc: input.atRwc, goal: 'new-leaf', level: input.level, ...(input.wantedHalfWidthPoints === null ? {} : { wantedHalfWidthPoints: input.wantedHalfWidthPoints }),
    }),
    remarks: remarksOf(fit, fit.line.leafCount),
  };
}

function withLeaves({ family, leafEffects }: StudyInput, points: readonly StudyPoint[]): WithLeaves {
  const fit = fitPoints(family, points.map((point) => ({ ...point, residual: null })), leafEffects);
  if (fit.kind !== 'curve') return fit;
  throw new InputError('TOO_FEW_LEAVES', 'dryingRunIds', 'have readings of fewer than three leaves left in', 'How leaves differ is known from three on: choose more runs, or leave fewer readings out.');
}

const asCalibrationPoint = (point: StudyPoint): CalibrationPoint => ({
  rwc: point.rwc, transmittance: point.transmittance, leafId: point.leafId, day: point.day, operator: point.operator, order: point.order,
  ...(point.turgidTransmittance === null ? {} : { turgidTransmittance: point.turgidTransmittance }),
});

const optionsOf = ({ level, share, confidence }: StudyInput): LeafIntervalOptions => ({ level, share, confidence });

function figuresOf(fit: WithLeaves, naive: FamilyFit, input: StudyInput, chosen: LeafFit): StudyFigures {
  const { line } = fit;
  const at = intervalsAtRwc(line, input.atRwc, optionsOf(input));
  const slopeAtTarget = responseSlopeAt(line, input.atRwc);
  const slope = Math.abs(slopeAtTarget);
  return {
    readings: line.fit.observationCount,
    leaves: line.leafCount,
    slope: slopeAtTarget,
    intercept: fit.kind === 'leaf line' ? fit.line.intercept : null,
    parameters: meanLineOf(fit).parameters,
    rwcAtTarget: readNear(line, responseAt(chosen, input.atRwc), input.atRwc),
    naiveHalfWidthPoints: naiveHalfWidth(naive, input.atRwc, input.level, slope),
    meanHalfWidthPoints: at.confidence.halfWidthPoints,
    newLeafHalfWidthPoints: at.prediction.halfWidthPoints,
    toleranceHalfWidthPoints: at.tolerance.halfWidthPoints,
    betweenLeavesPoints: (100 * leafSdAt(line, input.atRwc)) / slope,
    withinLeavesPoints: (100 * line.fit.residualSd) / slope,
  };
}

/** RWC at a response; along the tangent where a curve without some of the readings never takes it. */
export const readNear = (line: LeafFit, response: number, rwc: number): number => rwcAtResponse(line, response) ?? rwc + (response - responseAt(line, rwc)) / responseSlopeAt(line, rwc);

/** The mean line's interval as if every reading were another leaf: what one gets who forgets that readings share leaves. */
function naiveHalfWidth(naive: FamilyFit, rwc: number, level: number, slope: number): number {
  const shape = families[naive.family];
  const predicted = shape.predict(naive.parameters, rwc);
  const gradient = shape.gradient(naive.parameters, rwc).map((d) => (naive.errorScale === 'relative' ? d / predicted : d));
  const variance = gradient.reduce((sum, gi, i) => sum + gradient.reduce((inner, gj, j) => inner + gi * gj * naive.covariance[i]![j]!, 0), 0);
  return (100 * studentTQuantile((1 + level) / 2, naive.degreesOfFreedom) * Math.sqrt(variance)) / slope;
}

function leafSdAt(line: LeafFit, rwc: number): number {
  const { covariance } = line.fit.levels.find(({ name }) => name === 'leaf')!;
  if (covariance.length === 1) return Math.sqrt(covariance[0]![0]!);
  const x = leafTermsAt(line, rwc, 2)[1]!;
  return Math.sqrt(Math.max(covariance[0]![0]! + 2 * x * covariance[0]![1]! + x * x * covariance[1]![1]!, 0));
}

const ends = ({ lower, upper }: LeafInterval['transmittance']): Ends => [lower, upper];
const inverted = ({ accepted }: InvertedInterval): Ends => (accepted.kind === 'interval' ? [accepted.lower, accepted.upper] : null);

function curveOf(line: LeafFit, input: StudyInput): StudyCurvePoint[] {
  const { from, to } = line.rwcRange;
  return Array.from({ length: CURVE_STEPS + 1 }, (_, i) => {
    const { rwc, transmittance, confidence, prediction, tolerance } = intervalsAtRwc(line, from + ((to - from) * i) / CURVE_STEPS, optionsOf(input));
    return { rwc, transmittance, mean: ends(confidence.transmittance), newLeaf: ends(prediction.transmittance), tolerance: ends(tolerance.transmittance) };
  });
}

/** From the wet end of the mean line to its dry end, so that a finger can run along it without a question to the server. */
function readBackOf(line: LeafFit, input: StudyInput): StudyReadBack[] {
  const at = (rwc: number): number => intervalsAtRwc(line, rwc, optionsOf(input)).transmittance;
  const [low, high] = [at(line.rwcRange.from), at(line.rwcRange.to)].sort((a, b) => a - b) as [number, number];
  return Array.from({ length: READ_BACK_STEPS + 1 }, (_, i) => {
    const transmittance = low + ((high - low) * i) / READ_BACK_STEPS;
    const { rwc, confidence, prediction, tolerance } = rwcAtTransmittance(line, transmittance, optionsOf(input));
    // On the curve itself by construction.
    return { transmittance, rwc: rwc!, mean: inverted(confidence), newLeaf: inverted(prediction), tolerance: inverted(tolerance) };
  });
}

function leavesOf({ line }: WithLeaves, used: readonly StudyPoint[], atRwc: number): StudyLeaf[] {
  const level = line.fit.levels.find(({ name }) => name === 'leaf')!;
  const points = (response: number): number => (100 * response) / Math.abs(responseSlopeAt(line, atRwc));
  const byLeaf = new Map<string, StudyPoint[]>();
  for (const point of used) byLeaf.set(point.leafId, [...(byLeaf.get(point.leafId) ?? []), point]);
  return level.groups.map(({ path, effects, conditionalCovariance, reliability }) => {
    const own = byLeaf.get(path.at(-1)!)!;
    const mean = own.reduce((sum, { rwc, transmittance }) =>
      sum + responseOf(line.options.responseScale, transmittance) - responseAt(line, rwc), 0) / own.length;
    const z = leafTermsAt(line, atRwc, effects.length);
    const variance = z.reduce((sum, zi, i) => sum + z.reduce((inner, zj, j) => inner + zi * zj * conditionalCovariance[i]![j]!, 0), 0);
    return {
      leaf: own[0]!.leafLabel, readings: own.length, ownPoints: points(mean),
      shrunkPoints: points(z.reduce((sum, zi, i) => sum + zi * effects[i]!, 0)), sdPoints: points(Math.sqrt(Math.max(variance, 0))), reliability: reliability[0]!,
    };
  });
}

function residualsOf({ line }: WithLeaves, naive: FamilyFit, points: readonly StudyPoint[], slope: number): StudyDocument['residuals'] {
  let next = 0;
  return points.map(({ used, rwc, transmittance }) => {
    if (!used) return null;
    const i = next;
    next += 1;
    const around = responseOf(line.options.responseScale, transmittance) - responseAt(line, rwc);
    const { cooksDistance, flags } = naive.points[i]!;
    return { within: (100 * line.fit.residuals[i]!) / slope, around: (100 * around) / slope, cooksDistance, flags: flags.map(({ kind }) => kind) };
  });
}

function groupsOf(by: ResidualsTold['by'], naive: FamilyFit, used: readonly StudyPoint[], slope: number): ResidualsTold {
  const labels = new Map(used.map(({ leafId, leafLabel }) => [leafId, leafLabel]));
  const { groups, test } = residualsBy(naive, used.map(asCalibrationPoint), by === 'leaf' ? 'leafId' : by);
  return { by, pValue: test?.pValue ?? null, groups: groups.map(({ key, count, meanResidual }) => ({ key: labels.get(key) ?? key, count, meanPoints: (100 * meanResidual) / slope })) };
}

function orderOf(naive: FamilyFit, used: readonly StudyPoint[]): StudyDocument['inOrder'] {
  try {
    const { durbinWatson, pValue } = residualsInOrder(naive, used.map(asCalibrationPoint));
    return { durbinWatson, slopePValue: pValue };
  } catch (error) {
    if (error instanceof InputError) return null;
    throw error;
  }
}

/** The sentence that stands over every calibration, in its own numbers. */
function findingOf(figures: StudyFigures, weighingPoints: number, times: number, level: number): string {
  const points = (value: number): string => value.toFixed(value < 10 ? 1 : 0);
  const { betweenLeavesPoints, newLeafHalfWidthPoints, naiveHalfWidthPoints, readings, leaves } = figures;
  const larger = betweenLeavesPoints >= weighingPoints
    ? `Leaves differ by ${points(betweenLeavesPoints)} RWC points (SD), weighing and handling by ${points(weighingPoints)}: how leaves differ limits the trip point, not the balance.`
    : `Weighing and handling scatter by ${points(weighingPoints)} RWC points, more than the ${points(betweenLeavesPoints)} by which these leaves differ: look at the masses before anything else.`;
  return `${larger} One new leaf lies within ± ${points(newLeafHalfWidthPoints)} points (${formatPercentPlain(level, 0)}); counting all ${readings} readings of ${leaves} leaves as independent would have said ± ${points(naiveHalfWidthPoints)}, ${times.toFixed(times < 10 ? 1 : 0)} times too narrow.`;
}
