import { Budget, combineContributions, Contribution, formatNumber, formatPercentPlain, InputError, requireFinite, requirePositive, sharedCovariance } from '#libs/quantity';

/** Meter power with its standard uncertainty, nW. */
export interface MeterPower {
  readonly powerNw: number;
  readonly uPowerNw: number;
}

export interface TimedPower extends MeterPower {
  /** milliseconds since 1970-01-01 UTC */
  readonly atMs: number;
}

/** What a run of readings shares: darks, references around them, the diffuser's own transmittance, stray light. */
export interface OpticalBracket {
  /** through the reference (diffuser), in time order, at least two */
  readonly references: readonly TimedPower[];
  /** light shut, at the gain of the readings */
  readonly dark: MeterPower;
  /** light shut, at the gain of the references; left out when one dark serves both, which is then one shared error */
  readonly referenceDark?: MeterPower;
  /** τ of the reference against the open beam: a fraction, 1 when the beam itself is the reference */
  readonly tauReference: number;
  readonly uTauReference: number;
  /** light that reaches the meter past the disc, as a fraction of the incident light; measured with an opaque disc */
  readonly strayFraction?: number;
  readonly uStrayFraction?: number;
  /** largest relative difference of two dark-corrected references around a reading; default 0.01 (common practice, no source) */
  readonly bracketLimit?: number;
}

export type OpticalFlagCode = 'BRACKET_DIFFERENCE' | 'BELOW_DARK' | 'ABOVE_ONE';

export interface OpticalFlag {
  readonly code: OpticalFlagCode;
  readonly severity: 'ask' | 'warn';
  readonly message: string;
}

export interface TransmittanceResult {
  /** fraction of the incident light; noise can put it below 0, a wrong reference above 1: flagged, not clamped */
  readonly transmittance: number;
  readonly u: number;
  readonly budget: Budget;
  /** reference power at the reading's time, nW, before the dark is taken off */
  readonly referenceNw: number;
  /** positions in `references` of the two around the reading */
  readonly before: number;
  readonly after: number;
  /** relative change of the dark-corrected reference over the bracket, signed: later/earlier − 1 */
  readonly bracketDifference: number;
  readonly flags: readonly OpticalFlag[];
}

export interface TransmittanceRun {
  readonly readings: readonly TransmittanceResult[];
  /** n×n: readings share darks, references, τ and stray light */
  readonly covariance: readonly (readonly number[])[];
}

const DEFAULT_BRACKET_LIMIT = 0.01;
const MINUTE_MS = 60_000;

/**
 * Transmittance of a disc, T = τ·(S − D_S)/(R(t) − D_R) − s, with R(t) on the straight line between the references
 * before and after the reading; a reading outside them is refused.
 *
 * u²(T) combines signal, darks, both references, τ and s to first order (JCGM 100:2008). One dark for both powers has
 * the net sensitivity τ(a − b)/b² (a = S − D, b = R − D): its two effects partly cancel. A lamp may step instead of
 * drifting: for that a rectangular half-width 2w(1 − w)|R₂ − R₁| is taken, w the place in the bracket [derived here].
 *
 * @throws InputError READING_OUTSIDE_BRACKET, TOO_FEW_REFERENCES, UNSORTED_TIMES, REFERENCE_NOT_ABOVE_DARK,
 *   TAU_OUT_OF_RANGE, NOT_POSITIVE, NOT_FINITE, NEGATIVE_UNCERTAINTY
 * @example
 * const bracket = {
 *   references: [{ powerNw: 1010, uPowerNw: 1, atMs: 0 }, { powerNw: 1010, uPowerNw: 1, atMs: 600_000 }],
 *   dark: { powerNw: 10, uPowerNw: 0.2 }, tauReference: 0.5, uTauReference: 0.002,
 * };
 * transmittance(bracket, { powerNw: 310, uPowerNw: 0.5, atMs: 300_000 }).transmittance // => 0.15
 */
export function transmittance(bracket: OpticalBracket, reading: TimedPower): TransmittanceResult {
  requireBracket(bracket);
  return evaluate(bracket, reading, 'reading').result;
}

/**
 * Transmittance of several readings of one run, with the covariance that their shared darks, references, τ and stray
 * light cause.
 *
 * @throws InputError as {@link transmittance}, NO_READINGS
 * @example
 * const bracket = {
 *   references: [{ powerNw: 1000, uPowerNw: 0, atMs: 0 }, { powerNw: 1000, uPowerNw: 0, atMs: 60_000 }],
 *   dark: { powerNw: 0, uPowerNw: 0 }, tauReference: 1, uTauReference: 0.01,
 * };
 * const run = transmittanceRun(bracket, [{ powerNw: 200, uPowerNw: 0, atMs: 0 }, { powerNw: 400, uPowerNw: 0, atMs: 60_000 }]);
 * run.readings.map((r) => r.transmittance) // => [0.2, 0.4]
 * run.covariance[0][1].toFixed(9) // => '0.000008000'
 */
export function transmittanceRun(bracket: OpticalBracket, readings: readonly TimedPower[]): TransmittanceRun {
  requireBracket(bracket);
  if (readings.length === 0) throw new InputError('NO_READINGS', 'readings', 'there is none', 'Give at least one reading.');
  const evaluated = readings.map((reading, i) => evaluate(bracket, reading, `readings[${i}]`));
  return { readings: evaluated.map(({ result }) => result), covariance: sharedCovariance(evaluated.map(({ contributions }) => contributions)) };
}

interface ReferenceAt {
  readonly before: number;
  readonly after: number;
  /** place in the bracket, 0..1 */
  readonly w: number;
  readonly powerNw: number;
}

function evaluate(bracket: OpticalBracket, reading: TimedPower, field: string): { result: TransmittanceResult; contributions: Contribution[] } {
  requireFinite(`${field}.powerNw`, reading.powerNw);
  const at = referenceAt(bracket.references, requireFinite(`${field}.atMs`, reading.atMs), field);
  const referenceDark = bracket.referenceDark ?? bracket.dark;
  const a = reading.powerNw - bracket.dark.powerNw;
  const b = at.powerNw - referenceDark.powerNw;
  const tau = bracket.tauReference;
  const stray = bracket.strayFraction ?? 0;
  const value = (tau * a) / b - stray;
  const contributions = contributionsOf(bracket, reading, field, at, a, b);
  const budget = combineContributions(contributions);
  const [first, second] = [bracket.references[at.before]!, bracket.references[at.after]!];
  const bracketDifference = (second.powerNw - first.powerNw) / (first.powerNw - referenceDark.powerNw);
  return {
    contributions,
    result: {
      transmittance: value, u: budget.u, budget, referenceNw: at.powerNw, before: at.before, after: at.after, bracketDifference,
      flags: flagsOf(bracket, reading, value, a, bracketDifference),
    },
  };
}

function contributionsOf(
  bracket: OpticalBracket, reading: TimedPower, field: string, at: ReferenceAt, a: number, b: number,
): Contribution[] {
  const tau = bracket.tauReference;
  const toSignal = tau / b;
  const toReference = (-tau * a) / b ** 2;
  const [first, second] = [bracket.references[at.before]!, bracket.references[at.after]!];
  const step = (2 * at.w * (1 - at.w) * Math.abs(second.powerNw - first.powerNw)) / Math.sqrt(3);
  const darks: Contribution[] = bracket.referenceDark === undefined
    ? [{ source: 'dark', sensitivity: -toSignal - toReference, u: bracket.dark.uPowerNw }]
    : [
        { source: 'dark of the readings', sensitivity: -toSignal, u: bracket.dark.uPowerNw },
        { source: 'dark of the references', sensitivity: -toReference, u: bracket.referenceDark.uPowerNw },
      ];
  return [
    { source: `signal of ${field}`, sensitivity: toSignal, u: reading.uPowerNw },
    ...darks,
    { source: `references[${at.before}]`, sensitivity: toReference * (1 - at.w), u: first.uPowerNw },
    { source: `references[${at.after}]`, sensitivity: toReference * at.w, u: second.uPowerNw },
    // The step happens once in a bracket: the readings in it share this error, each in its own measure.
    ...(step === 0 ? [] : [{ source: `lamp path after references[${at.before}]`, sensitivity: toReference * step, u: 1 }]),
    { source: 'reference transmittance', sensitivity: a / b, u: bracket.uTauReference },
    ...(bracket.strayFraction === undefined ? [] : [{ source: 'stray light', sensitivity: -1, u: bracket.uStrayFraction! }]),
  ];
}

function referenceAt(references: readonly TimedPower[], atMs: number, field: string): ReferenceAt {
  const after = references.findIndex((reference) => reference.atMs >= atMs);
  const firstMs = references[0]!.atMs;
  if (after < 0 || atMs < firstMs) {
    const early = after >= 0;
    const gapMin = (early ? firstMs - atMs : atMs - references.at(-1)!.atMs) / MINUTE_MS;
    throw new InputError(
      'READING_OUTSIDE_BRACKET', `${field}.atMs`, `the reading is ${formatNumber(gapMin, 2)} min ${early ? 'before the first' : 'after the last'} reference`,
      'Take a reference before the first and after the last reading; the lamp is never extrapolated.',
    );
  }
  const before = Math.max(0, after - 1);
  const end = Math.max(1, after);
  const [first, second] = [references[before]!, references[end]!];
  const w = (atMs - first.atMs) / (second.atMs - first.atMs);
  return { before, after: end, w, powerNw: (1 - w) * first.powerNw + w * second.powerNw };
}

function flagsOf(bracket: OpticalBracket, reading: TimedPower, value: number, netNw: number, difference: number): OpticalFlag[] {
  const flags: OpticalFlag[] = [];
  const limit = bracket.bracketLimit ?? DEFAULT_BRACKET_LIMIT;
  if (Math.abs(difference) > limit) {
    flags.push({
      code: 'BRACKET_DIFFERENCE', severity: 'ask',
      message: `The references around this reading differ by ${formatPercentPlain(difference, 2)}; the limit is ${formatPercentPlain(limit, 2)}. Let the lamp settle and take the span again.`,
    });
  }
  if (netNw < 0) {
    flags.push({
      code: 'BELOW_DARK', severity: 'ask',
      message: `The reading ${formatNumber(reading.powerNw, 3)} nW is below the dark ${formatNumber(bracket.dark.powerNw, 3)} nW. Was the dark taken at this gain?`,
    });
  }
  if (value > 1) {
    flags.push({
      code: 'ABOVE_ONE', severity: 'ask',
      message: `Transmittance is ${formatPercentPlain(value, 1)}, above 100 %. Check the gain, the reference and its transmittance.`,
    });
  }
  return flags;
}

function requirePower(field: string, power: MeterPower): void {
  requireFinite(`${field}.powerNw`, power.powerNw);
  if (requireFinite(`${field}.uPowerNw`, power.uPowerNw) < 0) {
    throw new InputError('NEGATIVE_UNCERTAINTY', `${field}.uPowerNw`, `${power.uPowerNw} nW is below zero`, 'Give a standard uncertainty of zero or more.');
  }
}

function requireBracket(bracket: OpticalBracket): void {
  requirePower('dark', bracket.dark);
  if (bracket.referenceDark !== undefined) requirePower('referenceDark', bracket.referenceDark);
  if (bracket.references.length < 2) {
    throw new InputError('TOO_FEW_REFERENCES', 'references', `${bracket.references.length} cannot bracket a reading`, 'Take a reference before and after the readings.');
  }
  const dark = bracket.referenceDark ?? bracket.dark;
  bracket.references.forEach((reference, i) => {
    const field = `references[${i}]`;
    requirePower(field, reference);
    requireFinite(`${field}.atMs`, reference.atMs);
    if (reference.powerNw <= dark.powerNw) {
      throw new InputError(
        'REFERENCE_NOT_ABOVE_DARK', `${field}.powerNw`, `${formatNumber(reference.powerNw, 4)} nW is not above its dark ${formatNumber(dark.powerNw, 4)} nW`,
        'Check that the lamp was on, the shutter open and the gain the same for both.',
      );
    }
    if (i > 0 && reference.atMs <= bracket.references[i - 1]!.atMs) {
      throw new InputError('UNSORTED_TIMES', `${field}.atMs`, 'the time is not after the one before', 'Give the references in time order, each time once.');
    }
  });
  requirePositive('tauReference', bracket.tauReference);
  if (bracket.tauReference > 1) {
    throw new InputError('TAU_OUT_OF_RANGE', 'tauReference', `${bracket.tauReference} is above 1`, 'Give the reference\'s transmittance as a fraction, not in per cent.');
  }
  const stray = requireFinite('strayFraction', bracket.strayFraction ?? 0);
  if (stray < 0 || stray >= 1) {
    throw new InputError('STRAY_OUT_OF_RANGE', 'strayFraction', `${stray} is not between 0 and 1`, 'Give stray light as a fraction of the incident light, for example 0.005.');
  }
  if (bracket.uStrayFraction !== undefined && bracket.strayFraction === undefined) {
    throw new InputError('STRAY_MISSING', 'strayFraction', 'its uncertainty is given without it', 'Give strayFraction, 0 if the opaque disc showed none.');
  }
  if (bracket.strayFraction !== undefined && bracket.uStrayFraction === undefined) {
    throw new InputError('STRAY_UNCERTAINTY_MISSING', 'uStrayFraction', 'stray light is given without it', 'Give its standard uncertainty, 0 if it is taken as exact.');
  }
  requirePositive('bracketLimit', bracket.bracketLimit ?? DEFAULT_BRACKET_LIMIT);
}
