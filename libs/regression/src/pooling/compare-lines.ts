import { fQuantile, matrixToRows, studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { fitMixedModel } from '../mixed/fit.js';
import { leafLineModel, responseOf, type LeafEffect, type LeafLineOptions, type LeafReading } from '../mixed/leaf-line.js';
import type { MixedModelInput, ModelTerm } from '../mixed/model.js';
import { estimateVariance, quadraticForm } from '../mixed/satterthwaite.js';
import { leastSquares, testLines, type LineTests } from './nested-tests.js';

/** A leaf reading with what is to be compared: its crop, cultivar, laboratory or rig. */
export interface GroupedReading extends LeafReading {
  readonly group: string;
}

/** What is asked of a comparison. */
export interface ComparisonRequest {
  /** `none` takes every reading for independent: right only with one reading a leaf. */
  readonly leafEffect: LeafEffect | 'none';
  readonly responseScale: LeafLineOptions['responseScale'];
  /** How far apart two lines may be and still count as the same, in points of RWC (0.01 of RWC). */
  readonly marginPoints: number;
  /** The RWC over which they must agree, fractions. */
  readonly rwcRange: { readonly from: number; readonly to: number };
  /** Error rate of each verdict; default 0.05. */
  readonly alpha?: number;
}

/** `undecided` is an answer: the data cannot tell, and "not significant" is not "the same". */
export type EquivalenceVerdict = 'equivalent' | 'different' | 'undecided';

/** Two groups compared: how much more RWC the first has than the second at the same transmittance. */
export interface PairComparison {
  readonly first: string;
  readonly second: string;
  readonly verdict: EquivalenceVerdict;
  /** Greatest difference over the range, signed, in points. */
  readonly largestPoints: number;
  /** Outermost ends over the range of the 1 − 2·alpha interval, in points. */
  readonly lowerPoints: number;
  readonly upperPoints: number;
  readonly curve: readonly DifferenceAt[];
  readonly sentence: string;
}

/** The difference at one transmittance, named by the RWC which the mean of the two lines has there. */
export interface DifferenceAt {
  readonly rwc: number;
  readonly points: number;
  readonly standardErrorPoints: number;
  readonly degreesOfFreedom: number;
}

/** May these groups share a calibration? */
export interface LineComparison {
  readonly verdict: EquivalenceVerdict;
  readonly sentence: string;
  readonly commonSlope: LineTests;
  readonly commonLine: LineTests;
  readonly groups: readonly { readonly group: string; readonly intercept: number; readonly slope: number; readonly leafCount: number; readonly readingCount: number }[];
  readonly pairs: readonly PairComparison[];
  readonly notes: readonly string[];
}

/** Where the difference is looked at; it is smooth, nearly straight, so that this many points miss nothing. */
const GRID = 41;

/**
 * Compares the calibration lines of several groups: tests of a common slope and a common line, and equivalence within a margin.
 *
 * - Tests: separate lines against one slope with separate intercepts, and against one line, by extra sum of squares (F, least squares)
 *   and by likelihood ratio (ML, with leaf effects).
 * - Equivalence: for transmittances over the range, δ = x₁ − x₂ with xᵢ = (y − aᵢ)/cᵢ; its variance to first order from the covariance of
 *   the coefficients (REML, Satterthwaite's degrees of freedom). `equivalent`: the 1 − 2·alpha interval of δ lies within ± margin at
 *   every point (two one-sided tests; as an intersection-union test it needs no correction). `different`: somewhere the simultaneous band
 *   √(2F) lies beyond the margin (corrected for the number of pairs), or both slopes differ from zero and run against each other. `undecided`
 *   otherwise.
 *
 * Units: RWC as fraction, differences in points. Domain: at least two groups, each with readings at two RWC or more and, with leaf
 * effects, more than one leaf (and plant, where given) in at least one group. Errors: `TOO_FEW_GROUPS`, `TOO_FEW_LEAVES`, `TOO_FEW_POINTS`, `SINGLE_RWC`, `RANGE`, `NOT_POSITIVE`, `NOT_FINITE`, `NOT_A_FRACTION`,
 * `FLAT_LINE`, and those of `fitMixedModel`. Source: D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657; R. L. Berger and J. C.
 * Hsu, Stat. Sci. 11 (1996) 283; H. Working and H. Hotelling, J. Am. Stat. Assoc. 24 (1929) 73, for the band.
 *
 * @example
 * const readings = ['bean', 'maize'].flatMap((group) => ['a', 'b', 'c', 'd'].flatMap((leafId, i) => [1, 0.8, 0.6].map((rwc, k) =>
 *   ({ group, leafId, rwc, transmittance: Math.exp(-0.9 - rwc + 0.02 * (i % 3) + 0.01 * ((i + k) % 2)) }))));
 * compareLines(readings, { leafEffect: 'intercept', responseScale: 'ln-transmittance', marginPoints: 5, rwcRange: { from: 0.6, to: 1 } }).verdict // => 'equivalent'
 */
export function compareLines(readings: readonly GroupedReading[], request: ComparisonRequest): LineComparison {
  const alpha = requireAlpha(request.alpha ?? 0.05);
  requirePositive('marginPoints', request.marginPoints);
  requireRange(request.rwcRange);
  const names = [...new Set(readings.map((reading) => reading.group))];
  if (names.length < 2) {
    throw new InputError('TOO_FEW_GROUPS', 'readings', `${names.length} group(s) leave nothing to compare`, 'Give the readings of at least two groups.');
  }
  names.forEach((name) => requireLine(name, readings));
  if (request.leafEffect === 'none') requireSpareReadings(readings, names.length);
  else requireSpareLeaves(readings, names.length);
  const { response, levels, models } = modelsOf(readings, names, request);
  const { commonSlope, commonLine } = testLines(response, models, levels);
  const lines = fitSeparate(response, models.separate, levels);
  const slopes = names.map((_, g) => lines.estimates[2 * g + 1]!);
  slopes.forEach((slope, g) => {
    if (slope === 0) throw new InputError('FLAT_LINE', names[g]!, 'the line of this group has no slope', 'Check its readings.');
  });
  const pairCount = (names.length * (names.length - 1)) / 2;
  const pairs = names.flatMap((first, a) =>
    names.slice(a + 1).map((second, offset) => comparePair(lines, { first, second, a, b: a + 1 + offset }, request, alpha, pairCount)),
  );
  const verdict = overall(pairs.map((pair) => pair.verdict));
  return {
    verdict,
    sentence: sentenceOf(verdict, pairs, request, commonLine.likelihoodRatio.pValue, alpha),
    commonSlope,
    commonLine,
    groups: names.map((group, g) => {
      const own = readings.filter((reading) => reading.group === group);
      const leafCount = new Set(own.map((reading) => JSON.stringify([reading.plantId ?? null, reading.leafId]))).size;
      return { group, intercept: lines.estimates[2 * g]!, slope: slopes[g]!, leafCount, readingCount: own.length };
    }),
    pairs,
    notes: notesOf(readings, request),
  };
}

function requireAlpha(alpha: number): number {
  if (requireFinite('alpha', alpha) > 0 && alpha < 0.5) return alpha;
  throw new InputError('NOT_A_FRACTION', 'alpha', `expected a number between 0 and 0.5, got ${alpha}`, 'Give a fraction such as 0.05.');
}

function requireRange({ from, to }: ComparisonRequest['rwcRange']): void {
  requireFinite('rwcRange.from', from);
  requireFinite('rwcRange.to', to);
  if (from >= to) throw new InputError('RANGE', 'rwcRange', `from ${from} is not below to ${to}`, 'Give the lower RWC first.');
}

function requireLine(name: string, readings: readonly GroupedReading[]): void {
  const distinct = new Set(readings.filter((reading) => reading.group === name).map((reading) => reading.rwc));
  if (distinct.size > 1) return;
  throw new InputError('SINGLE_RWC', name, 'all readings of this group are at one RWC, which draws no line', 'Read its leaves at several RWC.');
}

function requireSpareReadings(readings: readonly GroupedReading[], groups: number): void {
  if (readings.length > 2 * groups) return;
  throw new InputError('TOO_FEW_POINTS', 'readings', `${readings.length} readings for ${groups} lines leave nothing to judge the scatter by`, 'Take more readings.');
}

/** With one leaf (or plant) to a group, what groups differ by and what leaves differ by are one thing, and no fit tells them apart. */
function requireSpareLeaves(readings: readonly GroupedReading[], groups: number): void {
  const plants = readings.some((reading) => reading.plantId !== undefined);
  for (const [unit, label] of [['leaf', (r: GroupedReading) => JSON.stringify([r.plantId, r.leafId])], ...(plants ? [['plant', (r: GroupedReading) => r.plantId] as const] : [])] as const) {
    if (new Set(readings.map((reading) => JSON.stringify([reading.group, label(reading)]))).size > groups) continue;
    throw new InputError('TOO_FEW_LEAVES', 'readings', `every group has one ${unit}, so a difference between groups cannot be told from one between ${unit === 'leaf' ? 'leaves' : 'plants'}`,
      `Measure more than one ${unit} in at least one group.`);
  }
}

/** Separate lines have an intercept and a slope column for each group, in turn, so that the coefficients are the lines themselves. */
function modelsOf(readings: readonly GroupedReading[], names: readonly string[], request: ComparisonRequest) {
  const rwc = readings.map((reading, i) => requireFinite(`readings[${i}].rwc`, reading.rwc));
  const response = readings.map((reading, i) => responseOf(request.responseScale, reading.transmittance, `readings[${i}].transmittance`));
  const levels = request.leafEffect === 'none' ? [] : leafLevels(readings, request, request.leafEffect);
  const intercepts = names.map((name): ModelTerm => ({ name: `intercept of ${name}`, values: readings.map((reading) => Number(reading.group === name)) }));
  const slopes = intercepts.map((term, g): ModelTerm => ({ name: `slope of ${names[g]!}`, values: term.values.map((value, i) => value * rwc[i]!) }));
  const along = { name: 'rwc', values: rwc };
  const models = {
    separate: intercepts.flatMap((term, g) => [term, slopes[g]!]),
    commonSlope: [...intercepts, along],
    commonLine: [{ name: 'intercept', values: rwc.map(() => 1) }, along],
  };
  return { response, levels, models };
}

/** A leaf belongs to its group: the same label in two groups is two leaves. */
function leafLevels(readings: readonly GroupedReading[], request: ComparisonRequest, leafEffect: LeafEffect): MixedModelInput['levels'] {
  const own = readings.map((reading) => {
    const within = (label: string) => JSON.stringify([reading.group, label]);
    return reading.plantId === undefined ? { ...reading, leafId: within(reading.leafId) } : { ...reading, plantId: within(reading.plantId) };
  });
  return leafLineModel(own, { method: 'REML', leafEffect, responseScale: request.responseScale }).levels;
}

interface SeparateLines {
  /** Intercept and slope of each group in turn. */
  readonly estimates: readonly number[];
  /** Variance of a combination of them, and its degrees of freedom. */
  readonly varianceOf: (combination: readonly number[]) => { readonly variance: number; readonly degreesOfFreedom: number };
}

function fitSeparate(response: readonly number[], separate: readonly ModelTerm[], levels: MixedModelInput['levels']): SeparateLines {
  if (levels.length > 0) {
    const fit = fitMixedModel({ response, fixed: separate, levels, method: 'REML' });
    return { estimates: fit.fixed.map((effect) => effect.estimate), varianceOf: (fixed) => estimateVariance(fit, { fixed }) };
  }
  const fit = leastSquares(response, separate);
  const degreesOfFreedom = response.length - separate.length;
  if (degreesOfFreedom < 1) {
    throw new InputError('TOO_FEW_POINTS', 'readings', `${response.length} readings for ${separate.length / 2} lines`, 'Take more readings.');
  }
  const residualVariance = fit.residualSumOfSquares / degreesOfFreedom;
  const covariance = matrixToRows(fit.unscaledCovariance).map((row) => row.map((value) => value * residualVariance));
  return { estimates: Array.from(fit.coefficients), varianceOf: (fixed) => ({ variance: quadraticForm(fixed, covariance), degreesOfFreedom }) };
}

interface Pair {
  readonly first: string;
  readonly second: string;
  readonly a: number;
  readonly b: number;
}

function comparePair(lines: SeparateLines, pair: Pair, request: ComparisonRequest, alpha: number, pairCount: number): PairComparison {
  const { from, to } = request.rwcRange;
  const margin = request.marginPoints;
  const opposed = opposedSlopes(lines, pair, alpha, pairCount);
  const curve = Array.from({ length: GRID }, (_, i) => differenceAt(lines, pair, from + ((to - from) * i) / (GRID - 1)));
  let lowerPoints = Infinity;
  let upperPoints = -Infinity;
  let beyond = false;
  for (const { points, standardErrorPoints, degreesOfFreedom } of curve) {
    const half = studentTQuantile(1 - alpha, degreesOfFreedom) * standardErrorPoints;
    lowerPoints = Math.min(lowerPoints, points - half);
    upperPoints = Math.max(upperPoints, points + half);
    const band = Math.sqrt(2 * fQuantile(1 - alpha / pairCount, 2, degreesOfFreedom)) * standardErrorPoints;
    if (Math.abs(points) - band > margin) beyond = true;
  }
  const largestPoints = curve.reduce((most, at) => (Math.abs(at.points) > Math.abs(most) ? at.points : most), 0);
  const within = lowerPoints > -margin && upperPoints < margin;
  const verdict: EquivalenceVerdict = beyond || opposed === 'shown' ? 'different' : within && opposed === 'no' ? 'equivalent' : 'undecided';
  const { first, second } = pair;
  return { first, second, verdict, largestPoints, lowerPoints, upperPoints, curve, sentence: opposed === 'shown' ? `Different: ${first} and ${second} run against each other, so one transmittance is more water in the one and less in the other.` : pairSentence(verdict, pair, { largestPoints, lowerPoints, upperPoints }, margin, alpha) };
}

/**
 * Lines that run against each other read the same transmittance as more water here and less there; the difference at the transmittances
 * which both take near their crossing says nothing of that. Shown where each slope differs from zero by itself.
 */
function opposedSlopes(lines: SeparateLines, { a, b }: Pair, alpha: number, pairCount: number): 'no' | 'maybe' | 'shown' {
  const [c1, c2] = [a, b].map((group) => lines.estimates[2 * group + 1]!) as [number, number];
  if (c1 * c2 > 0) return 'no';
  const sure = [a, b].every((group) => {
    const combination = lines.estimates.map((_, i) => Number(i === 2 * group + 1));
    const { variance, degreesOfFreedom } = lines.varianceOf(combination);
    return Math.abs(lines.estimates[2 * group + 1]!) > studentTQuantile(1 - alpha / (2 * pairCount), degreesOfFreedom) * Math.sqrt(variance);
  });
  return sure ? 'shown' : 'maybe';
}

/** δ = x₁(y) − x₂(y) at the y which the mean of the two lines takes at `rwc`; dxᵢ = −(daᵢ + xᵢ·dcᵢ)/cᵢ. */
function differenceAt(lines: SeparateLines, { a, b }: Pair, rwc: number): DifferenceAt {
  const [a1, c1, a2, c2] = [lines.estimates[2 * a]!, lines.estimates[2 * a + 1]!, lines.estimates[2 * b]!, lines.estimates[2 * b + 1]!];
  const y = (a1 + a2) / 2 + ((c1 + c2) / 2) * rwc;
  const x1 = (y - a1) / c1;
  const x2 = (y - a2) / c2;
  const combination = new Array<number>(lines.estimates.length).fill(0);
  combination[2 * a] = -1 / c1;
  combination[2 * a + 1] = -x1 / c1;
  combination[2 * b] = 1 / c2;
  combination[2 * b + 1] = x2 / c2;
  const { variance, degreesOfFreedom } = lines.varianceOf(combination);
  return { rwc, points: 100 * (x1 - x2), standardErrorPoints: 100 * Math.sqrt(variance), degreesOfFreedom };
}

function overall(verdicts: readonly EquivalenceVerdict[]): EquivalenceVerdict {
  if (verdicts.includes('different')) return 'different';
  return verdicts.every((verdict) => verdict === 'equivalent') ? 'equivalent' : 'undecided';
}

function pairSentence(verdict: EquivalenceVerdict, { first, second }: Pair, ends: { largestPoints: number; lowerPoints: number; upperPoints: number }, margin: number, alpha: number): string {
  const points = (value: number) => value.toFixed(1).replace('-', '−');
  const level = Number((100 * (1 - 2 * alpha)).toPrecision(4));
  const found = `at the same transmittance ${first} and ${second} differ by up to ${points(ends.largestPoints)} points (${level} % interval ${points(ends.lowerPoints)} to ${points(ends.upperPoints)})`;
  if (verdict === 'equivalent') return `Equivalent: ${found}, within the margin of ±${margin}.`;
  if (verdict === 'different') return `Different: ${found}, beyond the margin of ±${margin}.`;
  return `Undecided: ${found}; the margin is ±${margin}. The data can neither show that they agree nor that they do not: measure more leaves of both.`;
}

function sentenceOf(verdict: EquivalenceVerdict, pairs: readonly PairComparison[], { marginPoints }: ComparisonRequest, pValue: number, alpha: number): string {
  const p = pValue < 0.001 ? 'p < 0.001' : `p = ${pValue.toPrecision(2)}`;
  const detected = pValue < alpha;
  if (verdict === 'equivalent') {
    const detail = detected ? `a difference is detectable (${p}) but too small to matter` : `no difference is detectable (${p})`;
    return `These groups may share one line: they agree within ±${marginPoints} points; ${detail}.`;
  }
  if (verdict === 'different') {
    const worst = pairs.filter((pair) => pair.verdict === 'different').map((pair) => `${pair.first} and ${pair.second}`);
    return `These groups may not share one line: ${worst.join(', ')} differ by more than ±${marginPoints} points or run against each other.`;
  }
  const detail = detected
    ? `a difference is detectable (${p}), but whether it stays within ±${marginPoints} points cannot be told from these data`
    : `no difference is detectable (${p}), but that is not proof that they agree within ±${marginPoints} points`;
  return `Not decided: ${detail}. Keep the lines apart and measure more leaves.`;
}

function notesOf(readings: readonly GroupedReading[], request: ComparisonRequest): string[] {
  const notes: string[] = [];
  const leaves = new Set(readings.map((reading) => JSON.stringify([reading.group, reading.plantId ?? null, reading.leafId]))).size;
  if (leaves < readings.length) {
    notes.push(
      request.leafEffect === 'none'
        ? `The ${readings.length} readings come from ${leaves} leaves but were taken for independent: every p-value and interval here is too optimistic.`
        : 'The F tests take the readings of a leaf for independent and so are too optimistic; the likelihood ratio and the margin verdict do not.',
    );
  }
  for (const name of new Set(readings.map((reading) => reading.group))) {
    const rwc = readings.filter((reading) => reading.group === name).map((reading) => reading.rwc);
    if (request.rwcRange.from >= Math.min(...rwc) && request.rwcRange.to <= Math.max(...rwc)) continue;
    notes.push(`The range asked for goes beyond the RWC measured for ${name}: the comparison extrapolates there.`);
  }
  return notes;
}
