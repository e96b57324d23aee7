import { createStream, type RandomStream } from '#libs/numeric';
import { InputError, requirePositive } from '#libs/quantity';
import type { Problem } from '../least-squares/problem.js';
import { quickDescent, roomFor, sharedStart } from '../least-squares/quick-descent.js';
import { seekRest } from '../least-squares/search.js';
import type { Family, StraightLine } from './family.js';
import { families, modelOf, type FamilyFit } from './fit-family.js';
import type { CalibrationPoint } from './points.js';

export interface RefitRequest {
  readonly seed: bigint | string;
  /** First draw and how many: any thread may take any stretch, the draws are the same. */
  readonly from: number;
  readonly count: number;
  /** Draw the RWC of each point too, by its `uRwc`. Default false: RWC as weighed. */
  readonly drawRwc?: boolean;
}

/**
 * Monte Carlo refits: points drawn around the fitted curve, each draw fitted anew (parametric bootstrap; JCGM 101:2008).
 * Transmittances scatter by their stated uncertainty where the fit was weighted by it, else by the residual SD of the fit.
 * RWCs, where drawn, are independent: for shared masses see {@link sharedMassCovariance} and fitFamilyWithErrorsInBoth.
 *
 * @returns one row of parameters a draw, row by row; NaN throughout a row whose refit did not come to rest
 * @throws InputError COUNT, NOT_FINITE (a missing `uRwc`), MISMATCH (points that are not those of the fit), RWC_IN_LOG (drawn
 *   RWC of a power curve at or below zero)
 * @example
 * const points = [1, 0.9, 0.8, 0.7, 0.6].map((rwc, i) => ({ rwc, transmittance: Math.exp(-0.9 - rwc + 0.01 * (i % 2)) }));
 * const fit = fitFamily('log-linear', points);
 * const rows = refitDraws(fit, points, { seed: '1', from: 0, count: 1000 });
 * rows.length // => 2000
 */
export function refitDraws(fit: FamilyFit, points: readonly CalibrationPoint[], request: RefitRequest): Float64Array {
  for (const name of ['from', 'count'] as const) {
    if (!Number.isInteger(request[name]) || request[name] < 0) {
      throw new InputError('COUNT', name, `${request[name]} is not a whole number from 0`, 'Give a whole number.');
    }
  }
  const sample = sampleOf(fit, points, request.drawRwc === true);
  const refit = refitterOf(fit, sample);
  const stream = createStream(request.seed, 0);
  const p = fit.parameters.length;
  const rows = new Float64Array(request.count * p);
  const perDraw = 2 * sample.x.length;
  for (let i = 0; i < request.count; i++) {
    drawInto(sample, stream, (request.from + i) * perDraw);
    rows.set(refit() ?? new Float64Array(p).fill(NaN), i * p);
  }
  return rows;
}

interface Sample {
  readonly centreX: Float64Array;
  readonly centreY: Float64Array;
  readonly sdX: Float64Array | null;
  /** On the error scale. */
  readonly sdY: Float64Array;
  /** Rewritten by every draw. */
  readonly x: Float64Array;
  readonly y: Float64Array;
}

function sampleOf(fit: FamilyFit, points: readonly CalibrationPoint[], drawRwc: boolean): Sample {
  const relative = fit.errorScale === 'relative';
  const own = fit.points.map(({ index, predictor }) => {
    const point = points[index];
    const given = fit.predictor === 'rwc' ? point?.rwc : point?.ewtUm;
    if (point !== undefined && given === predictor) return point;
    throw new InputError('MISMATCH', `points[${index}]`, 'this is not the point that was fitted', 'Give the list the fit was made of.');
  });
  const weighted = fit.weighting === 'stated';
  return {
    centreX: Float64Array.from(fit.points, (point) => point.predictor),
    centreY: Float64Array.from(fit.points, (point) => (relative ? Math.log(point.fitted) : point.fitted)),
    sdX: drawRwc ? Float64Array.from(own, (point, i) => requirePositive(`points[${fit.points[i]!.index}].uRwc`, point.uRwc ?? NaN)) : null,
    sdY: Float64Array.from(own, (point) => {
      if (!weighted) return fit.residualSd;
      const turgid = fit.response === 'turgid-ratio' ? point.turgidTransmittance! : 1;
      return relative ? point.uTransmittance! / point.transmittance : point.uTransmittance! / turgid;
    }),
    x: Float64Array.from(fit.points, (point) => point.predictor),
    y: new Float64Array(fit.points.length),
  };
}

function drawInto(sample: Sample, stream: RandomStream, at: number): void {
  const { x, y, centreX, centreY, sdX, sdY } = sample;
  const n = x.length;
  stream.normalsAt(at, y);
  for (let i = 0; i < n; i++) y[i] = centreY[i]! + sdY[i]! * y[i]!;
  if (sdX === null) return;
  stream.normalsAt(at + n, x);
  for (let i = 0; i < n; i++) x[i] = centreX[i]! + sdX[i]! * x[i]!;
}

/** Fits what stands in the sample now. Weights are those of the fit, for every draw. */
function refitterOf(fit: FamilyFit, sample: Sample): () => Float64Array | null {
  const family = families[fit.family];
  const weights = fit.weighting === 'stated' ? sample.sdY.map((sd) => 1 / (sd * sd)) : null;
  const { line } = family;
  if (line !== null && line.errorScale === fit.errorScale) return () => straightLine(line, sample, weights);
  return curveRefitter(family, fit, sample, weights);
}

function straightLine(line: StraightLine, { x, y }: Sample, weights: Float64Array | null): Float64Array {
  const n = x.length;
  let total = 0;
  let meanZ = 0;
  let meanY = 0;
  for (let i = 0; i < n; i++) {
    const w = weights === null ? 1 : weights[i]!;
    total += w;
    meanZ += w * zAt(line, x[i]!);
    meanY += w * y[i]!;
  }
  meanZ /= total;
  meanY /= total;
  let szz = 0;
  let szy = 0;
  for (let i = 0; i < n; i++) {
    const w = weights === null ? 1 : weights[i]!;
    const z = zAt(line, x[i]!) - meanZ;
    szz += w * z * z;
    szy += w * z * (y[i]! - meanY);
  }
  const slope = szy / szz;
  return Float64Array.of(meanY - slope * meanZ, slope);
}

function zAt(line: StraightLine, x: number): number {
  const z = line.predictor(x);
  if (Number.isFinite(z)) return z;
  throw new InputError('RWC_IN_LOG', 'points[*].uRwc', `an RWC of ${x} was drawn, of which a power curve takes the logarithm`, 'Fit another family, or state smaller uncertainties.');
}

/** Relative error of a refit's parameters: draws differ from each other by far more. */
const FAR_BELOW_THE_SCATTER = 1e-9;

function curveRefitter(family: Family, fit: FamilyFit, sample: Sample, weights: Float64Array | null): () => Float64Array | null {
  const problem: Problem = {
    model: modelOf(family, fit.errorScale, sample.x),
    response: sample.y,
    rootWeights: weights?.map(Math.sqrt) ?? null,
    lower: Float64Array.from(family.lower),
    upper: Float64Array.from(family.upper),
  };
  const start = Float64Array.from(fit.parameters);
  const room = roomFor(problem);
  // Where RWC stays as weighed, every draw starts at the very same curve.
  const common = sample.sdX === null ? sharedStart(problem, start) : start;
  return () => {
    const quick = quickDescent(problem, common, 40, FAR_BELOW_THE_SCATTER, room);
    if (quick !== null) return quick.parameters;
    const rest = seekRest(problem, start, 2000);
    return rest !== null && rest.settled ? rest.point.parameters : null;
  };
}
