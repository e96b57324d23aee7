import { fQuantile, fSurvival, studentTQuantile } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import { responseOf, type LeafLine, type LeafReading } from '../mixed/leaf-line.js';
import { requireFraction } from '../mixed/tolerance-factor.js';
import { ownPerformance, type OwnPerformance } from './own-performance.js';
import { requireSharedFit, type SharedFit } from './shared-curve.js';
import { readerOf, type SharedReader } from './shared-reader.js';

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
    /** Wald test of one common line, F with 2 and `denominatorDf` degrees of freedom; of a curve at both ends of the range. */
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
 * x̂ = (y − a_s)/c_s where the average own leaf gives y = a_o + c_o·x, so it is off by δ(x) = (a_o − a_s + (c_o − c_s)·x)/c_s. Of a shared curve g
 * own leaves are α + β·g(x), so that few of them need not show its every bend, and δ(x) = g⁻¹(α + β·g(x)) − x. Exact,
 * with its variance to first order from both covariances and Welch-Satterthwaite degrees of freedom (own leaves − 1 and shared leaves − 1
 * at most). `holds`: the 1 − 2·alpha interval of δ lies within ± margin over the whole range (two one-sided tests). `holds with offset`: it
 * does after δ in the middle of the range is taken off. `does not hold`: a simultaneous band of δ lies beyond the margin somewhere.
 * `not enough data`: none of these is shown, with how many leaves more would show one of the first two if δ stayed as it is.
 *
 * @param shared the calibration as it was sent @param readings of own leaves, of known RWC, on the same scale of transmittance
 * @throws InputError `NO_READINGS`, `NOT_FINITE`, `NOT_POSITIVE`, `NOT_A_FRACTION`, `COVARIANCE_SHAPE`, `LENGTHS_DIFFER`, `FLAT_LINE`, `RANGE`, `NO_OVERLAP`, and
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
export function studyTransfer(shared: SharedFit, readings: readonly LeafReading[], request: TransferRequest): TransferStudy {
  const alpha = requireAlpha(request.alpha ?? 0.05);
  const margin = requirePositive('marginPoints', request.marginPoints);
  requireSharedFit(shared);
  if (readings.length === 0) throw new InputError('NO_READINGS', 'readings', 'there is none', 'Give the readings of your own leaves.');
  const performance = ownPerformance(shared, readings, requireFraction('level', request.level ?? 0.95));
  const rwcRange = rangeOf(shared, readings, request);
  const base = { leaves: performance.leaves.length, readings: readings.length, performance, rwcRange, notes: notesOf(shared, readings, rwcRange) };
  if (base.leaves < LEAST_OWN_LEAVES) {
    const moreLeaves = LEAST_OWN_LEAVES - base.leaves;
    return { ...base, verdict: 'not enough data', comparison: null, moreLeaves, sentence: `Not enough data: ${base.leaves} own ${base.leaves === 1 ? 'leaf tells' : 'leaves tell'} nothing of how own leaves differ. Measure at least ${moreLeaves} more.` };
  }
  return { ...base, ...judge(shared, fitOwnLeaves(shared, readings, request.leafEffect ?? 'intercept'), rwcRange, margin, alpha) };
}

/** Own leaves as {@link studyTransfer} fits them: by a straight line in RWC, or for a curve in its own response. Errors as those of `fitLeafLine`. */
export const fitOwnLeaves = (shared: SharedFit, readings: readonly LeafReading[], leafEffect: 'intercept' | 'intercept-and-slope'): LeafLine => readerOf(shared).fitOwn(readings, leafEffect);

function judge(shared: SharedFit, own: LeafLine, rwcRange: TransferStudy['rwcRange'], margin: number, alpha: number): Pick<TransferStudy, 'verdict' | 'sentence' | 'comparison' | 'moreLeaves'> {
  const places = Array.from({ length: GRID }, (_, i) => rwcRange.from + ((rwcRange.to - rwcRange.from) * i) / (GRID - 1));
  const reader = readerOf(shared);
  const parts = places.map((rwc) => reader.off(own, rwc));
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
    ...slopeRatioOf(reader, shared, own, rwcRange, alpha), offsetPoints: offset, offsetStandardErrorPoints: curve[(GRID - 1) / 2]!.standardErrorPoints,
    commonLine: commonLineTest(reader, own, rwcRange), curve, worstPoints, worstAfterOffsetPoints,
  };
  return { verdict, comparison, moreLeaves, sentence: sentenceOf(verdict, comparison, margin, moreLeaves) };
}

/** Welch-Satterthwaite for two independent parts; leaves, not readings, say how well each is known. */
function welch(a: number, dfA: number, b: number, dfB: number): { readonly variance: number; readonly degreesOfFreedom: number } {
  const variance = a + b;
  return { variance, degreesOfFreedom: variance === 0 ? Infinity : variance ** 2 / (a ** 2 / dfA + b ** 2 / dfB) };
}

function slopeRatioOf(reader: SharedReader, shared: SharedFit, own: LeafLine, rwcRange: TransferStudy['rwcRange'], alpha: number): { slopeRatio: number; slopeRatioInterval: { lower: number; upper: number } } {
  const { ratio: slopeRatio, ownVariance, sharedVariance } = reader.slopeRatio(own, rwcRange);
  const { variance, degreesOfFreedom } = welch(ownVariance, own.leafCount - 1, sharedVariance, shared.leafCount - 1);
  const half = studentTQuantile(1 - alpha / 2, degreesOfFreedom) * Math.sqrt(variance);
  return { slopeRatio, slopeRatioInterval: { lower: slopeRatio - half, upper: slopeRatio + half } };
}

/** F = dᵀV⁻¹d/2 for the difference d of the two; V the sum of their covariances, known no better than the own leaves are. */
function commonLineTest(reader: SharedReader, own: LeafLine, rwcRange: TransferStudy['rwcRange']): { statistic: number; denominatorDf: number; pValue: number } {
  const { difference: [d0, d1], covariance: [v00, v01, v11] } = reader.apart(own, rwcRange);
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

function rangeOf(shared: SharedFit, readings: readonly LeafReading[], { rwcRange }: TransferRequest): TransferStudy['rwcRange'] {
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

function notesOf(shared: SharedFit, readings: readonly LeafReading[], { from, to }: TransferStudy['rwcRange']): string[] {
  const rwc = readings.map((reading) => reading.rwc);
  const notes: string[] = [];
  if (from < shared.rwcRange.from || to > shared.rwcRange.to) notes.push('The range asked for goes beyond the RWC of the shared calibration: it extrapolates there.');
  if (from < Math.min(...rwc) || to > Math.max(...rwc)) notes.push('The range asked for goes beyond the RWC of the own leaves: nothing was seen there.');
  const reader = readerOf(shared);
  const unread = readings.filter(({ transmittance }) => !reader.takes(responseOf(reader.responseScale, transmittance))).length;
  if (unread > 0) notes.push(`${unread} own ${unread === 1 ? 'reading has a transmittance' : 'readings have transmittances'} that the shared curve never takes: read along its tangent at the true RWC.`);
  return notes;
}
