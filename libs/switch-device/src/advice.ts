import { requireCount } from '#libs/numeric';
import { InputError, requirePositive } from '#libs/quantity';
import { requireNotNegative } from './bias-threshold.js';
import type { SpreadCause, SpreadShare } from './certificate-request.js';

/** Something a lab could do next, with what it needs to be weighed against the others. */
export type MeasurementOption =
  /** Calibrate with `extra` leaves more than the `leaves` so far. */
  | { readonly kind: 'more-leaves'; readonly leaves: number; readonly extra: number }
  /** Take `extra` readings more of each leaf than the `readingsPerLeaf` so far; SDs on one scale (ln T or RWC). */
  | { readonly kind: 'more-readings'; readonly readingsPerLeaf: number; readonly extra: number; readonly betweenLeafSd: number; readonly readingSd: number }
  /** Divide by each leaf's own turgid transmittance, which leaves this SD of RWC between leaves. */
  | { readonly kind: 'normalise-by-turgid-leaf'; readonly remainingSigmaRwc: number }
  /** Read the light beside the unit (open-sky reference in the same band), which leaves this SD of RWC. */
  | { readonly kind: 'measure-light-at-trip'; readonly remainingSigmaRwc: number }
  /** Repeat trip tests: `curvePart` is the part of the device's variance that comes from the curve (the rest is trip scatter and stays). */
  | { readonly kind: 'more-trip-tests'; readonly tests: number; readonly extra: number; readonly curvePart: number };

export interface WeighedOption {
  readonly option: MeasurementOption;
  readonly cause: SpreadCause;
  /** SD of the trip RWC if this were done, fraction. */
  readonly sigmaAfter: number;
  /** 1 − sigmaAfter/sigma: how much narrower the interval would be. */
  readonly gain: number;
  readonly sentence: string;
}

const CAUSE: Record<MeasurementOption['kind'], SpreadCause> = {
  'more-leaves': 'fit',
  'more-readings': 'fit',
  'normalise-by-turgid-leaf': 'leaf',
  'measure-light-at-trip': 'irradiance',
  'more-trip-tests': 'device',
};

/**
 * What to measure next: each option's effect on the SD of the trip RWC, best first.
 *
 * More leaves shrink the fit's part by n/(n + extra); more readings shrink only what readings contribute to it,
 * (s²/m)/(τ² + s²/m); neither changes how much the next leaf will differ.
 *
 * @param shares of a certificate @param options what the lab could do
 * @returns the options weighed, largest gain first (equal gains in the order given)
 * @throws InputError `NO_SPREAD` when nothing spreads, `SHARE_MISSING`, `NOT_A_PART`, `NOT_A_COUNT`, `NEGATIVE`
 *
 * @example
 * const shares = [{ cause: 'leaf', sigmaRwc: 0.06, share: 0.36 }, { cause: 'fit', sigmaRwc: 0.08, share: 0.64 }];
 * adviseNextMeasurement(shares, [{ kind: 'more-leaves', leaves: 8, extra: 8 }])[0].sigmaAfter // => Math.hypot(0.06, 0.08 / Math.SQRT2)
 */
export function adviseNextMeasurement(shares: readonly SpreadShare[], options: readonly MeasurementOption[]): readonly WeighedOption[] {
  const variance = shares.reduce((s, share) => s + share.sigmaRwc ** 2, 0);
  if (!(variance > 0)) throw new InputError('NO_SPREAD', 'shares', 'nothing spreads the trip RWC', 'Take the shares of a computed certificate.');
  const sigma = Math.sqrt(variance);
  return options.map((option, i) => {
    const cause = CAUSE[option.kind];
    const share = shares.find((s) => s.cause === cause);
    if (share === undefined) {
      throw new InputError('SHARE_MISSING', 'shares', `has no share for ${cause}`, 'Take the shares of a computed certificate unchanged.');
    }
    const now = share.sigmaRwc ** 2;
    const then = varianceAfter(option, now, `options[${i}]`);
    const sigmaAfter = Math.sqrt(Math.max(variance - now + then, 0));
    const gain = 1 - sigmaAfter / sigma;
    return { option, cause, sigmaAfter, gain, sentence: sentenceOf(option, sigma, sigmaAfter) };
  }).sort((p, q) => q.gain - p.gain);
}

function varianceAfter(option: MeasurementOption, now: number, field: string): number {
  switch (option.kind) {
    case 'more-leaves': {
      const { leaves, extra } = option;
      requireCount(`${field}.leaves`, leaves, 1);
      requireCount(`${field}.extra`, extra, 1);
      return (now * leaves) / (leaves + extra);
    }
    case 'more-readings': {
      const { readingsPerLeaf: m, extra } = option;
      requireCount(`${field}.readingsPerLeaf`, m, 1);
      requireCount(`${field}.extra`, extra, 1);
      const between = requireNotNegative(`${field}.betweenLeafSd`, option.betweenLeafSd) ** 2;
      const reading = requirePositive(`${field}.readingSd`, option.readingSd) ** 2;
      return (now * (between + reading / (m + extra))) / (between + reading / m);
    }
    case 'normalise-by-turgid-leaf':
    case 'measure-light-at-trip':
      return requireNotNegative(`${field}.remainingSigmaRwc`, option.remainingSigmaRwc) ** 2;
    case 'more-trip-tests': {
      const { tests, extra, curvePart } = option;
      requireCount(`${field}.tests`, tests, 1);
      requireCount(`${field}.extra`, extra, 1);
      if (!(curvePart >= 0 && curvePart <= 1)) {
        throw new InputError('NOT_A_PART', `${field}.curvePart`, `${curvePart} is not between 0 and 1`, 'Give the part as a fraction.');
      }
      return now * (1 - curvePart + (curvePart * tests) / (tests + extra));
    }
  }
}

function sentenceOf(option: MeasurementOption, sigma: number, after: number): string {
  const points = (s: number): string => (100 * s).toFixed(1);
  const effect = after < sigma
    ? `narrows the spread of the trip from ${points(sigma)} to ${points(after)} points of RWC.`
    : `does not narrow the spread of the trip (${points(sigma)} to ${points(after)} points of RWC).`;
  switch (option.kind) {
    case 'more-leaves': return `Calibrating with ${option.extra} more leaves ${effect}`;
    case 'more-readings': return `Taking ${option.extra} more readings of each leaf ${effect}`;
    case 'normalise-by-turgid-leaf': return `Dividing by each leaf's own turgid transmittance ${effect}`;
    case 'measure-light-at-trip': return `Measuring the light beside the unit in its own band ${effect}`;
    case 'more-trip-tests': return `Making ${option.extra} more trip tests ${effect}`;
  }
}
