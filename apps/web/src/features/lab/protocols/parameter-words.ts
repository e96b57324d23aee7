import type { ProtocolParameterFieldsFragment } from '../../../generated/graphql.js';
import { formatNumber } from '#libs/quantity';

export type Parameters = ProtocolParameterFieldsFragment;
export type ParameterName = Exclude<keyof Parameters, '__typename'>;

export interface ParameterWord {
  readonly name: ParameterName;
  readonly label: string;
  /** Stands behind the number where it is read, and in the label where it is typed. */
  readonly unit?: string;
  /** A fraction in the contract, per cent on the screen. */
  readonly percent?: true;
  readonly hint?: string;
  readonly optional?: true;
}

export interface ParameterGroup {
  readonly title: string;
  readonly words: readonly ParameterWord[];
}

/** Every parameter in the order of the work: what it is called, in which unit, and what it is for. */
export const parameterGroups: readonly ParameterGroup[] = [
  {
    title: 'Discs',
    words: [
      { name: 'discDiameterMm', label: 'Disc diameter', unit: 'mm', hint: 'Time to turgor grows with its square: keep one size' },
      { name: 'discsPerLeaf', label: 'Discs of one leaf' },
    ],
  },
  {
    title: 'Hydration and blotting',
    words: [
      { name: 'hydrationLeastMin', label: 'Shortest time in water', unit: 'min' },
      { name: 'hydrationMostMin', label: 'Longest time in water', unit: 'min', hint: 'Longer floods the air spaces, and the turgid mass reads high' },
      { name: 'hydrationLeastC', label: 'Lowest temperature of the water', unit: '°C' },
      { name: 'hydrationMostC', label: 'Highest temperature of the water', unit: '°C' },
      { name: 'blottingPaper', label: 'Blotting paper', hint: 'As on its box' },
      { name: 'blottingCount', label: 'Times pressed' },
      { name: 'blottingSeconds', label: 'Seconds each time', unit: 's' },
    ],
  },
  {
    title: 'The bench',
    words: [
      { name: 'rhythmMin', label: 'Time between readings of one disc', unit: 'min' },
      { name: 'bracketMin', label: 'Longest time between two references', unit: 'min' },
      { name: 'lampWarmUpMin', label: 'The lamp burns before the first reading for', unit: 'min' },
      { name: 'clockOffsetMostS', label: 'Largest difference of the clocks', unit: 's', hint: 'Between the device at the bench and the server' },
      { name: 'scanFirst', label: 'Labels are scanned before each weighing' },
      { name: 'outOfCheck', label: 'An instrument that is not in check' },
      { name: 'minimumMassMg', label: 'Smallest mass to be weighed', unit: 'mg', optional: true, hint: 'Empty: 2000 times the repeatability of the balance' },
    ],
  },
  {
    title: 'Oven',
    words: [
      { name: 'ovenTemperatureC', label: 'Temperature', unit: '°C' },
      { name: 'coolingMin', label: 'In the desiccator before weighing', unit: 'min' },
      { name: 'constantMassFraction', label: 'Constant mass: largest change', unit: '%', percent: true, hint: 'Of the mass, between two check weighings' },
      { name: 'constantMassSteps', label: 'or so many steps of the display', unit: 'steps', hint: 'The larger of the two counts' },
      { name: 'constantMassIntervalMin', label: 'Check weighings at least apart', unit: 'min' },
    ],
  },
  {
    title: 'Limits for flags',
    words: [
      { name: 'rwcWarn', label: 'RWC remarked above', unit: '%', percent: true },
      { name: 'rwcAsk', label: 'RWC far too high above', unit: '%', percent: true },
      { name: 'rwcLeast', label: 'RWC too low below', unit: '%', percent: true },
      { name: 'risingSteps', label: 'A drying mass may rise by', unit: 'steps', hint: 'Of the balance’s display' },
      { name: 'fallingTimes', label: 'and fall so many times as fast as before', unit: 'times' },
      { name: 'ratioRobustSd', label: 'Turgid to dry ratio, mass per area: furthest from the crop’s median', unit: 'SD', hint: 'Robust standard deviations' },
      { name: 'ratioLeastDiscs', label: 'judged once so many discs are known', unit: 'discs' },
      { name: 'turgidGainPerHour', label: 'Turgid mass may still gain in an hour', unit: '%', percent: true },
      { name: 'cutToWeighingS', label: 'From cutting to the fresh weighing at most', unit: 's' },
      { name: 'blotToWeighingS', label: 'From blotting to the turgid weighing at most', unit: 's' },
    ],
  },
  {
    title: 'Handling uncertainties',
    words: [
      { name: 'uBlotting', label: 'Water left by blotting', unit: '%', percent: true, hint: 'Standard uncertainty, of the turgid mass' },
      { name: 'uResidualMoisture', label: 'Water left by the oven or taken up again', unit: '%', percent: true, hint: 'Standard uncertainty, of the dry mass' },
      { name: 'evaporationMg', label: 'Evaporation until the number is read', unit: 'mg', hint: 'Half-width; the middle is taken as right' },
    ],
  },
];

/** The flags that a weighing can raise, as a person at the bench would say them. */
export const flagWords: Readonly<Record<string, string>> = {
  FRESH_ABOVE_TURGID: 'Fresh mass above turgid mass',
  RWC_ABOVE_ONE: 'RWC a little too high',
  RWC_FAR_ABOVE_ONE: 'RWC far too high',
  RWC_BELOW_ZERO: 'RWC too low',
  DRY_NOT_BELOW_FRESH: 'Dry mass not below fresh mass',
  DRY_NOT_BELOW_TURGID: 'Dry mass not below turgid mass',
  TURGID_DRY_RATIO_OUTLYING: 'Turgid to dry ratio unlike the crop',
  MASS_RISING: 'Mass rising while drying',
  MASS_REPEATED: 'The same mass of one disc twice',
  BELOW_MINIMUM_MASS: 'Below the smallest mass',
  LATE_AFTER_CUT: 'Late after cutting',
  STILL_TAKING_UP_WATER: 'Still taking up water',
  TARE_CHANGED: 'Tare changed',
  READING_UNSTABLE: 'The balance had not settled',
  LATE_AFTER_BLOTTING: 'Late after blotting',
  HYDRATION_OUT_OF_WINDOW: 'Time in water outside the window',
  MASS_PER_AREA_OUTLYING: 'Mass per area unlike the crop',
  MASS_FELL_FAR: 'Mass fell much faster than before',
  LINE_REPEATED: 'The balance’s line of the disc before',
};

const words = parameterGroups.flatMap((group) => group.words);

const choiceWords: Readonly<Record<string, string>> = { ASK: 'asks for a reason', REFUSE: 'is not taken' };

/** A parameter as it is read. */
export function parameterText({ name, unit, percent }: ParameterWord, parameters: Parameters): string {
  const value = parameters[name];
  if (value === null || value === undefined) return 'the balance’s own';
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'string') return choiceWords[value] ?? value;
  if (typeof value !== 'number') return value.map((code) => flagWords[code] ?? code).join(', ');
  return `${formatNumber(percent ? value * 100 : value, 3)}${unit ? ` ${unit}` : ''}`;
}

export interface ParameterChange {
  readonly label: string;
  readonly before: string;
  readonly now: string;
}

/** What differs between two versions, in words. */
export function changesBetween(before: Parameters, now: Parameters): readonly ParameterChange[] {
  const plain = words.flatMap((word) => {
    const [then, text] = [parameterText(word, before), parameterText(word, now)];
    return then === text ? [] : [{ label: word.label, before: then, now: text }];
  });
  const asked = Object.entries(flagWords).filter(([code]) => before.asks.includes(code) !== now.asks.includes(code));
  const asks = (parameters: Parameters, code: string): string => (parameters.asks.includes(code) ? 'asks' : 'only remarks');
  return [...plain, ...asked.map(([code, label]) => ({ label, before: asks(before, code), now: asks(now, code) }))];
}
