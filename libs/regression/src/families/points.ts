import { InputError, requireFinite, requirePositive } from '#libs/quantity';
import type { ErrorScale } from './family.js';

/** One reading of a disc of known water content. RWC is a fraction, transmittance a ratio; uncertainties are standard. */
export interface CalibrationPoint {
  readonly rwc: number;
  readonly transmittance: number;
  readonly id?: string;
  readonly uRwc?: number;
  readonly uTransmittance?: number;
  readonly leafId?: string;
  readonly plantId?: string;
  readonly day?: string;
  readonly operator?: string;
  /** Place in the order of measuring, for residuals that drift. Default: the place in the list. */
  readonly order?: number;
  /** Water thickness in µm: needed where the predictor is `ewt`. */
  readonly ewtUm?: number;
  /** Transmittance of the same leaf when turgid: needed where the response is `turgid-ratio`. */
  readonly turgidTransmittance?: number;
  /** Why the point takes no part in the fit. It stays in the result, by this reason. */
  readonly excludedBecause?: string;
}

export type Predictor = 'rwc' | 'ewt';

/** `turgid-ratio` divides each reading by its own leaf's turgid transmittance, which takes leaf structure out. */
export type Response = 'transmittance' | 'turgid-ratio';

/** The points as the solver sees them, in the order given, excluded ones left out. */
export interface PreparedPoints {
  /** Place of each in the list the caller gave. */
  readonly index: readonly number[];
  readonly x: readonly number[];
  /** Response as a ratio: transmittance, or transmittance over the leaf's own. */
  readonly ratio: readonly number[];
  /** 1/u² on the error scale, or null for equal weights. */
  readonly weights: readonly number[] | null;
  /** Σ ln |d(fitted response)/dT|: puts likelihoods of different scales on the common ground of T. */
  readonly logJacobian: number;
}

export interface Preparation {
  readonly predictor: Predictor;
  readonly response: Response;
  readonly errorScale: ErrorScale;
  readonly weighting: 'equal' | 'stated';
  readonly needsPositivePredictor: boolean;
}

/** Checks every point that takes part and turns it into predictor, response and weight. */
export function preparePoints(points: readonly CalibrationPoint[], how: Preparation): PreparedPoints {
  const index: number[] = [];
  const x: number[] = [];
  const ratio: number[] = [];
  const weights: number[] = [];
  let logJacobian = 0;
  points.forEach((point, i) => {
    if (point.excludedBecause !== undefined) return;
    const field = `points[${i}]`;
    const t = transmittanceOf(point, field, how.errorScale);
    const turgid = how.response === 'turgid-ratio' ? turgidOf(point, field) : 1;
    index.push(i);
    x.push(predictorOf(point, field, how));
    ratio.push(t / turgid);
    logJacobian -= how.errorScale === 'relative' ? Math.log(t) : Math.log(turgid);
    if (how.weighting === 'stated') {
      const u = requirePositive(`${field}.uTransmittance`, point.uTransmittance ?? NaN);
      weights.push(1 / (how.errorScale === 'relative' ? u / t : u / turgid) ** 2);
    }
  });
  return { index, x, ratio, weights: how.weighting === 'stated' ? weights : null, logJacobian };
}

function transmittanceOf(point: CalibrationPoint, field: string, errorScale: ErrorScale): number {
  const t = requireFinite(`${field}.transmittance`, point.transmittance);
  if (errorScale === 'relative' && t <= 0) {
    throw new InputError(
      'NOT_POSITIVE',
      `${field}.transmittance`,
      `a fit on the relative scale takes ln T, and T is ${t}`,
      'Check dark and reference of this reading, exclude it with a reason, or fit on the absolute scale.',
    );
  }
  return t;
}

function predictorOf(point: CalibrationPoint, field: string, how: Preparation): number {
  const name = how.predictor === 'rwc' ? `${field}.rwc` : `${field}.ewtUm`;
  const value = how.predictor === 'rwc' ? point.rwc : point.ewtUm;
  if (value === undefined) {
    throw new InputError('MISSING', name, 'the predictor is water thickness, and this point has none', 'Give ewtUm for every point, or fit against RWC.');
  }
  return how.needsPositivePredictor ? requirePositive(name, value) : requireFinite(name, value);
}

function turgidOf(point: CalibrationPoint, field: string): number {
  if (point.turgidTransmittance === undefined) {
    throw new InputError(
      'MISSING',
      `${field}.turgidTransmittance`,
      'the response is relative to the turgid leaf, and this point has no turgid reading',
      'Read every leaf when turgid, or fit plain transmittance.',
    );
  }
  return requirePositive(`${field}.turgidTransmittance`, point.turgidTransmittance);
}
