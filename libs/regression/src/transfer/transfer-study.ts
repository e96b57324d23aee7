import { fQuantile, fSurvival, studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { fitLeafLine, type LeafLine, type LeafReading } from '../mixed/leaf-line.js';
import { quadraticForm } from '../mixed/satterthwaite.js';
import { requireFraction } from '../mixed/tolerance-factor.js';
import { ownPerformance, type OwnPerformance } from './own-performance.js';
import { requireShared, type SharedLine } from './shared-line.js';

export interface TransferRequest {
  /** How far off a reading may be, in points of RWC (0.01 of RWC), for the calibration still to hold. */
  readonly marginPoints: number;
  /** RWC over which it must hold, fractions; default: where shared calibration and own readings overlap. */
  readonly rwcRange?: { readonly from: number; readonly to: number };
  /** Error rate of the verdict; default 0.05. */
  readonly alpha?: number;
  /** In what own leaves are let differ; default `intercept`. Slopes too: from about six leaves on, read over much of the range. */
  readonly leafEffect?: 'intercept' | 'intercept-and-slope';
  /** Of the new-leaf interval that own leaves are held against; default 0.95. */
  readonly level?: number;
}

export type TransferVerdict = 'holds' | 'holds with offset' | 'does not hold' | 'not enough data';

/** How far the shared line reads off for the average own leaf, at one RWC. */
export interface OffAt {
  readonly rwc: number;
  /** Read less true, in points of RWC. */
  readonly points: number;
  readonly standardErrorPoints: number;
  readonly degreesOfFreedom: number;
}

export interface TransferStudy {
  readonly verdict: TransferVerdict;
  /** What to do, in a sentence or two, to be shown with the verdict. */
  readonly sentence: string;
  readonly leaves: number;
  readonly readings: number;
  readonly performance: OwnPerformance;
  /** The rest needs three own leaves, and is null below. */
  readonly comparison: {
    /** Own slope over the shared one: 1 where light answers water alike. */
    readonly slopeRatio: number;
    readonly slopeRatioInterval: { readonly lower: number; readonly upper: number };
    /** What the shared line reads too much in the middle of the range, in points; to be taken off where the verdict asks for an offset. */
    readonly offsetPoints: number;
    readonly offsetStandardErrorPoints: number;
    /** Wald test of one common line, F with 2 and `denominatorDf` degrees of freedom. */
    readonly commonLine: { readonly statistic: number; readonly denominatorDf: number; readonly pValue: number };
    readonly curve: readonly OffAt[];
    /** Greatest end over the range of the 1 − 2·alpha interval of |read less true|, as it stands and after the offset, in points. */
    readonly worstPoints: number;
    readonly worstAfterOffsetPoints: number;
  } | null;
  /** How many own leaves more would settle it, if they went on as these; null where it is settled, or no number would. */
  readonly moreLeaves: number | null;
  readonly rwcRange: { readonly from: number; readonly to: number };
  readonly notes: readonly string[];
}

/** Below this the spread between own leaves is a guess (common practice, no source). */
export const LEAST_OWN_LEAVES = 3;
const GRID = 21;
const MOST_LEAVES = 10_000;

/**
 * May this laboratory read its own leaves by somebody else's calibration?
 *
 * The own leaves are fitted by a line of their own with leaf effects (height of the leaf random, slope where asked for, REML). At RWC x the shared line reads
 * x̂ = (y − a_s)/c_s where the average own leaf gives y = a_o + c_o·x, so it is off by δ(x) = (a_o − a_s + (c_o − c_s)·x)/c_s: exact,
 * with its variance to first order from both covariances and Welch-Satterthwaite degrees of freedom (own leaves − 1 and shared leaves − 1
 * at most). `holds`: the 1 − 2·alpha interval of δ lies within ± margin over the whole range (two one-sided tests). `holds with offset`: it
 * does after δ in the middle of the range is taken off. `does not hold`: a simultaneous band of δ lies beyond the margin somewhere.
 * `not enough data`: none of these is shown, with how many leaves more would show one of the first two if δ stayed as it is.
 *
 * @param shared the calibration as it was sent @param readings of own leaves, of known RWC, on the same scale of transmittance
 * @throws InputError `NO_READINGS`, `NOT_FINITE`, `NOT_POSITIVE`, `NOT_A_FRACTION`, `COVARIANCE_SHAPE`, `FLAT_LINE`, `RANGE`, `NO_OVERLAP`, and
 *   those of `fitLeafLine`
 *
 * Source: two one-sided tests, D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657; Working & Hotelling (1929) for the band. That
 * few leaves cannot show agreement is the point: "not significant" is not "the same".
 *
 * @example
 * const leaf = (height) => (leafId, i) => [1, 0.85, 0.7, 0.55].map((rwc, k) => ({ leafId, rwc, transmittance: Math.exp(-0.9 + height + 0.02 * (i % 3) - rwc + 0.005 * ((i + k) % 2)) }));
 * const shared = sharedLineOf(fitLeafLine([...'abcdefghij'].flatMap(leaf(0)), { method: 'REML', leafEffect: 'intercept', responseScale: 'ln-transmittance' }));
 * const own = (height) => [...'vwxyz'].flatMap(leaf(height));
 * [0, 0.1].map((height) => studyTransfer(shared, own(height), { marginPoints: 5 }).verdict) // => ['holds', 'holds with offset']
 */
export function studyTransfer(shared: SharedLine, readings: readonly LeafReading[], request: TransferRequest): TransferStudy {
  const alpha = requireAlpha(request.alpha ?? 0.05);
  const margin = requirePositive('marginPoints', request.marginPoints);
  requireShared(shared);
  if (readings.length === 0) throw new InputError('NO_READINGS', 'readings', 'there is none', 'Give the readings of your own leaves.');
  const performance = ownPerformance(shared, readings, requireFraction('level', request.level ?? 0.95));
  const rwcRange = rangeOf(shared, readings, request);
  const base = { leaves: performance.leaves.length, readings: readings.length, performance, rwcRange, notes: notesOf(shared, readings, rwcRange) };
  if (base.leaves < LEAST_OWN_LEAVES) {
    const moreLeaves = LEAST_OWN_LEAVES - base.leaves;
    return { ...base, verdict: 'not enough data', comparison: null, moreLeaves, sentence: `Not enough data: ${base.leaves} own ${base.leaves === 1 ? 'leaf tells' : 'leaves tell'} nothing of how own leaves differ. Measure at least ${moreLeaves} more.` };
  }
  const own = fitLeafLine(readings, { method: 'REML', leafEffect: request.leafEffect ?? 'intercept', responseScale: shared.responseScale, originRwc: shared.originRwc });
  return { ...base, ...judge(shared, own, rwcRange, margin, alpha) };
}

function judge(shared: SharedLine, own: LeafLine, rwcRange: TransferStudy['rwcRange'], margin: number, alpha: number): Pick<TransferStudy, 'verdict' | 'sentence' | 'comparison' | 'moreLeaves'> {
  const places = Array.from({ length: GRID }, (_, i) => rwcRange.from + ((rwcRange.to - rwcRange.from) * i) / (GRID - 1));
  const parts = places.map((rwc) => offAt(shared, own, rwc));
  const offset = parts[(GRID - 1) / 2]!.points;
  const worst = (ownFactor: number, df: number, shift: number): number =>
    Math.max(...parts.map(({ points, ownVariance, sharedVariance }) => {
      const known = welch(ownVariance * ownFactor, df, sharedVariance, shared.leafCount - 1);
      return Math.abs(points - shift) + studentTQuantile(1 - alpha, known.degreesOfFreedom) * Math.sqrt(known.variance);
    }));
  const ownDf = own.leafCount - 1;
  const worstPoints = worst(1, ownDf, 0);
  const worstAfterOffsetPoints = worst(1, ownDf, offset);
  const curve = parts.map(({ rwc, points, ownVariance, sharedVariance }): OffAt => {
    const { variance, degreesOfFreedom } = welch(ownVariance, ownDf, sharedVariance, shared.leafCount - 1);
    return { rwc, points, standardErrorPoints: Math.sqrt(variance), degreesOfFreedom };
  });
  const beyond = curve.some(({ points, standardErrorPoints, degreesOfFreedom }) => Math.abs(points) - Math.sqrt(2 * fQuantile(1 - alpha, 2, degreesOfFreedom)) * standardErrorPoints > margin);
  const verdict: TransferVerdict = worstPoints < margin ? 'holds' : worstAfterOffsetPoints < margin ? 'holds with offset' : beyond ? 'does not hold' : 'not enough data';
  const moreLeaves = verdict === 'not enough data' || verdict === 'does not hold' ? leavesNeeded((n) => Math.min(worst(own.leafCount / n, n - 1, 0), worst(own.leafCount / n, n - 1, offset)) < margin, own.leafCount) : null;
  const comparison = {
    ...slopeRatioOf(shared, own, alpha), offsetPoints: offset, offsetStandardErrorPoints: curve[(GRID - 1) / 2]!.standardErrorPoints,
    commonLine: commonLineTest(shared, own), curve, worstPoints, worstAfterOffsetPoints,
  };
  return { verdict, comparison, moreLeaves, sentence: sentenceOf(verdict, comparison, margin, moreLeaves) };
}

interface Off {
  readonly rwc: number;
  readonly points: number;
  readonly ownVariance: number;
  readonly sharedVariance: number;
}

/** δ(x) and its two parts of variance: ∂δ/∂(a_o, c_o) = (1, x)/c_s, ∂δ/∂(a_s, c_s) = −(1, x̂)/c_s with x̂ = x + δ; x from the origin. */
function offAt(shared: SharedLine, own: LeafLine, rwc: number): Off {
  const x = rwc - shared.originRwc;
  const off = (own.intercept - shared.intercept + (own.slope - shared.slope) * x) / shared.slope;
  const perPoint = 100 / shared.slope;
  return {
    rwc,
    points: 100 * off,
    ownVariance: perPoint * perPoint * quadraticForm([1, x], own.fit.fixedCovariance),
    sharedVariance: perPoint * perPoint * quadraticForm([1, x + off], shared.covariance),
  };
}

/** Welch-Satterthwaite for two independent parts; leaves, not readings, say how well each is known. */
function welch(a: number, dfA: number, b: number, dfB: number): { readonly variance: number; readonly degreesOfFreedom: number } {
  const variance = a + b;
  return { variance, degreesOfFreedom: variance === 0 ? Infinity : variance ** 2 / (a ** 2 / dfA + b ** 2 / dfB) };
}

function slopeRatioOf(shared: SharedLine, own: LeafLine, alpha: number): { slopeRatio: number; slopeRatioInterval: { lower: number; upper: number } } {
  const slopeRatio = own.slope / shared.slope;
  const { variance, degreesOfFreedom } = welch(
    own.fit.fixedCovariance[1]![1]! / shared.slope ** 2, own.leafCount - 1, (slopeRatio / shared.slope) ** 2 * shared.covariance[1]![1]!, shared.leafCount - 1,
  );
  const half = studentTQuantile(1 - alpha / 2, degreesOfFreedom) * Math.sqrt(variance);
  return { slopeRatio, slopeRatioInterval: { lower: slopeRatio - half, upper: slopeRatio + half } };
}

/** F = dᵀV⁻¹d/2 for the difference d of the two lines; V the sum of their covariances, known no better than the own leaves are. */
function commonLineTest(shared: SharedLine, own: LeafLine): { statistic: number; denominatorDf: number; pValue: number } {
  const [d0, d1] = [own.intercept - shared.intercept, own.slope - shared.slope];
  const [v00, v01, v11] = ([[0, 0], [0, 1], [1, 1]] as const).map(([i, j]) => own.fit.fixedCovariance[i]![j]! + shared.covariance[i]![j]!) as [number, number, number];
  const statistic = (d0 * d0 * v11 - 2 * d0 * d1 * v01 + d1 * d1 * v00) / (v00 * v11 - v01 * v01) / 2;
  const denominatorDf = own.leafCount - 1;
  return { statistic, denominatorDf, pValue: fSurvival(statistic, 2, denominatorDf) };
}

/** The fewest leaves, from those there are on, with which `enough` holds; how many more that is. */
function leavesNeeded(enough: (leaves: number) => boolean, present: number): number | null {
  if (!enough(MOST_LEAVES)) return null;
  let [few, many] = [present, MOST_LEAVES];
  while (many - few > 1) {
    const middle = Math.floor((few + many) / 2);
    if (enough(middle)) many = middle;
    else few = middle;
  }
  return many - present;
}

function sentenceOf(verdict: TransferVerdict, { offsetPoints, worstPoints, worstAfterOffsetPoints, slopeRatio }: NonNullable<TransferStudy['comparison']>, margin: number, moreLeaves: number | null): string {
  const points = (value: number): string => value.toFixed(1).replace('-', '−');
  const more = moreLeaves === null
    ? 'No number of leaves like these would show that it does, with or without an offset.'
    : `About ${moreLeaves} more own leaves like these would show that it does, with or without an offset.`;
  switch (verdict) {
    case 'holds': return `Holds: for own leaves it reads within ${points(worstPoints)} points, inside the margin of ±${margin}.`;
    case 'holds with offset': return `Holds with an offset: it reads ${points(Math.abs(offsetPoints))} points too ${offsetPoints > 0 ? 'much' : 'little'}; with that taken off, within ${points(worstAfterOffsetPoints)} points, inside the margin of ±${margin}.`;
    case 'does not hold': return `Does not hold: it reads ${points(Math.abs(offsetPoints))} points too ${offsetPoints > 0 ? 'much' : 'little'} in the middle of the range, and own leaves have ${slopeRatio.toFixed(2)} times its slope. ${more}`;
    case 'not enough data': return `Not enough data: the error may be as large as ${points(worstPoints)} points; the margin is ±${margin}. ${more}`;
  }
}

function requireAlpha(alpha: number): number {
  if (requireFinite('alpha', alpha) > 0 && alpha < 0.5) return alpha;
  throw new InputError('NOT_A_FRACTION', 'alpha', `expected a number between 0 and 0.5, got ${alpha}`, 'Give a fraction such as 0.05.');
}

function rangeOf(shared: SharedLine, readings: readonly LeafReading[], { rwcRange }: TransferRequest): TransferStudy['rwcRange'] {
  if (rwcRange !== undefined) {
    requireFinite('rwcRange.from', rwcRange.from);
    requireFinite('rwcRange.to', rwcRange.to);
    if (rwcRange.from < rwcRange.to) return rwcRange;
    throw new InputError('RANGE', 'rwcRange', `from ${rwcRange.from} is not below to ${rwcRange.to}`, 'Give the lower RWC first.');
  }
  const rwc = readings.map((reading) => reading.rwc);
  const from = Math.max(shared.rwcRange.from, Math.min(...rwc));
  const to = Math.min(shared.rwcRange.to, Math.max(...rwc));
  if (from < to) return { from, to };
  throw new InputError('NO_OVERLAP', 'readings', `own readings and the shared calibration (${shared.rwcRange.from} to ${shared.rwcRange.to}) have no RWC in common`, 'Read own leaves over the range of the shared calibration.');
}

function notesOf(shared: SharedLine, readings: readonly LeafReading[], { from, to }: TransferStudy['rwcRange']): string[] {
  const rwc = readings.map((reading) => reading.rwc);
  const notes: string[] = [];
  if (from < shared.rwcRange.from || to > shared.rwcRange.to) notes.push('The range asked for goes beyond the RWC of the shared calibration: it extrapolates there.');
  if (from < Math.min(...rwc) || to > Math.max(...rwc)) notes.push('The range asked for goes beyond the RWC of the own leaves: nothing was seen there.');
  return notes;
}
