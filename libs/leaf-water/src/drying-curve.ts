import { raise } from '#libs/numeric';
import { Budget, combineContributions, Contribution, formatNumber, InputError, requireFinite, requirePositive, sharedCovariance } from '#libs/quantity';
import { rwcSensitivities, turgidWaterMg } from './rwc.js';

/**
 * `log-linear`: the water left decays exponentially between two weighings, (m − D) = (m₁ − D)^(1−f)·(m₂ − D)^f.
 * A disc loses water roughly in proportion to what it still holds, so this is the default; a straight line would be high
 * by about Δt²·R/(8τ²): 0.16 points at Δt = 5 min, τ = 40 min.
 * `linear`: for a short gap, or where the loss is known to be steady, and the only choice while D is unknown.
 */
export type InterpolationMethod = 'log-linear' | 'linear';

export interface TimedMass {
  readonly massMg: number;
  readonly uMassMg: number;
  /** milliseconds since 1970-01-01 UTC */
  readonly atMs: number;
  /** this very weighing gave the turgid mass: its error is that of T, and cancels near turgor */
  readonly isTurgidMass?: boolean;
}

interface MassSeries {
  /** weighings of one disc in time order */
  readonly weighings: readonly TimedMass[];
  readonly dryMassMg?: number;
  readonly uDryMg?: number;
  readonly method?: InterpolationMethod;
  /** standard uncertainty of the reading's time against the weighings' times, s: clock offset between two instruments */
  readonly uTimeS?: number;
}

export interface MassAtReading {
  readonly massMg: number;
  readonly uMassMg: number;
  readonly method: InterpolationMethod;
  /** positions in `weighings`; equal where the reading was taken at a weighing's very time */
  readonly before: number;
  readonly after: number;
  /** sensitivities of the mass to the weighing before, the weighing after and the dry mass */
  readonly weights: { readonly before: number; readonly after: number; readonly dry: number };
  /** mg per minute at the reading, negative for a loss */
  readonly ratePerMin: number;
  /** standard uncertainty of the shape between two weighings: |log-linear − linear|/√3, mg */
  readonly uShapeMg: number;
  readonly budget: Budget;
}

const MINUTE_MS = 60_000;

/**
 * Mass of a drying disc at the moment of an optical reading, between the weighings before and after.
 *
 * Extrapolation is refused: weigh once more after the last reading. u holds the two weighings and D with the weights of
 * the interpolation, the shape (the distance between the two methods taken as a rectangular half-width; zero at a
 * weighing) and, where `uTimeS` is given, the rate times the uncertainty of the time.
 *
 * @returns mg
 * @throws InputError TOO_FEW_WEIGHINGS, UNSORTED_TIMES, READING_OUTSIDE_WEIGHINGS, DRY_MASS_MISSING,
 *   NOT_ABOVE_DRY, NOT_POSITIVE, NOT_FINITE
 * @example
 * const weighings = [{ massMg: 52, uMassMg: 0.1, atMs: 0 }, { massMg: 22, uMassMg: 0.1, atMs: 600_000 }];
 * massAtReading({ weighings, dryMassMg: 12, uDryMg: 0.1, readingAtMs: 300_000 }).massMg // => 32
 */
export function massAtReading(input: MassSeries & { readonly readingAtMs: number }): MassAtReading {
  requireWeighings(input.weighings);
  const point = interpolate(input, requireFinite('readingAtMs', input.readingAtMs), 'readingAtMs');
  const budget = combineContributions(point.contributions);
  return { ...point, uMassMg: budget.u, budget };
}

export interface RwcAtReadings {
  /** n fractions, in the order of the readings */
  readonly rwc: readonly number[];
  readonly u: readonly number[];
  /** n×n: readings share T, D, and the weighings between which they fall */
  readonly covariance: readonly (readonly number[])[];
  /** n standard uncertainties from what the whole run shares: T, D and the clock offset */
  readonly uCommon: readonly number[];
  readonly masses: readonly MassAtReading[];
}

/**
 * RWC at each optical reading of a drying disc, with the whole covariance: what T and D share, and what two readings
 * between the same weighings share. The clock offset, if any, is one error for the whole run. Where the turgid weighing
 * itself opens the series, mark it `isTurgidMass`: its error then enters once, not twice as if it were two.
 *
 * @throws InputError as {@link massAtReading}, DRY_NOT_BELOW_TURGID, NO_READINGS, TURGID_MASS_DIFFERS
 * @example
 * const weighings = [{ massMg: 70, uMassMg: 0.1, atMs: 0 }, { massMg: 41, uMassMg: 0.1, atMs: 600_000 }];
 * rwcAtReadings({ weighings, turgidMassMg: 70, uTurgidMg: 0.7, dryMassMg: 12, uDryMg: 0.16, readingsAtMs: [0, 600_000] }).rwc // => [1, 0.5]
 */
export function rwcAtReadings(input: MassSeries & {
  readonly turgidMassMg: number;
  readonly uTurgidMg: number;
  readonly dryMassMg: number;
  readonly uDryMg: number;
  readonly readingsAtMs: readonly number[];
}): RwcAtReadings {
  requireWeighings(input.weighings);
  if (input.readingsAtMs.length === 0) {
    throw new InputError('NO_READINGS', 'readingsAtMs', 'there is no reading', 'Give the time of at least one reading.');
  }
  const spanMg = turgidWaterMg(input);
  requireSameTurgid(input);
  const points = input.readingsAtMs.map((atMs, i) => {
    const field = `readingsAtMs[${i}]`;
    const point = interpolate(input, requireFinite(field, atMs), field);
    const rwc = (point.massMg - input.dryMassMg) / spanMg;
    const c = rwcSensitivities(rwc, spanMg);
    const contributions: Contribution[] = [
      ...point.contributions.map((line) => ({ ...line, sensitivity: line.sensitivity * c.fresh })),
      { source: TURGID_MASS, sensitivity: c.turgid, u: input.uTurgidMg },
      { source: DRY_MASS, sensitivity: c.dry, u: input.uDryMg },
    ];
    const budget = combineContributions(point.contributions);
    const uCommon = combineContributions(contributions.filter(({ source }) => RUN_WIDE.has(source))).u;
    return { rwc, contributions, uCommon, mass: { ...point, uMassMg: budget.u, budget } };
  });
  const covariance = sharedCovariance(points.map((point) => point.contributions));
  return {
    rwc: points.map((point) => point.rwc),
    u: covariance.map((row, i) => Math.sqrt(row[i]!)),
    covariance,
    uCommon: points.map((point) => point.uCommon),
    masses: points.map((point) => point.mass),
  };
}

const DRY_MASS = 'dry mass';
const TURGID_MASS = 'turgid mass';
const CLOCK_OFFSET = 'clock offset';
const RUN_WIDE: ReadonlySet<string> = new Set([DRY_MASS, TURGID_MASS, CLOCK_OFFSET]);

const sourceOf = (weighings: readonly TimedMass[], i: number): string => (weighings[i]!.isTurgidMass ? TURGID_MASS : `weighings[${i}]`);

type Interpolated = Omit<MassAtReading, 'uMassMg' | 'budget'> & { readonly contributions: readonly Contribution[] };

function interpolate(series: MassSeries, readingAtMs: number, field: string): Interpolated {
  const { weighings } = series;
  const after = weighings.findIndex((weighing) => weighing.atMs >= readingAtMs);
  if (after < 0 || readingAtMs < weighings[0]!.atMs) {
    const early = after >= 0;
    const gapMin = (early ? weighings[0]!.atMs - readingAtMs : readingAtMs - weighings.at(-1)!.atMs) / MINUTE_MS;
    throw new InputError(
      'READING_OUTSIDE_WEIGHINGS', field, `the reading is ${formatNumber(gapMin, 2)} min ${early ? 'before the first' : 'after the last'} weighing`,
      'Weigh before the first and after the last reading; a mass is never extrapolated.',
    );
  }
  const method = series.method ?? 'log-linear';
  const dryMassMg = requireDry(series, method);
  // At a weighing's own time the segment it closes (or, for the first, opens) gives the rate; the mass is as weighed.
  const before = Math.max(0, after - 1);
  const end = Math.max(1, after);
  const segment = shapeOf(weighings[before]!, weighings[end]!, readingAtMs, method, dryMassMg);
  const exact = weighings[after]!.atMs === readingAtMs;
  const weights = exact ? { before: 0, after: 1, dry: 0 } : segment.weights;
  const uShapeMg = exact ? 0 : segment.uShapeMg;
  return {
    massMg: exact ? weighings[after]!.massMg : segment.massMg,
    method,
    before: exact ? after : before,
    after,
    weights,
    ratePerMin: segment.ratePerMin,
    uShapeMg,
    contributions: [
      ...(exact ? [] : [{ source: sourceOf(weighings, before), sensitivity: weights.before, u: weighings[before]!.uMassMg }]),
      { source: sourceOf(weighings, after), sensitivity: weights.after, u: weighings[after]!.uMassMg },
      ...(weights.dry === 0 ? [] : [{ source: DRY_MASS, sensitivity: weights.dry, u: requireFinite('uDryMg', series.uDryMg ?? NaN) }]),
      // The true curve bends one way over a whole gap: readings in one gap share this error.
      ...(uShapeMg === 0 ? [] : [{ source: `shape after weighings[${before}]`, sensitivity: uShapeMg, u: 1 }]),
      ...(series.uTimeS === undefined ? [] : [{ source: CLOCK_OFFSET, sensitivity: segment.ratePerMin / 60, u: series.uTimeS }]),
    ],
  };
}

function shapeOf(first: TimedMass, second: TimedMass, atMs: number, method: InterpolationMethod, dryMassMg: number | undefined) {
  const spanMin = (second.atMs - first.atMs) / MINUTE_MS;
  const f = (atMs - first.atMs) / (second.atMs - first.atMs);
  const linearMg = (1 - f) * first.massMg + f * second.massMg;
  const linear = { massMg: linearMg, weights: { before: 1 - f, after: f, dry: 0 }, ratePerMin: (second.massMg - first.massMg) / spanMin, uShapeMg: 0 };
  if (dryMassMg === undefined) return linear;
  const a = first.massMg - dryMassMg;
  const b = second.massMg - dryMassMg;
  if (a <= 0 || b <= 0) return linear;
  const waterMg = raise(a, 1 - f) * raise(b, f);
  const massMg = dryMassMg + waterMg;
  const uShapeMg = Math.abs(massMg - linearMg) / Math.sqrt(3);
  if (method === 'linear') return { ...linear, uShapeMg };
  const weights = { before: ((1 - f) * waterMg) / a, after: (f * waterMg) / b };
  return {
    massMg,
    weights: { ...weights, dry: 1 - weights.before - weights.after },
    ratePerMin: (waterMg * Math.log(b / a)) / spanMin,
    uShapeMg,
  };
}

function requireDry({ weighings, dryMassMg }: MassSeries, method: InterpolationMethod): number | undefined {
  if (dryMassMg === undefined) {
    if (method === 'linear') return undefined;
    throw new InputError('DRY_MASS_MISSING', 'dryMassMg', 'log-linear interpolation needs the dry mass', 'Give the dry mass, or choose linear until it is known.');
  }
  requirePositive('dryMassMg', dryMassMg);
  const low = weighings.findIndex(({ massMg }) => massMg <= dryMassMg);
  if (method === 'log-linear' && low >= 0) {
    throw new InputError(
      'NOT_ABOVE_DRY', `weighings[${low}].massMg`, `${formatNumber(weighings[low]!.massMg, 4)} mg is not above the dry mass ${formatNumber(dryMassMg, 4)} mg`,
      'Check that the dry mass belongs to this disc, or choose linear.',
    );
  }
  return dryMassMg;
}

function requireSameTurgid({ weighings, turgidMassMg, uTurgidMg }: { readonly weighings: readonly TimedMass[]; readonly turgidMassMg: number; readonly uTurgidMg: number }): void {
  const at = weighings.findIndex((weighing) => weighing.isTurgidMass && (weighing.massMg !== turgidMassMg || weighing.uMassMg !== uTurgidMg));
  if (at >= 0) {
    throw new InputError(
      'TURGID_MASS_DIFFERS', `weighings[${at}]`, `it is marked as the turgid mass but reads ${weighings[at]!.massMg} mg with u ${weighings[at]!.uMassMg}, not ${turgidMassMg} mg with u ${uTurgidMg}`,
      'Mark only the weighing that gave the turgid mass, with the same uncertainty.',
    );
  }
}

function requireWeighings(weighings: readonly TimedMass[]): void {
  if (weighings.length < 2) {
    throw new InputError('TOO_FEW_WEIGHINGS', 'weighings', `${weighings.length} is not enough to interpolate`, 'Give the weighings before and after the reading.');
  }
  weighings.forEach(({ massMg, uMassMg, atMs }, i) => {
    requirePositive(`weighings[${i}].massMg`, massMg);
    if (requireFinite(`weighings[${i}].uMassMg`, uMassMg) < 0) {
      throw new InputError('NEGATIVE_UNCERTAINTY', `weighings[${i}].uMassMg`, `${uMassMg} mg is below zero`, 'Give a standard uncertainty of zero or more.');
    }
    requireFinite(`weighings[${i}].atMs`, atMs);
    if (i > 0 && atMs <= weighings[i - 1]!.atMs) {
      throw new InputError('UNSORTED_TIMES', `weighings[${i}].atMs`, 'the time is not after the one before', 'Give the weighings in time order, each time once.');
    }
  });
}
