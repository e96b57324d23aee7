import { CONSTANT_MASS_RULES, HOUSE_LIMITS, PLAUSIBILITY_RULES, type ConstantMassRule, type PlausibilityLimits } from '#libs/leaf-water';
import { InputError } from '#libs/quantity';
import type { ProtocolParametersInput } from '../../generated/schema.js';
import { HANDLING, type Handling } from '../water/handling.js';

/** What a version of a protocol fixes; every number in the unit of its name. */
export type Parameters = Readonly<Omit<ProtocolParametersInput, 'minimumMassMg' | 'asks'>> & {
  readonly minimumMassMg: number | null;
  readonly asks: readonly string[];
};

/** What holds where a run names no protocol. Common practice, no source, except where the libraries name one. */
export const HOUSE_PARAMETERS: Parameters = {
  discDiameterMm: 10,
  discsPerLeaf: 1,
  hydrationLeastMin: 180,
  hydrationMostMin: 240,
  hydrationLeastC: 18,
  hydrationMostC: 22,
  blottingPaper: 'filter paper',
  blottingCount: 2,
  blottingSeconds: 2,
  ovenTemperatureC: 70,
  coolingMin: 30,
  constantMassFraction: CONSTANT_MASS_RULES.disc.relativeLimit,
  constantMassSteps: CONSTANT_MASS_RULES.disc.resolutionSteps,
  constantMassIntervalMin: CONSTANT_MASS_RULES.disc.intervalMin,
  rhythmMin: 5,
  bracketMin: 30,
  lampWarmUpMin: 20,
  clockOffsetMostS: 5,
  scanFirst: false,
  outOfCheck: 'ASK',
  minimumMassMg: null,
  rwcWarn: HOUSE_LIMITS.rwcWarn,
  rwcAsk: HOUSE_LIMITS.rwcAsk,
  rwcLeast: HOUSE_LIMITS.rwcLeast,
  risingSteps: HOUSE_LIMITS.risingSteps,
  fallingTimes: HOUSE_LIMITS.fallingTimes,
  ratioRobustSd: HOUSE_LIMITS.ratioRobustSd,
  ratioLeastDiscs: HOUSE_LIMITS.ratioLeastDiscs,
  turgidGainPerHour: HOUSE_LIMITS.turgidGainPerHour,
  cutToWeighingS: HOUSE_LIMITS.cutToWeighingS,
  blotToWeighingS: HOUSE_LIMITS.blotToWeighingS,
  asks: PLAUSIBILITY_RULES.filter(({ severity }) => severity === 'ask').map(({ code }) => code),
  uBlotting: HANDLING.blottingFraction,
  uResidualMoisture: HANDLING.residualMoistureFraction,
  evaporationMg: HANDLING.evaporationMg,
};

export const limitsOf = ({ rwcWarn, rwcAsk, rwcLeast, risingSteps, fallingTimes, ratioRobustSd, ratioLeastDiscs, turgidGainPerHour, cutToWeighingS, blotToWeighingS }: Parameters): PlausibilityLimits => ({
  ...HOUSE_LIMITS, rwcWarn, rwcAsk, rwcLeast, risingSteps, fallingTimes, ratioRobustSd, ratioLeastDiscs, turgidGainPerHour, cutToWeighingS, blotToWeighingS,
});

export const handlingOf = ({ evaporationMg, uBlotting, uResidualMoisture }: Parameters): Handling =>
  ({ evaporationMg, blottingFraction: uBlotting, residualMoistureFraction: uResidualMoisture });

/** A limb of zero is none. */
export const constantMassRuleOf = ({ constantMassFraction, constantMassSteps, constantMassIntervalMin }: Parameters): ConstantMassRule => ({
  name: 'protocol', source: 'the protocol of the run', standing: 'house',
  ...(constantMassFraction > 0 ? { relativeLimit: constantMassFraction } : {}), ...(constantMassSteps > 0 ? { resolutionSteps: constantMassSteps } : {}),
  intervalMin: constantMassIntervalMin,
});

type NumberName = { [K in keyof Parameters]-?: Parameters[K] extends number ? K : never }[keyof Parameters];
interface Range {
  readonly least: number;
  readonly most: number;
  readonly unit: string;
  /** The least itself is not allowed. */
  readonly above?: true;
}

/** Outside of these a number is a slip of the hand or of the unit; within them the lab decides. */
const RANGES: Readonly<Record<NumberName, Range>> = {
  discDiameterMm: { least: 1, most: 60, unit: 'mm' },
  discsPerLeaf: { least: 1, most: 50, unit: '' },
  hydrationLeastMin: { least: 0, most: 2880, unit: 'min' },
  hydrationMostMin: { least: 1, most: 2880, unit: 'min' },
  hydrationLeastC: { least: 0, most: 40, unit: '°C' },
  hydrationMostC: { least: 0, most: 40, unit: '°C' },
  blottingCount: { least: 0, most: 20, unit: '' },
  blottingSeconds: { least: 0, most: 120, unit: 's' },
  ovenTemperatureC: { least: 30, most: 160, unit: '°C' },
  coolingMin: { least: 0, most: 1440, unit: 'min' },
  constantMassFraction: { least: 0, most: 0.05, unit: '' },
  constantMassSteps: { least: 0, most: 20, unit: 'steps' },
  constantMassIntervalMin: { least: 0, above: true, most: 1440, unit: 'min' },
  rhythmMin: { least: 1, most: 240, unit: 'min' },
  bracketMin: { least: 1, most: 240, unit: 'min' },
  lampWarmUpMin: { least: 0, most: 240, unit: 'min' },
  clockOffsetMostS: { least: 0, above: true, most: 600, unit: 's' },
  rwcWarn: { least: 0.9, most: 1.2, unit: '' },
  rwcAsk: { least: 0.9, most: 1.2, unit: '' },
  rwcLeast: { least: -0.2, most: 0.5, unit: '' },
  risingSteps: { least: 0, most: 100, unit: 'steps' },
  fallingTimes: { least: 1, most: 100, unit: 'times' },
  ratioRobustSd: { least: 1, most: 20, unit: '' },
  ratioLeastDiscs: { least: 3, most: 200, unit: 'discs' },
  turgidGainPerHour: { least: 0, most: 0.5, unit: '' },
  cutToWeighingS: { least: 1, most: 86_400, unit: 's' },
  blotToWeighingS: { least: 1, most: 3600, unit: 's' },
  uBlotting: { least: 0, most: 0.2, unit: '' },
  uResidualMoisture: { least: 0, most: 0.2, unit: '' },
  evaporationMg: { least: 0, most: 10, unit: 'mg' },
};

/**
 * Checks the parameters of a new version.
 * @throws InputError naming the parameter
 */
export function readParameters(input: ProtocolParametersInput): Parameters {
  const field = (name: string): string => `parameters.${name}`;
  for (const [name, { least, most, unit, above }] of Object.entries(RANGES) as [NumberName, Range][]) {
    const value = input[name];
    if (Number.isFinite(value) && value >= least && value <= most && !(above && value === least)) continue;
    throw new InputError('OUT_OF_RANGE', field(name), `is ${value} ${unit}`.trim(), `Give ${above ? `more than ${least}` : least} to ${most} ${unit}`.trim() + '.');
  }
  const ordered = (low: NumberName, high: NumberName): void => {
    if (input[low] > input[high]) throw new InputError('OUT_OF_ORDER', field(high), `${input[high]} is below ${input[low]}`, 'Give the larger one last.');
  };
  ordered('hydrationLeastMin', 'hydrationMostMin');
  ordered('hydrationLeastC', 'hydrationMostC');
  ordered('rwcWarn', 'rwcAsk');
  if (input.constantMassFraction === 0 && input.constantMassSteps === 0) {
    throw new InputError('MISSING', field('constantMassFraction'), 'and the display steps are both zero', 'Give at least one of the two: nothing is ever equal to the last digit.');
  }
  if (input.minimumMassMg !== null && input.minimumMassMg !== undefined && !(input.minimumMassMg > 0)) {
    throw new InputError('NOT_POSITIVE', field('minimumMassMg'), `is ${input.minimumMassMg} mg`, 'Leave it empty to take the balance\'s own minimum.');
  }
  if (!input.blottingPaper.trim()) throw new InputError('MISSING', field('blottingPaper'), 'is empty', 'Name the paper, as on its box.');
  const known = PLAUSIBILITY_RULES.map(({ code }): string => code);
  const stranger = input.asks.find((code) => !known.includes(code));
  if (stranger !== undefined) throw new InputError('UNKNOWN', field('asks'), `names ${stranger}`, `Choose among ${known.join(', ')}.`);
  return { ...input, blottingPaper: input.blottingPaper.trim(), minimumMassMg: input.minimumMassMg ?? null, asks: known.filter((code) => input.asks.includes(code)) };
}
