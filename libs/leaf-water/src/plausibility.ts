import { formatNumber, formatPercentPlain, InputError, requireFinite, requirePositive } from '#libs/quantity';

/** `ask`: stop and look before the disc is thrown away; `warn`: note it and go on. Neither refuses the record. */
export type Severity = 'ask' | 'warn';

export type PlausibilityCode =
  | 'FRESH_ABOVE_TURGID' | 'RWC_ABOVE_ONE' | 'RWC_FAR_ABOVE_ONE' | 'RWC_BELOW_ZERO' | 'DRY_NOT_BELOW_FRESH' | 'DRY_NOT_BELOW_TURGID'
  | 'TURGID_DRY_RATIO_OUTLYING' | 'MASS_RISING' | 'MASS_REPEATED' | 'BELOW_MINIMUM_MASS' | 'LATE_AFTER_CUT' | 'STILL_TAKING_UP_WATER'
  | 'TARE_CHANGED' | 'READING_UNSTABLE' | 'LATE_AFTER_BLOTTING' | 'HYDRATION_OUT_OF_WINDOW' | 'MASS_PER_AREA_OUTLYING'
  | 'MASS_FELL_FAR' | 'LINE_REPEATED';

export interface PlausibilityFlag {
  readonly code: PlausibilityCode;
  readonly severity: Severity;
  /** one or two sentences with the values and the limits */
  readonly message: string;
}

export interface PlausibilityLimits {
  /** RWC above this warns */
  readonly rwcWarn: number;
  /** RWC above this asks */
  readonly rwcAsk: number;
  /** RWC below this asks */
  readonly rwcLeast: number;
  /** a mass may rise by so many steps of the display while the disc dries */
  readonly risingSteps: number;
  /** a mass may fall so many times as fast as between the two weighings before it */
  readonly fallingTimes: number;
  /** T/D, or turgid mass per area, further from the crop's median than so many robust standard deviations */
  readonly ratioRobustSd: number;
  /** fewer discs of the crop than this give no spread to judge by */
  readonly ratioLeastDiscs: number;
  /** turgid mass gained in the last hour of hydration, as a fraction */
  readonly turgidGainPerHour: number;
  /** seconds from cutting to the fresh weighing */
  readonly cutToWeighingS: number;
  /** seconds from blotting to the turgid weighing */
  readonly blotToWeighingS: number;
  /** change of the tare between weighings of one disc, in steps of the display */
  readonly tareSteps: number;
}

/** Common practice, no source, except the RWC limits and the robust spread, which are house rules from the same practice. */
export const HOUSE_LIMITS: PlausibilityLimits = {
  rwcWarn: 1,
  rwcAsk: 1.03,
  rwcLeast: 0,
  risingSteps: 2,
  fallingTimes: 3,
  ratioRobustSd: 3,
  ratioLeastDiscs: 8,
  turgidGainPerHour: 0.01,
  cutToWeighingS: 60,
  blotToWeighingS: 60,
  tareSteps: 2,
};

/** What is known of a disc so far; a rule that lacks what it needs stays silent. */
export interface DiscEvidence {
  readonly freshMassMg?: number;
  readonly turgidMassMg?: number;
  readonly dryMassMg?: number;
  /** weighings while it dried on the bench, in time order */
  readonly dryingMassesMg?: readonly number[];
  /** the same with their moments, where these are known */
  readonly drying?: readonly { readonly massMg: number; readonly atMs: number }[];
  /** the balance's line before this one, whichever disc lay on it then, and this one */
  readonly lines?: readonly [before: string, now: string];
  /** dry weighings after the oven, in time order */
  readonly ovenMassesMg?: readonly number[];
  /** turgid weighings during hydration, in time order */
  readonly hydration?: readonly { readonly massMg: number; readonly atMs: number }[];
  /** T/D of other discs of the crop */
  readonly cropTurgidDryRatios?: readonly number[];
  readonly resolutionMg?: number;
  /** from the balance's last check, see `minimumMassMg` */
  readonly minimumMassMg?: number;
  readonly cutAtMs?: number;
  readonly freshWeighedAtMs?: number;
  readonly blottedAtMs?: number;
  readonly turgidWeighedAtMs?: number;
  /** time in water until the turgid weighing, and the window the protocol allows, minutes */
  readonly hydratedForMin?: number;
  readonly hydrationWindowMin?: readonly [least: number, most: number];
  readonly areaCm2?: number;
  /** turgid mass per area of other discs of the crop, mg cm⁻² */
  readonly cropTurgidMassPerAreaMgCm2?: readonly number[];
  /** the balance's own word that the value had settled; left out where it sends none */
  readonly stable?: boolean;
  /** tares used for this disc, in time order */
  readonly taresMg?: readonly number[];
}

/** A rule as data: its code, how grave it is, why it is there, and the sentence it gives (or null). */
export interface PlausibilityRule {
  readonly code: PlausibilityCode;
  readonly severity: Severity;
  readonly why: string;
  readonly find: (evidence: DiscEvidence, limits: PlausibilityLimits) => string | null;
}

const mg = (massMg: number): string => `${formatNumber(massMg, 3)} mg`;
const percent = (fraction: number): string => formatPercentPlain(fraction, 1);

function rwcKnown({ freshMassMg: f, turgidMassMg: t, dryMassMg: d }: DiscEvidence): number | undefined {
  if (f === undefined || t === undefined || d === undefined || d >= t) return undefined;
  return (f - d) / (t - d);
}

export const PLAUSIBILITY_RULES: readonly PlausibilityRule[] = [
  {
    code: 'FRESH_ABOVE_TURGID', severity: 'ask',
    why: 'A disc cannot hold more than when turgid: swapped discs, wet blotting, or hydration that was too short.',
    // Once D is known the RWC rules judge the excess in the terms that matter.
    find: (e, limits) => {
      if (e.freshMassMg === undefined || e.turgidMassMg === undefined || rwcKnown(e) !== undefined) return null;
      if (e.freshMassMg <= e.turgidMassMg * limits.rwcWarn) return null;
      return `${mg(e.freshMassMg)} is above the turgid mass of ${mg(e.turgidMassMg)}. Is it the same disc, and was it blotted?`;
    },
  },
  {
    code: 'RWC_ABOVE_ONE', severity: 'warn',
    why: 'Real leaves do reach it: weak hydration, or solutes lost while hydrating.',
    find: (e, limits) => {
      const rwc = rwcKnown(e);
      if (rwc === undefined || rwc <= limits.rwcWarn || rwc > limits.rwcAsk) return null;
      return `RWC is ${percent(rwc)}, above ${percent(limits.rwcWarn)}. It is kept as it is.`;
    },
  },
  {
    code: 'RWC_FAR_ABOVE_ONE', severity: 'ask',
    why: 'Further above 1 than blotting and balance explain.',
    find: (e, limits) => {
      const rwc = rwcKnown(e);
      if (rwc === undefined || rwc <= limits.rwcAsk) return null;
      return `RWC is ${percent(rwc)}, above ${percent(limits.rwcAsk)}. Weigh again before the disc is discarded.`;
    },
  },
  {
    code: 'RWC_BELOW_ZERO', severity: 'ask',
    why: 'A fresh mass below the dry mass belongs to another disc.',
    find: (e, limits) => {
      const rwc = rwcKnown(e);
      return rwc === undefined || rwc >= limits.rwcLeast ? null : `RWC is ${percent(rwc)}, below ${percent(limits.rwcLeast)}. Do the weighings belong to one disc?`;
    },
  },
  {
    code: 'DRY_NOT_BELOW_FRESH', severity: 'ask',
    why: 'Drying takes mass away.',
    find: (e) => {
      if (e.freshMassMg === undefined || e.dryMassMg === undefined || e.dryMassMg < e.freshMassMg) return null;
      return `Dry mass ${mg(e.dryMassMg)} is not below fresh mass ${mg(e.freshMassMg)}. Is it the same disc?`;
    },
  },
  {
    code: 'DRY_NOT_BELOW_TURGID', severity: 'ask',
    why: 'Without water in the turgid disc no RWC exists.',
    find: (e) => {
      if (e.turgidMassMg === undefined || e.dryMassMg === undefined || e.dryMassMg < e.turgidMassMg) return null;
      return `Dry mass ${mg(e.dryMassMg)} is not below turgid mass ${mg(e.turgidMassMg)}: no RWC can be computed. Is it the same disc?`;
    },
  },
  {
    code: 'TURGID_DRY_RATIO_OUTLYING', severity: 'warn',
    why: 'T/D is steady within a crop; one far out is a wrong disc, a stuck pair or a wet surface.',
    find: findOutlyingRatio,
  },
  {
    code: 'MASS_RISING', severity: 'ask',
    why: 'A disc that dries does not gain: moisture taken up while cooling, condensation, or another disc.',
    find: (e, limits) => {
      const tolerance = limits.risingSteps * (e.resolutionMg ?? 0);
      const bench = firstRise(e.dryingMassesMg ?? [], tolerance);
      if (bench !== null) return `Mass rose from ${mg(bench[0])} to ${mg(bench[1])} while drying on the bench. Is it the same disc?`;
      const oven = firstRise(e.ovenMassesMg ?? [], tolerance);
      return oven === null ? null : `Dry mass rose from ${mg(oven[0])} to ${mg(oven[1])} after the oven. Did it take up moisture while cooling?`;
    },
  },
  {
    code: 'MASS_REPEATED', severity: 'warn',
    why: 'Two equal masses in a row while drying are often the same balance frame read twice.',
    find: (e) => {
      const masses = e.dryingMassesMg ?? [];
      const at = masses.findIndex((massMg, i) => i > 0 && massMg === masses[i - 1]);
      return at < 0 ? null : `Two weighings in a row read ${mg(masses[at]!)}. Did the balance send a new value?`;
    },
  },
  {
    code: 'BELOW_MINIMUM_MASS', severity: 'warn',
    why: 'Below the balance\'s minimum mass its repeatability alone exceeds 0.1 %.',
    find: (e) => {
      const least = e.minimumMassMg;
      const masses = [e.freshMassMg, e.turgidMassMg, e.dryMassMg].filter((massMg) => massMg !== undefined);
      if (least === undefined || masses.length === 0 || Math.min(...masses) >= least) return null;
      return `${mg(Math.min(...masses))} is below this balance's minimum of ${mg(least)}. Pool discs, use a finer balance, or accept the stated uncertainty.`;
    },
  },
  {
    code: 'LATE_AFTER_CUT', severity: 'warn',
    why: 'A cut disc with open stomata can lose a point of RWC in a minute.',
    find: (e, limits) => {
      if (e.cutAtMs === undefined || e.freshWeighedAtMs === undefined) return null;
      const seconds = (e.freshWeighedAtMs - e.cutAtMs) / 1000;
      if (seconds <= limits.cutToWeighingS) return null;
      return `Weighed ${formatNumber(seconds, 0)} s after cutting; the limit is ${limits.cutToWeighingS} s. Fresh mass reads low.`;
    },
  },
  {
    code: 'STILL_TAKING_UP_WATER', severity: 'ask',
    why: 'A disc that still gains is not turgid yet, or its air spaces are filling.',
    find: findUptake,
  },
  {
    code: 'TARE_CHANGED', severity: 'ask',
    why: 'A changed zero puts an error on one of the three masses, and it no longer cancels.',
    find: (e, limits) => {
      const tares = e.taresMg ?? [];
      if (tares.length < 2 || e.resolutionMg === undefined) return null;
      const change = Math.max(...tares) - Math.min(...tares);
      const limit = limits.tareSteps * e.resolutionMg;
      if (change <= limit + 1e-9) return null;
      return `The tare changed by ${mg(change)} between this disc's weighings; the limit is ${mg(limit)}. Was another vessel used?`;
    },
  },
  {
    code: 'READING_UNSTABLE', severity: 'ask',
    why: 'A value taken while the balance still moves is a draught, a warm disc or water leaving.',
    find: (e) => (e.stable === false ? 'The balance had not settled when this value was taken. Wait for its stable sign and take it again.' : null),
  },
  {
    code: 'LATE_AFTER_BLOTTING', severity: 'warn',
    why: 'A blotted disc dries on the way to the balance.',
    find: (e, limits) => {
      if (e.blottedAtMs === undefined || e.turgidWeighedAtMs === undefined) return null;
      const seconds = (e.turgidWeighedAtMs - e.blottedAtMs) / 1000;
      if (seconds <= limits.blotToWeighingS) return null;
      return `Weighed ${formatNumber(seconds, 0)} s after blotting; the limit is ${limits.blotToWeighingS} s. Turgid mass reads low.`;
    },
  },
  {
    code: 'HYDRATION_OUT_OF_WINDOW', severity: 'warn',
    why: 'Too short is not turgid; too long floods the air spaces and grows tissue.',
    find: (e) => {
      if (e.hydratedForMin === undefined || e.hydrationWindowMin === undefined) return null;
      const [least, most] = e.hydrationWindowMin;
      if (e.hydratedForMin >= least && e.hydratedForMin <= most) return null;
      return `In water for ${formatNumber(e.hydratedForMin, 0)} min; the protocol allows ${formatNumber(least, 0)} to ${formatNumber(most, 0)} min.`;
    },
  },
  {
    code: 'MASS_PER_AREA_OUTLYING', severity: 'warn',
    why: 'Turgid mass per area is steady within a crop: half or double it is a torn disc, another punch or two stuck together.',
    find: findOutlyingMassPerArea,
  },
  {
    code: 'MASS_FELL_FAR', severity: 'ask',
    why: 'Stomata close while a disc dries: it loses more slowly, never several times as fast. A lighter disc lies on the pan, or a piece broke off.',
    find: findFarFall,
  },
  {
    code: 'LINE_REPEATED', severity: 'ask',
    why: 'Two discs do not weigh the same to the last digit: the balance still shows, or sends, the one before.',
    find: (e) => (e.lines === undefined || e.lines[0] !== e.lines[1] ? null : `The line before, of another disc, was “${e.lines[0]}” too. Did the balance take this disc?`),
  },
];

/**
 * Every rule that speaks for this disc, in the order of {@link PLAUSIBILITY_RULES}. Flags inform: no value is changed,
 * clamped or refused by them.
 *
 * @throws InputError NOT_FINITE naming the mass or time, NOT_POSITIVE (areaCm2)
 * @example
 * plausibilityFlags({ freshMassMg: 71, turgidMassMg: 70, dryMassMg: 12 }).map((flag) => flag.code) // => ['RWC_ABOVE_ONE']
 */
export function plausibilityFlags(evidence: DiscEvidence, limits: PlausibilityLimits = HOUSE_LIMITS): PlausibilityFlag[] {
  requireEvidence(evidence);
  return PLAUSIBILITY_RULES.flatMap(({ code, severity, find }) => {
    const message = find(evidence, limits);
    return message === null ? [] : [{ code, severity, message }];
  });
}

function requireEvidence(evidence: DiscEvidence): void {
  for (const [field, value] of Object.entries(evidence) as [string, unknown][]) {
    if (typeof value === 'number') requireFinite(field, value);
    if (Array.isArray(value)) {
      value.forEach((item: unknown, i) => {
        if (typeof item === 'number') requireFinite(`${field}[${i}]`, item);
      });
    }
  }
}

function firstRise(massesMg: readonly number[], toleranceMg: number): readonly [number, number] | null {
  const at = massesMg.findIndex((massMg, i) => i > 0 && massMg - massesMg[i - 1]! > toleranceMg + 1e-9);
  return at < 0 ? null : [massesMg[at - 1]!, massesMg[at]!];
}

const HOUR_MS = 3_600_000;
/** A fall is not judged below this part of the mass: at the end of drying the rate before it is mostly noise. Common practice, no source. */
const LEAST_FALL = 0.02;

function findFarFall(e: DiscEvidence, limits: PlausibilityLimits): string | null {
  const [first, before, last] = (e.drying ?? []).slice(-3);
  if (!first || !before || !last || before.atMs <= first.atMs || last.atMs <= before.atMs) return null;
  // After a rise, which was asked about, there is no pace to go by.
  if (before.massMg > first.massMg) return null;
  const pace = (first.massMg - before.massMg) / (before.atMs - first.atMs);
  const expectedMg = pace * (last.atMs - before.atMs);
  const fallMg = before.massMg - last.massMg;
  const limitMg = Math.max(limits.fallingTimes * expectedMg, LEAST_FALL * before.massMg) + 4 * (e.resolutionMg ?? 0);
  if (fallMg <= limitMg) return null;
  return `Mass fell by ${mg(fallMg)} since the last weighing; at the pace before it would be ${mg(expectedMg)}. Is it the same disc, and whole?`;
}

function findUptake(e: DiscEvidence, limits: PlausibilityLimits): string | null {
  const weighings = e.hydration ?? [];
  const last = weighings.at(-1);
  // The gain per hour is judged over the last hour; over less, a gain beyond the hour's limit is enough to know.
  const earlier = last && (weighings.findLast(({ atMs }) => last.atMs - atMs >= HOUR_MS) ?? weighings[0]);
  if (last === undefined || earlier === undefined || last === earlier) return null;
  const hours = Math.max(1, (last.atMs - earlier.atMs) / HOUR_MS);
  const gainPerHour = (last.massMg - earlier.massMg) / earlier.massMg / hours;
  if (gainPerHour <= limits.turgidGainPerHour) return null;
  return `Turgid mass still gains ${percent(gainPerHour)} an hour (${mg(earlier.massMg)} to ${mg(last.massMg)}); the limit is ${percent(limits.turgidGainPerHour)}. Hydrate on and weigh again.`;
}

function findOutlyingRatio(e: DiscEvidence, limits: PlausibilityLimits): string | null {
  const others = e.cropTurgidDryRatios ?? [];
  if (e.turgidMassMg === undefined || e.dryMassMg === undefined || others.length < limits.ratioLeastDiscs) return null;
  const ratio = e.turgidMassMg / e.dryMassMg;
  const range = outsideRange(ratio, others, limits);
  return range && `T/D is ${formatNumber(ratio, 2)}; ${others.length} discs of this crop lie within ${range}. Wrong disc, or two stuck together?`;
}

function findOutlyingMassPerArea(e: DiscEvidence, limits: PlausibilityLimits): string | null {
  const others = e.cropTurgidMassPerAreaMgCm2 ?? [];
  if (e.turgidMassMg === undefined || e.areaCm2 === undefined || others.length < limits.ratioLeastDiscs) return null;
  const perArea = e.turgidMassMg / requirePositive('areaCm2', e.areaCm2);
  const range = outsideRange(perArea, others, limits);
  return range && `Turgid mass per area is ${formatNumber(perArea, 2)} mg cm⁻²; ${others.length} discs of this crop lie within ${range}. Torn, another punch, or two stuck together?`;
}

/** The range in words if the value lies outside it. */
function outsideRange(value: number, others: readonly number[], { ratioRobustSd }: PlausibilityLimits): string | null {
  const { median: middle, sd } = robustSpread(others);
  if (Math.abs(value - middle) <= ratioRobustSd * sd) return null;
  return `${formatNumber(middle - ratioRobustSd * sd, 2)} and ${formatNumber(middle + ratioRobustSd * sd, 2)}`;
}

/**
 * Median and the spread a normal sample would have: 1.4826 × the median distance from the median, which a few wrong
 * values cannot move.
 * @throws InputError NO_VALUES
 * @example
 * robustSpread([1, 2, 3, 4, 100]) // => { median: 3, sd: 1.4826 }
 */
export function robustSpread(values: readonly number[]): { readonly median: number; readonly sd: number } {
  if (values.length === 0) throw new InputError('NO_VALUES', 'values', 'there is none', 'Give at least one value.');
  const middle = median(values);
  return { median: middle, sd: 1.4826 * median(values.map((value) => Math.abs(value - middle))) };
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}
