import { formatNumber, InputError, requireFinite, requirePositive } from '#libs/quantity';

/**
 * When a drying sample counts as dry: two weighings at least `intervalMin` apart that differ by no more than the
 * tolerance. The tolerance is the largest of the limbs given.
 */
export interface ConstantMassRule {
  readonly name: string;
  /** where it stands, and how well that is known */
  readonly source: string;
  /** `house`: derived for small discs; `secondary`: read in a secondary source; `memory`: not seen in print, check before quoting */
  readonly standing: 'house' | 'secondary' | 'memory';
  /** limb `relative`: fraction of the last mass */
  readonly relativeLimit?: number;
  /** limb `absolute`: mg */
  readonly absoluteLimitMg?: number;
  /** limb `resolution`: so many steps of the balance's display */
  readonly resolutionSteps?: number;
  /** least time between the two weighings, minutes */
  readonly intervalMin: number;
}

export type ConstantMassLimb = 'relative' | 'absolute' | 'resolution';

/**
 * The house rule and the published ones. The published rules were written for samples of a gram or more: on a disc of
 * 12 mg and a display of 0.1 mg most of them cannot be tested at all, and {@link constantMass} then says so.
 */
export const CONSTANT_MASS_RULES = {
  disc: {
    name: 'leaf disc', source: 'derived here: 0.5 % of the mass or two display steps, whichever is larger', standing: 'house',
    relativeLimit: 0.005, resolutionSteps: 2, intervalMin: 60,
  },
  usp: {
    name: 'USP', source: 'USP General Notices: at most 0.50 mg per g between weighings (secondary source); 1 h between them from memory', standing: 'secondary',
    relativeLimit: 0.0005, intervalMin: 60,
  },
  phEur: {
    name: 'Ph. Eur.', source: 'Ph. Eur.: at most 0.5 mg in total after at least 30 min more (secondary source)', standing: 'secondary',
    absoluteLimitMg: 0.5, intervalMin: 30,
  },
  iso11465: {
    name: 'ISO 11465', source: 'ISO 11465 (soil): at most 0.1 % after another 1 h at 105 degrees Celsius; from memory', standing: 'memory',
    relativeLimit: 0.001, intervalMin: 60,
  },
  en13183: {
    name: 'EN 13183-1', source: 'EN 13183-1 (wood): below 0.1 % in 2 h; from memory', standing: 'memory',
    relativeLimit: 0.001, intervalMin: 120,
  },
  astmD4442: {
    name: 'ASTM D4442', source: 'ASTM D4442 (wood): loss in 3 h at most twice the balance\'s sensitivity; from memory', standing: 'memory',
    resolutionSteps: 2, intervalMin: 180,
  },
} as const satisfies Record<string, ConstantMassRule>;

export type ConstantMassRuleName = keyof typeof CONSTANT_MASS_RULES;

export interface MassCheck {
  readonly massMg: number;
  /** when it was read, milliseconds since 1970-01-01 UTC */
  readonly atMs: number;
}

export type ConstantMassVerdict =
  | 'constant' | 'too few checks' | 'too soon' | 'still losing' | 'gaining' | 'below what the balance resolves';

export interface ConstantMassResult {
  readonly constant: boolean;
  readonly verdict: ConstantMassVerdict;
  /** one sentence for the screen */
  readonly message: string;
  /** which limb set the tolerance; null while there is no mass to take it from */
  readonly limbApplied: ConstantMassLimb | null;
  readonly toleranceMg: number | null;
  /** earlier minus last mass, negative for a gain; null without a pair far enough apart */
  readonly lossMg: number | null;
  readonly elapsedMin: number | null;
  /** position in `checks` of the earlier mass that the last one was compared with */
  readonly comparedWith: number | null;
  /** when the next weighing can decide, milliseconds since 1970-01-01 UTC; null when nothing more is needed or would help */
  readonly nextCheckAtMs: number | null;
}

const MINUTE_MS = 60_000;
/** Decimal masses subtract to within this in doubles; far below any balance, so a loss exactly at the limit passes. */
const ROUNDING_MG = 1e-9;

/**
 * Tells whether a sample has reached constant mass by a rule, and which limb of the rule decided.
 *
 * The last weighing is compared with the latest earlier one at least `intervalMin` before it. A rule whose tolerance is
 * less than two steps of the display cannot be tested with that balance and never gives `constant`, unless its own limb
 * is the resolution. A gain beyond the tolerance is told apart from a loss: the sample took up moisture, or it is another.
 *
 * @param input.checks  net masses in time order
 * @param input.rule    default: the house rule for discs, returned in words through `limbApplied`
 * @throws InputError NOT_POSITIVE, NOT_FINITE, UNSORTED_TIMES, NO_CHECKS, RULE_WITHOUT_LIMB
 * @example
 * const hour = 3_600_000;
 * const result = constantMass({ checks: [{ massMg: 12.3, atMs: 0 }, { massMg: 12.1, atMs: hour }], resolutionMg: 0.1 });
 * result.constant // => true
 * result.limbApplied // => 'resolution'
 */
export function constantMass(input: {
  readonly checks: readonly MassCheck[];
  readonly resolutionMg: number;
  readonly rule?: ConstantMassRule;
}): ConstantMassResult {
  const rule = input.rule ?? CONSTANT_MASS_RULES.disc;
  const resolutionMg = requirePositive('resolutionMg', input.resolutionMg);
  requirePositive('rule.intervalMin', rule.intervalMin);
  requireChecks(input.checks);
  const last = input.checks.at(-1)!;
  const { limb, toleranceMg } = toleranceOf(rule, last.massMg, resolutionMg);
  const shared = { limbApplied: limb, toleranceMg };
  const intervalMs = rule.intervalMin * MINUTE_MS;

  if (limb !== 'resolution' && toleranceMg < 2 * resolutionMg - ROUNDING_MG) {
    return {
      ...shared, constant: false, verdict: 'below what the balance resolves', lossMg: null, elapsedMin: null, comparedWith: null, nextCheckAtMs: null,
      message: `${rule.name} allows ${formatNumber(toleranceMg, 4)} mg on ${formatNumber(last.massMg, 4)} mg, less than two steps of this balance (${formatNumber(2 * resolutionMg, 4)} mg): dry several discs together or use a finer balance.`,
    };
  }
  if (input.checks.length === 1) {
    return {
      ...shared, constant: false, verdict: 'too few checks', lossMg: null, elapsedMin: null, comparedWith: null, nextCheckAtMs: last.atMs + intervalMs,
      message: `One weighing so far: weigh again after at least ${rule.intervalMin} min more in the oven.`,
    };
  }
  const earlierAt = input.checks.findLastIndex((check) => last.atMs - check.atMs >= intervalMs);
  if (earlierAt < 0) {
    return {
      ...shared, constant: false, verdict: 'too soon', lossMg: null, elapsedMin: null, comparedWith: null,
      nextCheckAtMs: input.checks[0]!.atMs + intervalMs,
      message: `The weighings span less than ${rule.intervalMin} min: they cannot show that drying has ended.`,
    };
  }
  return compare(input.checks, earlierAt, rule, shared);
}

function compare(
  checks: readonly MassCheck[], comparedWith: number, rule: ConstantMassRule,
  shared: { readonly limbApplied: ConstantMassLimb; readonly toleranceMg: number },
): ConstantMassResult {
  const last = checks.at(-1)!;
  const earlier = checks[comparedWith]!;
  const lossMg = earlier.massMg - last.massMg;
  const elapsedMin = (last.atMs - earlier.atMs) / MINUTE_MS;
  const within = Math.abs(lossMg) <= shared.toleranceMg + ROUNDING_MG;
  const verdict = within ? 'constant' : lossMg > 0 ? 'still losing' : 'gaining';
  const change = `${formatNumber(Math.abs(lossMg), 4)} mg in ${formatNumber(elapsedMin, 0)} min`;
  const limit = `${formatNumber(shared.toleranceMg, 4)} mg (${LIMB_WORDS[shared.limbApplied]})`;
  const message = {
    constant: `Constant: ${lossMg < 0 ? 'gained' : 'lost'} ${change}, within ${limit}.`,
    'still losing': `Still drying: lost ${change}, more than ${limit}. Dry on and weigh again.`,
    gaining: `Gained ${change}, more than ${limit}: it took up moisture while cooling, or this is another disc.`,
  }[verdict];
  return {
    ...shared, constant: within, verdict, message, lossMg, elapsedMin, comparedWith,
    nextCheckAtMs: within ? null : last.atMs + rule.intervalMin * MINUTE_MS,
  };
}

const LIMB_WORDS: Readonly<Record<ConstantMassLimb, string>> = {
  relative: 'share of the mass', absolute: 'fixed mass', resolution: 'steps of the balance',
};

function toleranceOf(rule: ConstantMassRule, massMg: number, resolutionMg: number): { limb: ConstantMassLimb; toleranceMg: number } {
  for (const name of ['relativeLimit', 'absoluteLimitMg', 'resolutionSteps'] as const) {
    if (rule[name] !== undefined) requirePositive(`rule.${name}`, rule[name]);
  }
  const limbs: { limb: ConstantMassLimb; toleranceMg: number }[] = [];
  if (rule.relativeLimit !== undefined) limbs.push({ limb: 'relative', toleranceMg: rule.relativeLimit * massMg });
  if (rule.absoluteLimitMg !== undefined) limbs.push({ limb: 'absolute', toleranceMg: rule.absoluteLimitMg });
  if (rule.resolutionSteps !== undefined) limbs.push({ limb: 'resolution', toleranceMg: rule.resolutionSteps * resolutionMg });
  const [first, ...others] = limbs;
  if (first === undefined) {
    throw new InputError('RULE_WITHOUT_LIMB', 'rule', `"${rule.name}" sets no limit`, 'Give relativeLimit, absoluteLimitMg or resolutionSteps.');
  }
  return others.reduce((largest, next) => (next.toleranceMg > largest.toleranceMg ? next : largest), first);
}

function requireChecks(checks: readonly MassCheck[]): void {
  if (checks.length === 0) throw new InputError('NO_CHECKS', 'checks', 'there is no weighing', 'Weigh the dried disc.');
  checks.forEach(({ massMg, atMs }, i) => {
    requirePositive(`checks[${i}].massMg`, massMg);
    requireFinite(`checks[${i}].atMs`, atMs);
    if (i > 0 && atMs <= checks[i - 1]!.atMs) {
      throw new InputError('UNSORTED_TIMES', `checks[${i}].atMs`, 'the time is not after the one before', 'Give the weighings in time order, each time once.');
    }
  });
}
